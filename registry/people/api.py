"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from django.db.models import Prefetch
from rest_framework import serializers

from registry.people.forms import (
    ADD,
    BODY_DEEDS,
    DEEDS,
    INSTITUTION_DEEDS,
    OPEN,
    OPEN_INSTITUTION,
)
from registry.people.models import (
    Body,
    BodyKind,
    Induction,
    Institution,
    Meeting,
    Person,
    Seat,
    Standing,
    Training,
)
from registry.rest import LookViewSet, ObjectSerializer, ObjectViewSet, shows


class StandingSerializer(serializers.ModelSerializer[Standing]):
    """A standing, held now or before."""

    class Meta:
        model = Standing
        fields = ("role", "given_on", "ended_on")


class InductionSerializer(serializers.ModelSerializer[Induction]):
    """What a person was shown, and until when it holds."""

    class Meta:
        model = Induction
        fields = ("about", "training", "given_by", "given_on", "expires_on")


class SeatSerializer(serializers.ModelSerializer[Seat]):
    """A seat on a body, held now or before."""

    name = serializers.CharField(source="person.name", read_only=True)

    class Meta:
        model = Seat
        fields = ("body", "person", "name", "is_chair", "began_on", "ended_on")


@shows
class PersonSerializer(ObjectSerializer[Person]):
    """A person as the API shows them."""

    standings = StandingSerializer(many=True, read_only=True)
    seats = SeatSerializer(many=True, read_only=True)
    inductions = InductionSerializer(many=True, read_only=True)

    class Meta:
        model = Person
        fields = (
            "id",
            "name",
            "email",
            "post",
            "institution",
            "orcid",
            "is_active",
            "added_at",
            "standings",
            "seats",
            "inductions",
        )


class MeetingSerializer(serializers.ModelSerializer[Meeting]):
    """A day on which a body meets."""

    class Meta:
        model = Meeting
        fields = ("id", "held_on", "papers_by", "called_off_on")


@shows
class BodySerializer(ObjectSerializer[Body]):
    """A body that decides, with its seats."""

    seats = SeatSerializer(many=True, read_only=True)
    meetings = MeetingSerializer(many=True, read_only=True)

    class Meta:
        model = Body
        fields = (
            *("id", "name", "sort", "institution", "is_ethics", "quorum", "lead_time_d"),
            *("seats", "meetings"),
        )


@shows
class InstitutionSerializer(ObjectSerializer[Institution]):
    """A collection, a university, or an owner of animals."""

    class Meta:
        model = Institution
        fields = ("id", "name", "is_university")


class BodyKindSerializer(serializers.ModelSerializer[BodyKind]):
    """A kind of body that decides, with where it is known."""

    class Meta:
        model = BodyKind
        fields = ("id", "code", "name", "is_ethics", "jurisdiction", "source")


_SEATS = Prefetch("seats", Seat.objects.select_related("person"))


class PersonViewSet(ObjectViewSet[Person]):
    """People who sign in; what one may not see is not listed."""

    queryset = Person.objects.real().prefetch_related("standings", "inductions", _SEATS)
    serializer_class = PersonSerializer
    deeds = DEEDS
    creates = ADD
    filterset_fields: ClassVar[list[str]] = ["institution", "is_active"]
    ordering_fields: ClassVar[list[str]] = ["name", "added_at"]


class BodyViewSet(ObjectViewSet[Body]):
    """The bodies that decide."""

    queryset = Body.objects.prefetch_related(_SEATS, "meetings")
    serializer_class = BodySerializer
    deeds = BODY_DEEDS
    creates = OPEN
    filterset_fields: ClassVar[list[str]] = ["institution", "is_ethics"]
    ordering_fields: ClassVar[list[str]] = ["name"]


class InstitutionViewSet(ObjectViewSet[Institution]):
    """The collection, its partner, and the owners of animals."""

    queryset = Institution.objects.all()
    serializer_class = InstitutionSerializer
    deeds = INSTITUTION_DEEDS
    creates = OPEN_INSTITUTION
    filterset_fields: ClassVar[list[str]] = ["is_university"]
    ordering_fields: ClassVar[list[str]] = ["name"]


class BodyKindViewSet(LookViewSet[BodyKind]):
    """The kinds of body, from the reference data."""

    queryset = BodyKind.objects.all()
    serializer_class = BodyKindSerializer
    filterset_fields: ClassVar[list[str]] = ["is_ethics", "jurisdiction"]
    ordering_fields: ClassVar[list[str]] = ["name"]


class TrainingSerializer(serializers.ModelSerializer[Training]):
    """A training by its name."""

    class Meta:
        model = Training
        fields = ("id", "code", "name", "source")


class TrainingViewSet(LookViewSet[Training]):
    """The trainings that the house may ask for, from the reference data."""

    queryset = Training.objects.all()
    serializer_class = TrainingSerializer
    filterset_fields: ClassVar[list[str]] = ["code"]
    ordering_fields: ClassVar[list[str]] = ["name"]


OFFERED: dict[str, Any] = {
    "people": PersonViewSet,
    "bodies": BodyViewSet,
    "institutions": InstitutionViewSet,
    "body-kinds": BodyKindViewSet,
    "trainings": TrainingViewSet,
}
