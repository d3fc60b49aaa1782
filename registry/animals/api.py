"""What this slice offers over the API: plural name to view set."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import StreamingHttpResponse
from drf_spectacular.utils import OpenApiParameter, extend_schema
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
    LOAN_DEEDS,
    OPEN_ENCLOSURE,
    RECEIVE_ANIMAL,
    RECEIVE_GROUP,
    RECORD_CASE,
    RESTRICTION_DEEDS,
)
from registry.animals.identity_api import OFFERED as IDENTITY
from registry.animals.looking_api import (
    DAYS,
    LOOKED_AT,
    KeptViewSet,
    kinship_of_chosen,
    kinship_of_kind,
    lived_on,
)
from registry.animals.models import (
    Animal,
    EggCase,
    Enclosure,
    Group,
    Intake,
    Loan,
    Restriction,
    Taxon,
)
from registry.animals.relatives import kin_of
from registry.animals.shapes import (
    AnimalSerializer,
    EggCaseSerializer,
    EnclosureSerializer,
    GroupSerializer,
    IntakeSerializer,
    LoanSerializer,
    RestrictionSerializer,
    TaxonSerializer,
    TrialSerializer,
)
from registry.animals.stockbook import book_of, year_asked
from registry.rest import ObjectViewSet
from registry.web import Deeds


class TaxonViewSet(ObjectViewSet[Taxon]):
    """Kinds of animal."""

    queryset = Taxon.objects.all()
    serializer_class = TaxonSerializer
    creates = ADD_TAXON
    filterset_fields: ClassVar[list[str]] = ["taxon_class", "scientific_name"]
    ordering_fields: ClassVar[list[str]] = ["common_name", "scientific_name"]

    @extend_schema(
        parameters=[OpenApiParameter("year", int, description="This year where none is given.")],
        responses=LOOKED_AT,
    )
    @action(detail=False, methods=["get"])
    def stocklist(self, request: Request) -> Response:
        """Give the stock list of a year: a line for each kind, by males, females, unknown."""
        year, _years = year_asked(request.query_params.get("year", ""))
        book = book_of(year, self.get_queryset())
        lines = [line for one in book for line in one.as_dicts()]
        return Response({"year": year, "lines": lines})

    @extend_schema(responses=LOOKED_AT)
    @action(detail=True, methods=["get"])
    def kinship(self, request: Request, pk: str | None = None) -> StreamingHttpResponse:
        """Give the kinship of each two of a kind that live here, up to 3,000 with ancestors."""
        return kinship_of_kind(self.get_object(), request)


class EnclosureViewSet(ObjectViewSet[Enclosure]):
    """Tanks, pools and runs."""

    queryset = Enclosure.objects.prefetch_related("keepers", "routines")
    serializer_class = EnclosureSerializer
    deeds = ENCLOSURE_DEEDS
    creates = OPEN_ENCLOSURE
    filterset_fields: ClassVar[list[str]] = ["code", "is_on_show"]
    ordering_fields: ClassVar[list[str]] = ["code", "name"]

    @extend_schema(parameters=DAYS, responses=LOOKED_AT)
    @action(detail=True, methods=["get"])
    def lived_here(self, request: Request, pk: str | None = None) -> Response:
        """Give who lived in it at the end of a day, with the state of each."""
        return lived_on(self, request, pk)


class AnimalViewSet(KeptViewSet[Animal]):
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

    @extend_schema(responses=LOOKED_AT)
    @action(detail=True, methods=["get"])
    def relatives(self, request: Request, pk: str | None = None) -> Response:
        """Give its near relatives by certain parents, with their kinship, and its inbreeding."""
        return Response(kin_of(self.get_object()).as_dict())

    @extend_schema(
        parameters=[OpenApiParameter("animal", int, many=True, description="1,000 at most.")],
        responses=LOOKED_AT,
    )
    @action(detail=False, methods=["get"])
    def kinship(self, request: Request) -> Response:
        """Give the kinship of each two of chosen animals, and how many independent ones they are.

        `effective_size` is by heritability; parents that are `uncertain` were not reckoned with.
        """
        return kinship_of_chosen(self, request)


class GroupViewSet(KeptViewSet[Group]):
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


class LoanViewSet(ObjectViewSet[Loan]):
    """Loans to this collection and by it; one is recorded by `lend` on an animal or a group."""

    queryset = Loan.objects.select_related("animal", "group", "institution")
    serializer_class = LoanSerializer
    deeds = LOAN_DEEDS
    filterset_fields: ClassVar[list[str]] = ["animal", "group", "direction", "institution", "state"]
    ordering_fields: ClassVar[list[str]] = ["began_on", "expected_end_on", "ended_on"]


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
    "loans": LoanViewSet,
    **IDENTITY,
}
