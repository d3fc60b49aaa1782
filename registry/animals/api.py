"""What this slice offers over the API: plural name to view set."""

from collections.abc import Mapping
from typing import Any, ClassVar

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.animals.forms import (
    ADD_TAXON,
    ANIMAL_DEEDS,
    CASE_DEEDS,
    ENCLOSURE_DEEDS,
    GROUP_DEEDS,
    IMPORT,
    INTAKE_DEEDS,
    OPEN_ENCLOSURE,
    RECEIVE_ANIMAL,
    RECEIVE_GROUP,
    RECORD_CASE,
    RESTRICTION_DEEDS,
)
from registry.animals.identity_api import OFFERED as IDENTITY
from registry.animals.identity_api import MarkSerializer
from registry.animals.models import (
    Animal,
    Candidate,
    EggCase,
    Embryo,
    Enclosure,
    Event,
    Group,
    Intake,
    Parentage,
    Restriction,
    Routine,
    Taxon,
)
from registry.animals.relatives import kin_of
from registry.animals.stockbook import book_of, year_asked
from registry.rest import (
    LOOK_REFUSED,
    ObjectSerializer,
    ObjectViewSet,
    RefusalSerializer,
    shows,
)
from registry.web import Deeds

_LOOKED_AT = {200: OpenApiTypes.OBJECT, **dict.fromkeys(LOOK_REFUSED, RefusalSerializer)}


@shows
class TaxonSerializer(ObjectSerializer[Taxon]):
    """A taxon as the API shows it."""

    protection_group = serializers.CharField(read_only=True)

    class Meta:
        model = Taxon
        fields = (
            "id",
            "scientific_name",
            "common_name",
            "other_names",
            "taxon_class",
            "protection_group",
            "source",
            "breeding",
            "period_least_d",
            "period_most_d",
            "period_source",
            "sperm_storage_d",
            "sperm_storage_source",
        )


class RoutineSerializer(serializers.ModelSerializer[Routine]):
    """What goes on at an enclosure every week, or did."""

    class Meta:
        model = Routine
        fields = ("id", "sort", "weekday", "begins", "ends", "note", "began_on", "ended_on")


@shows
class EnclosureSerializer(ObjectSerializer[Enclosure]):
    """An enclosure as the API shows it."""

    routines = RoutineSerializer(many=True, read_only=True)

    class Meta:
        model = Enclosure
        fields = ("id", "code", "name", "is_on_show", "opened_on", "routines")


class EventSerializer(serializers.ModelSerializer[Event]):
    """An event, within its animal or group; also those that were taken back."""

    class Meta:
        model = Event
        fields = (
            "id",
            "sort",
            "happened_on",
            "recorded_at",
            "recorded_by",
            "enclosure",
            "institution",
            "males",
            "females",
            "unknown",
            "is_estimated",
            "born_on",
            "sex",
            "life_stage",
            "measure",
            "value",
            "method",
            "is_positive",
            "number",
            "since_on",
            "cause",
            "note",
            "embryo",
            "partner",
            "reverses",
        )


class CandidateSerializer(serializers.ModelSerializer[Candidate]):
    """One of several animals that may be the parent."""

    class Meta:
        model = Candidate
        fields = ("animal",)


class ParentageSerializer(serializers.ModelSerializer[Parentage]):
    """A dam or a sire, or those that it may be; also what was held before."""

    candidates = CandidateSerializer(many=True, read_only=True)
    is_certain = serializers.BooleanField(read_only=True)

    class Meta:
        model = Parentage
        fields = (
            "id",
            "role",
            "parent",
            "candidates",
            "evidence",
            "is_certain",
            "note",
            "recorded_at",
            "replaced_at",
        )


@shows
class AnimalSerializer(ObjectSerializer[Animal]):
    """An animal as the API shows it."""

    marks = MarkSerializer(many=True, read_only=True)
    events = EventSerializer(many=True, read_only=True)
    parentage = ParentageSerializer(many=True, read_only=True)

    class Meta:
        model = Animal
        fields = (
            "id",
            "code",
            "name",
            "taxon",
            "sex",
            "life_stage",
            "born_on",
            "born_precision",
            "origin",
            "owner",
            "enclosure",
            "drawn_from",
            "arrived_on",
            "left_on",
            "state",
            "marks",
            "parentage",
            "events",
        )


@shows
class GroupSerializer(ObjectSerializer[Group]):
    """A counted group as the API shows it."""

    number = serializers.IntegerField(read_only=True)
    events = EventSerializer(many=True, read_only=True)

    class Meta:
        model = Group
        fields = (
            "id",
            "code",
            "name",
            "sort",
            "taxon",
            "life_stage",
            "owner",
            "enclosure",
            "males",
            "females",
            "unknown",
            "number",
            "is_estimated",
            "born_on",
            "born_precision",
            "arrived_on",
            "left_on",
            "state",
            "events",
        )


class EmbryoSerializer(serializers.ModelSerializer[Embryo]):
    """An embryo, within its case; hatched, it names its animal."""

    parentage = ParentageSerializer(many=True, read_only=True)
    incubation_d = serializers.IntegerField(read_only=True, allow_null=True)

    class Meta:
        model = Embryo
        fields = (
            "id",
            "ordinal",
            "is_fertile",
            "outcome",
            "ended_on",
            "incubation_d",
            "animal",
            "parentage",
        )


@shows
class EggCaseSerializer(ObjectSerializer[EggCase]):
    """An egg case as the API shows it."""

    embryos = EmbryoSerializer(many=True, read_only=True)
    parentage = ParentageSerializer(many=True, read_only=True)
    events = EventSerializer(many=True, read_only=True)

    class Meta:
        model = EggCase
        fields = (
            "id",
            "code",
            "taxon",
            "clutch",
            "enclosure",
            "laid_on",
            "laid_precision",
            "ended_on",
            "state",
            "embryos",
            "parentage",
            "events",
        )


@shows
class RestrictionSerializer(ObjectSerializer[Restriction]):
    """A restriction as the API shows it; `ended_on` is the first day that is free again."""

    class Meta:
        model = Restriction
        fields = (
            "id",
            "animal",
            "group",
            "enclosure",
            "sort",
            "strength",
            "note",
            "began_on",
            "expected_end_on",
            "earliest_end_on",
            "inherited_from",
            "begun_by",
            "recorded_at",
            "ended_on",
            "ended_by",
            "state",
        )


@shows
class IntakeSerializer(ObjectSerializer[Intake]):
    """A file from which animals were brought in, and how many."""

    class Meta:
        model = Intake
        fields = (
            "id",
            "file_name",
            "sha256",
            "animals_brought",
            "groups_brought",
            "rows_known",
            "brought_at",
            "brought_by",
            "state",
        )


class FaultSerializer(serializers.Serializer[Any]):
    """One thing to put right in a file: where, what, why, and what next."""

    row = serializers.IntegerField(allow_null=True)
    column = serializers.CharField()
    value = serializers.CharField()
    why = serializers.CharField()
    next = serializers.CharField()


class OutcomeSerializer(serializers.Serializer[Any]):
    """What would become of one row."""

    row = serializers.IntegerField()
    code = serializers.CharField()
    outcome = serializers.CharField()


class TrialSerializer(serializers.Serializer[Any]):
    """What would become of a file; nothing of it is written."""

    sha256 = serializers.CharField()
    seen = serializers.CharField()
    encoding = serializers.CharField()
    separator = serializers.CharField()
    unread_columns = serializers.ListField(child=serializers.CharField())
    asked = serializers.ListField(child=serializers.CharField())
    rows = serializers.IntegerField()
    new = serializers.IntegerField()
    same = serializers.IntegerField()
    differs = serializers.IntegerField()
    faulty = serializers.IntegerField()
    unknown_taxa = serializers.ListField(child=serializers.CharField())
    unknown_enclosures = serializers.ListField(child=serializers.CharField())
    faults = FaultSerializer(many=True)
    outcomes = OutcomeSerializer(many=True)


class TaxonViewSet(ObjectViewSet[Taxon]):
    """Kinds of animal."""

    queryset = Taxon.objects.all()
    serializer_class = TaxonSerializer
    creates = ADD_TAXON
    filterset_fields: ClassVar[list[str]] = ["taxon_class", "scientific_name"]
    ordering_fields: ClassVar[list[str]] = ["common_name", "scientific_name"]

    @extend_schema(
        parameters=[OpenApiParameter("year", int, description="This year where none is given.")],
        responses=_LOOKED_AT,
    )
    @action(detail=False, methods=["get"])
    def stocklist(self, request: Request) -> Response:
        """Give the stock list of a year: a line for each kind, by males, females, unknown."""
        year, _years = year_asked(request.query_params.get("year", ""))
        book = book_of(year, self.get_queryset())
        lines = [line for one in book for line in one.as_dicts()]
        return Response({"year": year, "lines": lines})


class EnclosureViewSet(ObjectViewSet[Enclosure]):
    """Tanks, pools and runs."""

    queryset = Enclosure.objects.prefetch_related("routines")
    serializer_class = EnclosureSerializer
    deeds = ENCLOSURE_DEEDS
    creates = OPEN_ENCLOSURE
    filterset_fields: ClassVar[list[str]] = ["code", "is_on_show"]
    ordering_fields: ClassVar[list[str]] = ["code", "name"]


class AnimalViewSet(ObjectViewSet[Animal]):
    """Animals that are told apart."""

    queryset = Animal.objects.prefetch_related("marks", "events", "parentage__candidates")
    serializer_class = AnimalSerializer
    deeds = ANIMAL_DEEDS
    creates = RECEIVE_ANIMAL
    starts: ClassVar[Deeds] = {IMPORT.path: IMPORT}
    trials: ClassVar[Mapping[str, Any]] = {IMPORT.path: TrialSerializer}
    filterset_fields: ClassVar[list[str]] = [
        "taxon",
        "enclosure",
        "sex",
        "life_stage",
        "state",
        "code",
        "owner",
    ]
    ordering_fields: ClassVar[list[str]] = ["code", "arrived_on", "left_on", "born_on"]

    @extend_schema(responses=_LOOKED_AT)
    @action(detail=True, methods=["get"])
    def relatives(self, request: Request, pk: str | None = None) -> Response:
        """Give its near relatives by certain parents, with their kinship, and its inbreeding."""
        return Response(kin_of(self.get_object()).as_dict())


class GroupViewSet(ObjectViewSet[Group]):
    """Animals that are counted."""

    queryset = Group.objects.prefetch_related("events")
    serializer_class = GroupSerializer
    deeds = GROUP_DEEDS
    creates = RECEIVE_GROUP
    filterset_fields: ClassVar[list[str]] = [
        "taxon",
        "enclosure",
        "sort",
        "life_stage",
        "state",
        "code",
        "owner",
    ]
    ordering_fields: ClassVar[list[str]] = ["code", "arrived_on", "left_on"]


class RestrictionViewSet(ObjectViewSet[Restriction]):
    """Restrictions; one is begun by `restrict` on an animal, a group or an enclosure."""

    queryset = Restriction.objects.select_related("animal", "group", "enclosure")
    serializer_class = RestrictionSerializer
    deeds = RESTRICTION_DEEDS
    filterset_fields: ClassVar[list[str]] = [
        "animal",
        "group",
        "enclosure",
        "sort",
        "strength",
        "state",
    ]
    ordering_fields: ClassVar[list[str]] = ["began_on", "expected_end_on", "ended_on"]


class EggCaseViewSet(ObjectViewSet[EggCase]):
    """Egg cases with their embryos."""

    queryset = EggCase.objects.prefetch_related(
        "events", "parentage__candidates", "embryos__case", "embryos__parentage__candidates"
    )
    serializer_class = EggCaseSerializer
    deeds = CASE_DEEDS
    creates = RECORD_CASE
    filterset_fields: ClassVar[list[str]] = ["taxon", "clutch", "enclosure", "state"]
    ordering_fields: ClassVar[list[str]] = ["laid_on", "code", "ended_on"]


class IntakeViewSet(ObjectViewSet[Intake]):
    """Files from which animals were brought in."""

    queryset = Intake.objects.all()
    serializer_class = IntakeSerializer
    deeds = INTAKE_DEEDS
    filterset_fields: ClassVar[list[str]] = ["brought_by", "sha256", "state"]
    ordering_fields: ClassVar[list[str]] = ["brought_at"]


OFFERED: dict[str, Any] = {
    "intakes": IntakeViewSet,
    "taxa": TaxonViewSet,
    "animals": AnimalViewSet,
    "groups": GroupViewSet,
    "enclosures": EnclosureViewSet,
    "cases": EggCaseViewSet,
    "restrictions": RestrictionViewSet,
    **IDENTITY,
}
