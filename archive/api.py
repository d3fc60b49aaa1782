"""What this slice offers over the API: plural name to view set."""

import json
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http.response import HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from archive.copies.api import OFFERED as COPIES
from archive.extending_forms import DICTIONARY_DEEDS, MAPPING_DEEDS, POOL_DEEDS
from archive.findings_out import FORMS
from archive.findings_pages import (
    annotated_book_answer,
    annotated_table_answer,
    findings_answer,
)
from archive.forms import ANALYSIS_DEEDS, DEPOSIT_DEEDS, VERSION_DEEDS
from archive.intakes import intake
from archive.models import (
    Analysis,
    Dataset,
    Deposit,
    DepositFile,
    Dictionary,
    DictionaryMapping,
    PooledTable,
    Version,
)
from archive.pool_pages import conditions_of, file_answer
from archive.pooling import cohorts_of, read
from archive.trying import try_rules
from registry.errors import Unseen, Unsound
from registry.permissions import Verb, may
from registry.rest import (
    LOOK_REFUSED,
    ObjectSerializer,
    ObjectViewSet,
    RefusalSerializer,
    shows,
)
from registry.web import number_of, seen_or_404


@shows
class DictionarySerializer(ObjectSerializer[Dictionary]):
    """A dictionary as the API shows it."""

    class Meta:
        model = Dictionary
        fields = ("id", "study", "number", "descriptor", "notes", "published_by", "published_at")


class DictionaryViewSet(ObjectViewSet[Dictionary]):
    """The versions of the studies' dictionaries."""

    queryset = Dictionary.objects.all()
    serializer_class = DictionarySerializer
    deeds = DICTIONARY_DEEDS
    filterset_fields: ClassVar[list[str]] = ["study", "number"]
    ordering_fields: ClassVar[list[str]] = ["published_at", "number"]


@shows
class MappingSerializer(ObjectSerializer[DictionaryMapping]):
    """A mapping as the API shows it: its rules as they are applied, and in words."""

    said = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:
        model = DictionaryMapping
        fields = (
            "id",
            "old",
            "new",
            "old_table",
            "table",
            "rules",
            "said",
            "reason",
            "proposer",
            "proposed_at",
            "reviewer",
            "reviewed_at",
            "review",
            "state",
        )


class MappingViewSet(ObjectViewSet[DictionaryMapping]):
    """Rules that carry a table of one dictionary over to another; accepted by a second person."""

    queryset = DictionaryMapping.objects.all()
    serializer_class = MappingSerializer
    deeds = MAPPING_DEEDS
    filterset_fields: ClassVar[list[str]] = ["old", "new", "table", "state", "proposer"]
    ordering_fields: ClassVar[list[str]] = ["proposed_at", "reviewed_at"]

    @extend_schema(
        responses={200: OpenApiTypes.OBJECT, **dict.fromkeys(LOOK_REFUSED, RefusalSerializer)}
    )
    @action(detail=True, methods=["get"])
    def trial(self, request: Request, pk: str | None = None) -> Response:
        """Try the rules on the rows that they would carry over: first rows, and counts."""
        rows = DictionaryMapping.objects.select_related("old", "new")
        mapping = seen_or_404(rows, request.user, pk)  # what is asked here filters no list
        found = try_rules(mapping, request.user)
        tables = [
            {"version": one.pk, "identifier": one.identifier} | told for one, told in found.tables
        ]
        return Response({"tables": tables, "left_out": found.left_out})


@shows
class PoolSerializer(ObjectSerializer[PooledTable]):
    """A pooled table as the API shows it; its rows stand at `rows/`."""

    is_stale = serializers.BooleanField(
        read_only=True, help_text="Whether a source or a mapping of it was withdrawn."
    )

    class Meta:
        model = PooledTable
        fields = (
            "id",
            "study",
            "dictionary",
            "table",
            "title",
            "sources",
            "mappings",
            "maker",
            "made_at",
            "withdrawn_because",
            "state",
            "is_stale",
        )


_WHERE = OpenApiParameter(
    "where", str, description="A JSON list of objects with column, how and value."
)


class PoolViewSet(ObjectViewSet[PooledTable]):
    """Tables that are read out of several versions, for whoever may read each of these."""

    queryset = PooledTable.objects.prefetch_related("sources", "mappings")
    serializer_class = PoolSerializer
    deeds = POOL_DEEDS
    filterset_fields: ClassVar[list[str]] = ["study", "table", "sources", "state"]
    ordering_fields: ClassVar[list[str]] = ["made_at", "title"]

    @extend_schema(
        parameters=[
            _WHERE,
            OpenApiParameter("first", int, description="Rows that are passed over."),
            OpenApiParameter("size", int, description="Rows to give, 500 at most."),
            OpenApiParameter("by", str, many=True, description="Columns to sum up by."),
            OpenApiParameter("of", str, description="A column of numbers to sum up."),
        ],
        responses={
            200: OpenApiTypes.OBJECT,
            **dict.fromkeys((*LOOK_REFUSED, 409, 413, 422), RefusalSerializer),
        },
    )
    @action(detail=True, methods=["get"])
    def rows(self, request: Request, pk: str | None = None) -> Response:
        """Give columns, rows and, where it is asked for, what they come to; 0 is: not collected."""
        asked = request.query_params
        size = min(number_of(asked.get("size")) or 50, 500)
        told: dict[str, Any] = {
            "conditions": conditions_of(asked.get("where", "")),
            "look": {"first": number_of(asked.get("first")) or 0, "size": size},
        }
        if by := asked.getlist("by"):
            told["summary"] = {"by": by, "of": asked.get("of", "")}
        return Response(read(cohorts_of(self._seen(request, pk)), told))

    @extend_schema(
        operation_id="pools_file",
        parameters=[_WHERE],
        responses={
            200: OpenApiTypes.BINARY,
            **dict.fromkeys((*LOOK_REFUSED, 409, 413, 422), RefusalSerializer),
        },
    )
    @action(detail=True, methods=["get"], url_path=r"rows\.(?P<form>csv|parquet|xlsx|spreadsheet)")
    def file(self, request: Request, pk: str | None = None, form: str = "csv") -> HttpResponseBase:
        """Give the rows as a file; “spreadsheet” is a CSV that opens without running anything."""
        conditions = conditions_of(request.query_params.get("where", ""))
        return file_answer(self._seen(request, pk), form, conditions)

    def _seen(self, request: Request, pk: str | None) -> PooledTable:
        rows = PooledTable.objects.select_related("dictionary")
        return seen_or_404(rows, request.user, pk)  # what is asked here filters no list


@shows
class DatasetSerializer(ObjectSerializer[Dataset]):
    """A dataset as the API shows it."""

    class Meta:
        model = Dataset
        fields = ("id", "project", "is_pooled", "title", "identifier", "opened_at")


class DatasetViewSet(ObjectViewSet[Dataset]):
    """The dataset of each project, and what it pooled; open to everyone once published."""

    is_public = True
    queryset = Dataset.objects.all()
    serializer_class = DatasetSerializer
    filterset_fields: ClassVar[list[str]] = ["project", "project__study", "identifier"]
    ordering_fields: ClassVar[list[str]] = ["title", "opened_at"]

    def get_queryset(self) -> QuerySet[Dataset]:
        """Leave out what is only under way, for whoever has not signed in."""
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False) or self.request.user.is_authenticated:
            return rows
        return rows.filter(pk__in=Version.objects.filter(is_published=True).values("dataset"))


class DepositFileSerializer(serializers.ModelSerializer[DepositFile]):
    """A file of a deposit."""

    class Meta:
        model = DepositFile
        fields = ("id", "round", "name", "bytes", "sha256", "added_by", "added_at")


@shows
class DepositSerializer(ObjectSerializer[Deposit]):
    """A deposit as the API shows it; the report stands at `report/`."""

    files = serializers.SerializerMethodField(help_text="The files that count now.")

    class Meta:
        model = Deposit
        fields = (
            "id",
            "dataset",
            "dictionary",
            "pool",
            "maker",
            "opened_at",
            "note",
            "round",
            "submitted_at",
            "checked_at",
            "progress",
            "verdict",
            "state",
            "files",
        )

    def get_files(self, deposit: Deposit) -> list[dict[str, Any]]:
        """Give the live files."""
        live = [file for file in deposit.files.all() if not file.is_dropped]
        return list(DepositFileSerializer(live, many=True).data)


_PROPOSAL_ASKS = [
    OpenApiParameter("file", int, description="The file’s id; without it, its files are listed."),
    OpenApiParameter("table", str, description="The dictionary’s table it is to become."),
    OpenApiParameter("same", bool, description="Whether to propose what was done last time."),
    OpenApiParameter("answers", str, description="A JSON object of choices made so far."),
]


class DepositViewSet(ObjectViewSet[Deposit]):
    """Deposits on their way in; add_file takes multipart with one or more `files`."""

    queryset = Deposit.objects.defer("summary").prefetch_related("files")
    serializer_class = DepositSerializer
    deeds = DEPOSIT_DEEDS
    filterset_fields: ClassVar[list[str]] = ["dataset", "state", "verdict", "maker"]
    ordering_fields: ClassVar[list[str]] = ["opened_at", "submitted_at"]

    @extend_schema(
        responses={
            200: OpenApiTypes.OBJECT,
            **dict.fromkeys(LOOK_REFUSED, RefusalSerializer),
        }
    )
    @action(detail=True, methods=["get"])
    def report(self, request: Request, pk: str | None = None) -> Response:
        """Give what the check found: verdict, counts, columns, and the first findings of each."""
        deposit = self.get_object()
        summary = Deposit.objects.values_list("summary", flat=True).get(pk=deposit.pk)
        return Response(
            {
                "state": deposit.state,
                "round": deposit.round,
                "progress": deposit.progress,
                "verdict": deposit.verdict or None,
                **{key: value for key, value in summary.items() if key != "verdict"},
                "all_findings": {
                    form: reverse("api-deposits-findings", args=[deposit.pk, form], request=request)
                    for form in FORMS
                },
                "annotated": reverse("api-deposits-annotated", args=[deposit.pk], request=request),
                "annotated_tables": {
                    table["name"]: reverse(
                        "api-deposits-annotated-table",
                        args=[deposit.pk, table["name"]],
                        request=request,
                    )
                    for table in summary.get("tables", [])
                },
            }
        )

    @extend_schema(
        operation_id="deposits_report_findings",
        responses={
            200: OpenApiTypes.BINARY,
            **dict.fromkeys(LOOK_REFUSED, RefusalSerializer),
        },
    )
    @action(detail=True, methods=["get"], url_path=r"report/findings\.(?P<form>csv|json)")
    def findings(
        self, request: Request, pk: str | None = None, form: str = "json"
    ) -> HttpResponseBase:
        """Give every finding of the newest check, as CSV or as JSON."""
        return findings_answer(self._whole(), form)

    @extend_schema(
        operation_id="deposits_report_annotated",
        responses={
            200: OpenApiTypes.BINARY,
            **dict.fromkeys(LOOK_REFUSED, RefusalSerializer),
        },
    )
    @action(detail=True, methods=["get"], url_path=r"report/annotated\.xlsx")
    def annotated(self, request: Request, pk: str | None = None) -> HttpResponseBase:
        """Give the tables as one workbook with what was found beside their rows."""
        return annotated_book_answer(self._whole())

    @extend_schema(
        operation_id="deposits_report_annotated_table",
        responses={
            200: OpenApiTypes.BINARY,
            **dict.fromkeys(LOOK_REFUSED, RefusalSerializer),
        },
    )
    @action(detail=True, methods=["get"], url_path=r"report/annotated/(?P<table>[^/]{1,200})\.csv")
    def annotated_table(
        self, request: Request, pk: str | None = None, table: str = ""
    ) -> HttpResponseBase:
        """Give one table as CSV with what was found beside its rows."""
        return annotated_table_answer(self._whole(), table)

    def _whole(self) -> Deposit:
        """Give the deposit that is asked for, if this person may see it, with its dictionary."""
        seen = self.get_object()
        return Deposit.objects.select_related("dictionary").get(pk=seen.pk)

    @extend_schema(
        parameters=_PROPOSAL_ASKS,
        responses={
            200: OpenApiTypes.OBJECT,
            **dict.fromkeys((*LOOK_REFUSED, 409, 413), RefusalSerializer),
        },
    )
    @action(detail=True, methods=["get"])
    def intake(self, request: Request, pk: str | None = None) -> Response:
        """Propose how a file is to be read; confirm it by `convert` with answers and mark."""
        asked = request.query_params
        rows = Deposit.objects.select_related("dataset__project", "dictionary")
        deposit = seen_or_404(rows, request.user, pk)  # what is asked here filters no list
        if "file" not in asked:
            live = deposit.files.filter(is_dropped=False)
            return Response({"files": DepositFileSerializer(live, many=True).data})
        file = deposit.files.filter(pk=number_of(asked["file"]) or 0).first()
        if file is None:
            raise Unseen(
                "Nothing was proposed.", "The deposit has no such file.", "Give one of its files."
            )
        found = intake(
            deposit,
            file,
            table=asked.get("table", ""),
            is_same=asked.get("same", "").lower() in {"true", "yes", "1"},
            answers=_choices(asked.get("answers", "")),
        )
        return Response(
            {
                **found.proposal.as_dict(),
                "tables": found.tables,
                "mark": found.mark,
                "has_last": found.last is not None,
                "becomes": found.result_name,
                "replaces": found.replaces.pk if found.replaces else None,
            }
        )


def _choices(text: str) -> dict[str, str]:
    """Read the choices that were made so far."""
    try:
        given = json.loads(text) if text else {}
    except (ValueError, RecursionError):
        given = None
    if not isinstance(given, dict) or not all(isinstance(one, str) for one in given.values()):
        why = "answers: it is not a JSON object whose values are texts."
        raise Unsound(
            "Nothing was proposed.", why, "Mend it or leave it out.", fields={"answers": why}
        )
    return given


@shows
class VersionSerializer(ObjectSerializer[Version]):
    """A version as the API shows it; what tells of its data only to those who may read them."""

    class Meta:
        model = Version
        fields = (
            "id",
            "dataset",
            "dictionary",
            "number",
            "identifier",
            "registered",
            "slug",
            "creators",
            "licence",
            "access",
            "embargoed_until",
            "restricted_because",
            "accepted_by",
            "accepted_at",
            "ground",
            "withdrawn_at",
            "replaced_by",
            "state",
            "rows",
            "bytes",
            "manifest",
        )

    def to_representation(self, instance: Version) -> dict[str, Any]:
        """Leave out counts and files where the data are closed, and names that were removed."""
        shown = super().to_representation(instance)
        person: Any = self.context["request"].user
        mark = getattr(instance, "may_read", None)
        if not (mark if mark is not None else may(person, Verb.VERSION_READ, instance)):
            for name in ("rows", "bytes", "manifest"):
                shown[name] = None
        for creator in shown["creators"]:
            creator.pop("person", None)
        if instance.is_nameless:
            shown["creators"] = []
        if not person.is_authenticated:
            shown.pop("accepted_by")
        return shown


class VersionViewSet(ObjectViewSet[Version]):
    """Accepted versions; their description is open to everyone."""

    is_public = True
    queryset = Version.objects.filter(is_published=True)
    serializer_class = VersionSerializer
    deeds = VERSION_DEEDS
    filterset_fields: ClassVar[list[str]] = ["dataset", "state", "access", "licence", "identifier"]
    ordering_fields: ClassVar[list[str]] = ["accepted_at", "number"]


@shows
class AnalysisSerializer(ObjectSerializer[Analysis]):
    """An analysis as the API shows it, with all that it gave."""

    is_confirmed = serializers.BooleanField(read_only=True)
    is_stale = serializers.BooleanField(read_only=True)

    class Meta:
        model = Analysis
        fields = (
            "id",
            "version",
            "sources",
            "sort",
            "title",
            "request",
            "asked_by",
            "asked_at",
            "state",
            "is_planned",
            "standing_said",
            "code",
            "computed_at",
            "result",
            "digest",
            "refusal",
            "repeated_at",
            "repeated_code",
            "repeated_digest",
            "is_confirmed",
            "is_stale",
        )


class AnalysisViewSet(ObjectViewSet[Analysis]):
    """What versions were asked, and what they gave; ask by `analyse` on a version."""

    queryset = Analysis.objects.prefetch_related("sources")
    serializer_class = AnalysisSerializer
    deeds = ANALYSIS_DEEDS
    filterset_fields: ClassVar[list[str]] = ["version", "sort", "state", "is_planned", "asked_by"]
    ordering_fields: ClassVar[list[str]] = ["asked_at", "computed_at"]


OFFERED: dict[str, Any] = {
    "analyses": AnalysisViewSet,
    "dictionaries": DictionaryViewSet,
    "mappings": MappingViewSet,
    "pools": PoolViewSet,
    "datasets": DatasetViewSet,
    "deposits": DepositViewSet,
    "versions": VersionViewSet,
    **COPIES,
}
