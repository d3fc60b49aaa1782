"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from archive.forms import DEPOSIT_DEEDS, VERSION_DEEDS
from archive.models import Dataset, Deposit, DepositFile, Dictionary, Version
from registry.permissions import Verb, may
from registry.rest import (
    LOOK_REFUSED,
    ObjectSerializer,
    ObjectViewSet,
    RefusalSerializer,
    shows,
)


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
    filterset_fields: ClassVar[list[str]] = ["study", "number"]
    ordering_fields: ClassVar[list[str]] = ["published_at", "number"]


@shows
class DatasetSerializer(ObjectSerializer[Dataset]):
    """A dataset as the API shows it."""

    class Meta:
        model = Dataset
        fields = ("id", "project", "title", "identifier", "opened_at")


class DatasetViewSet(ObjectViewSet[Dataset]):
    """The one dataset of each project; open to everyone once something was published."""

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
                    form: reverse(f"archive:findings_{form}", args=[deposit.pk], request=request)
                    for form in ("csv", "json")
                },
            }
        )


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
        if instance.state == "erased" and instance.ground == Version.Ground.CONSENT:
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


OFFERED: dict[str, Any] = {
    "dictionaries": DictionaryViewSet,
    "datasets": DatasetViewSet,
    "deposits": DepositViewSet,
    "versions": VersionViewSet,
}
