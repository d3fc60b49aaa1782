"""Bookings, enrolments and sessions over the API."""

from typing import ClassVar

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from registry.oversight.api.looking import (
    ON,
    PROCEDURE,
    day_of,
    looks_at_limits,
    procedure_of,
    told,
)
from registry.oversight.bars import margins_of
from registry.oversight.forms import BOOKING_DEEDS, ENROLMENT_DEEDS, SESSION_DEEDS
from registry.oversight.meant import limits_of, meant_by, of_session
from registry.oversight.models import BookedSubject, Booking, Enrolment, Session
from registry.rest import ObjectSerializer, ObjectViewSet, shows


class BookedSubjectSerializer(serializers.ModelSerializer[BookedSubject]):
    """An animal, or so many of a group, in a booking."""

    class Meta:
        model = BookedSubject
        fields = ("id", "animal", "group", "number")


@shows
class BookingSerializer(ObjectSerializer[Booking]):
    """A booking as the API shows it."""

    subjects = BookedSubjectSerializer(many=True, read_only=True)

    class Meta:
        model = Booking
        fields = (
            "id",
            "project",
            "asked_by",
            "asked_at",
            "wish",
            "starts_on",
            "ends_on",
            "max_contacts_each",
            "places",
            "subjects",
            "enrolments",
            "note",
            "released_on",
            "state",
        )
        read_only_fields = fields


class BookingViewSet(ObjectViewSet[Booking]):
    """Bookings of animals, places and dates."""

    queryset = Booking.objects.prefetch_related("places", "subjects", "enrolments")
    serializer_class = BookingSerializer
    deeds = BOOKING_DEEDS
    filterset_fields: ClassVar[list[str]] = ["state", "project", "asked_by", "subjects__animal"]
    ordering_fields: ClassVar[list[str]] = ["asked_at", "starts_on", "ends_on"]

    @looks_at_limits(ON)
    def limits(self, request: Request, pk: str | None = None) -> Response:
        """Give each limit that enrolling the rest would be held against, and what it leaves."""
        return told(margins_of(self.get_object(), day_of(request)))


@shows
class EnrolmentSerializer(ObjectSerializer[Enrolment]):
    """An enrolment as the API shows it."""

    class Meta:
        model = Enrolment
        fields = (
            "id",
            "project",
            "booking",
            "animal",
            "group",
            "number",
            "code",
            "arm",
            "unit",
            "from_on",
            "enrolled_by",
            "recorded_at",
            "left_on",
            "left_recorded_at",
            "actual_severity",
            "state",
        )


class EnrolmentViewSet(ObjectViewSet[Enrolment]):
    """Animals in projects, under the codes by which the data name them."""

    queryset = Enrolment.objects.all()
    serializer_class = EnrolmentSerializer
    deeds = ENROLMENT_DEEDS
    filterset_fields: ClassVar[list[str]] = [
        "state",
        "project",
        "booking",
        "animal",
        "group",
        "code",
        "arm",
    ]
    ordering_fields: ClassVar[list[str]] = ["code", "from_on", "left_on"]

    @looks_at_limits(ON, PROCEDURE)
    def limits(self, request: Request, pk: str | None = None) -> Response:
        """Give each limit that a use of it on a day would be held against, and what it leaves."""
        one = self.get_object()
        meant = meant_by(
            one.project, day_of(request), enrolments=[one], procedure=procedure_of(request)
        )
        return told(limits_of(meant))


@shows
class SessionSerializer(ObjectSerializer[Session]):
    """A session as the API shows it."""

    class Meta:
        model = Session
        fields = (
            "id",
            "project",
            "code",
            "place",
            "planned_start",
            "planned_end",
            "started_at",
            "ended_at",
            "recorded_at",
            "observers",
            "enrolments",
            "visitors",
            "noise_db",
            "noise_medium",
            "notes",
            "missing_reason",
            "made_by",
            "state",
        )


class SessionViewSet(ObjectViewSet[Session]):
    """Sessions, planned and held."""

    queryset = Session.objects.prefetch_related("observers", "enrolments")
    serializer_class = SessionSerializer
    deeds = SESSION_DEEDS
    filterset_fields: ClassVar[dict[str, list[str]]] = {
        "state": ["exact"],
        "project": ["exact"],
        "place": ["exact"],
        "observers": ["exact"],
        "code": ["exact"],
        "planned_start": ["date", "gte", "lt"],
    }
    ordering_fields: ClassVar[list[str]] = ["planned_start", "started_at"]

    @looks_at_limits(PROCEDURE)
    def limits(self, request: Request, pk: str | None = None) -> Response:
        """Give each limit that holding it would be held against, and what it leaves."""
        return told(limits_of(of_session(self.get_object(), procedure_of(request))))
