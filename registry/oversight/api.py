"""What this slice offers over the API: plural name to view set."""

from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import Any, ClassVar

from django.db.models import Model
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.oversight.bars import margins_of
from registry.oversight.forms import (
    BOOKING_DEEDS,
    BREACH_DEEDS,
    ENROLMENT_DEEDS,
    SESSION_DEEDS,
    USE_DEEDS,
)
from registry.oversight.forms.audits import AUDIT_DEEDS, OPEN, POINT_DEEDS, SAMPLED_DEEDS
from registry.oversight.forms.concerns import DEEDS as CONCERN_DEEDS
from registry.oversight.forms.concerns import FOLLOW, RAISE, Follow, RaiseConcern
from registry.oversight.forms.holds import HOLD_DEEDS
from registry.oversight.forms.rests import REST_DEEDS, SET
from registry.oversight.forms.returns import PUBLISH
from registry.oversight.forms.welfare import EVENT_DEEDS
from registry.oversight.margins import Limited, Margin
from registry.oversight.meant import limits_of, meant_by, of_session
from registry.oversight.models import (
    AdverseEvent,
    Audit,
    BookedSubject,
    Booking,
    Breach,
    Concern,
    Enrolment,
    Hold,
    Point,
    RestRule,
    ReturnCategory,
    SampledUse,
    Session,
    Use,
    YearReturn,
)
from registry.projects.models import Procedure
from registry.rest import (
    LOOK_REFUSED,
    LookViewSet,
    ObjectSerializer,
    ObjectViewSet,
    RefusalSerializer,
    shows,
)
from registry.web import DeedForm
from registry.web import deeds as deeds_of


class BookedSubjectSerializer(serializers.ModelSerializer[BookedSubject]):
    """An animal, or so many of a group, in a booking."""

    class Meta:
        model = BookedSubject
        fields = ("id", "animal", "group", "number")


class MarginSerializer(serializers.Serializer[Any]):
    """One limit: what it allows, what is asked, and what would be left; see `left` for its unit."""

    permission = serializers.CharField()
    approval = serializers.IntegerField(allow_null=True)
    limited = serializers.ChoiceField(choices=list(Limited))
    about = serializers.CharField()
    allowed = serializers.CharField()
    asked = serializers.CharField()
    left = serializers.IntegerField(
        allow_null=True, help_text="Days, classes, animals or times, by what is limited."
    )
    is_kept = serializers.BooleanField()


_ON = OpenApiParameter("on", OpenApiTypes.DATE, description="The day; else today.")
_PROCEDURE = OpenApiParameter(
    "procedure", OpenApiTypes.INT, description="By its number; else each that is planned."
)


def looks_at_limits(*parameters: OpenApiParameter) -> Callable[[Any], Any]:
    """Give what makes a method answer with limits; it only looks."""
    described = extend_schema(
        parameters=list(parameters),
        responses={
            200: MarginSerializer(many=True),
            **dict.fromkeys(LOOK_REFUSED, RefusalSerializer),
        },
        filters=False,
    )
    acted = action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    return lambda method: described(acted(method))


def _day(request: Request) -> Any:
    given = request.query_params.get("on", timezone.localdate().isoformat())
    return serializers.DateField().run_validation(given)


def _procedure(request: Request) -> Any:
    rows = serializers.PrimaryKeyRelatedField(queryset=Procedure.objects.all(), allow_null=True)
    return rows.run_validation(request.query_params.get("procedure"))


def _told(found: Iterable[Margin]) -> Response:
    return Response([asdict(one) for one in found])


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

    @looks_at_limits(_ON)
    def limits(self, request: Request, pk: str | None = None) -> Response:
        """Give each limit that enrolling the rest would be held against, and what it leaves."""
        return _told(margins_of(self.get_object(), _day(request)))


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

    @looks_at_limits(_ON, _PROCEDURE)
    def limits(self, request: Request, pk: str | None = None) -> Response:
        """Give each limit that a use of it on a day would be held against, and what it leaves."""
        one = self.get_object()
        meant = meant_by(
            one.project, _day(request), enrolments=[one], procedure=_procedure(request)
        )
        return _told(limits_of(meant))


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

    @looks_at_limits(_PROCEDURE)
    def limits(self, request: Request, pk: str | None = None) -> Response:
        """Give each limit that holding it would be held against, and what it leaves."""
        return _told(limits_of(of_session(self.get_object(), _procedure(request))))


@shows
class UseSerializer(ObjectSerializer[Use]):
    """A use as the API shows it, with how late it was recorded and what it passed."""

    days_late = serializers.IntegerField(read_only=True)
    is_late = serializers.BooleanField(read_only=True)
    state = serializers.CharField(read_only=True)

    class Meta:
        model = Use
        fields = (
            "id",
            "project",
            "animal",
            "group",
            "number",
            "enrolment",
            "session",
            "procedure",
            "place",
            "happened_at",
            "recorded_at",
            "recorded_by",
            "severity",
            "note",
            "reverses",
            "breaches",
            "days_late",
            "is_late",
            "state",
        )
        read_only_fields = fields


class UseViewSet(ObjectViewSet[Use]):
    """Uses of animals; never edited, taken back by an entry beside them."""

    queryset = Use.objects.select_related("reversed_by").prefetch_related("breaches")
    serializer_class = UseSerializer
    deeds = USE_DEEDS
    filterset_fields: ClassVar[dict[str, list[str]]] = {
        "project": ["exact"],
        "animal": ["exact"],
        "group": ["exact"],
        "enrolment": ["exact"],
        "session": ["exact"],
        "procedure": ["exact"],
        "recorded_by": ["exact"],
        "happened_at": ["date", "gte", "lt"],
        "recorded_at": ["gte", "lt"],
    }
    ordering_fields: ClassVar[list[str]] = ["happened_at", "recorded_at"]


@shows
class RestRuleSerializer(ObjectSerializer[RestRule]):
    """A rule of the house on rest between hands-on events."""

    class Meta:
        model = RestRule
        fields = (
            "id",
            "taxon",
            "most",
            "days",
            "why",
            "owner",
            "from_on",
            "recorded_at",
            "ended_on",
            "state",
        )
        read_only_fields = fields


class RestRuleViewSet(ObjectViewSet[RestRule]):
    """The house's rules of rest."""

    queryset = RestRule.objects.all()
    serializer_class = RestRuleSerializer
    deeds = REST_DEEDS
    creates = SET
    filterset_fields: ClassVar[list[str]] = ["state", "taxon", "owner"]
    ordering_fields: ClassVar[list[str]] = ["from_on", "ended_on"]


@shows
class YearReturnSerializer(ObjectSerializer[YearReturn]):
    """An edition of a return: rows of species, purpose, origin, severity, re-use, number."""

    class Meta:
        model = YearReturn
        fields = (
            "id",
            "year",
            "edition",
            "rows",
            "embryos",
            "procedures",
            "animals",
            "late_embryos",
            "note",
            "published_by",
            "published_at",
        )
        read_only_fields = fields


class YearReturnViewSet(ObjectViewSet[YearReturn]):
    """Published returns; every edition is kept."""

    queryset = YearReturn.objects.all()
    serializer_class = YearReturnSerializer
    creates = PUBLISH
    filterset_fields: ClassVar[list[str]] = ["year", "edition"]
    ordering_fields: ClassVar[list[str]] = ["year", "edition", "published_at"]


class ReturnCategorySerializer(serializers.ModelSerializer[ReturnCategory]):
    """A category of the yearly return."""

    class Meta:
        model = ReturnCategory
        fields = ("id", "code", "sort", "name", "from_year", "until_year", "source")


class ReturnCategoryViewSet(LookViewSet[ReturnCategory]):
    """The categories that a return asks for."""

    queryset = ReturnCategory.objects.all()
    serializer_class = ReturnCategorySerializer
    filterset_fields: ClassVar[list[str]] = ["sort", "code"]


@shows
class AdverseEventSerializer(ObjectSerializer[AdverseEvent]):
    """An adverse event, with its assessment."""

    class Meta:
        model = AdverseEvent
        fields = (
            "id",
            "project",
            "enrolment",
            "animal",
            "group",
            "sort",
            "text",
            "is_expected",
            "end_point",
            "happened_at",
            "recorded_at",
            "reported_by",
            "severity",
            "course",
            "assessment",
            "assessed_by",
            "assessed_at",
            "state",
        )
        read_only_fields = fields


class AdverseEventViewSet(ObjectViewSet[AdverseEvent]):
    """Harm that came to animals in projects."""

    queryset = AdverseEvent.objects.all()
    serializer_class = AdverseEventSerializer
    deeds = EVENT_DEEDS
    filterset_fields: ClassVar[list[str]] = ["state", "project", "animal", "group", "sort"]
    ordering_fields: ClassVar[list[str]] = ["happened_at", "recorded_at"]


@shows
class BreachSerializer(ObjectSerializer[Breach]):
    """A breach as the API shows it."""

    class Meta:
        model = Breach
        fields = (
            "id",
            "project",
            "code",
            "said",
            "approval",
            "use",
            "session",
            "deposit_number",
            "animal",
            "group",
            "happened_on",
            "found_at",
            "explanation",
            "explained_by",
            "explained_at",
            "state",
        )


class BreachViewSet(ObjectViewSet[Breach]):
    """What happened outside a limit, and how it was explained."""

    queryset = Breach.objects.all()
    serializer_class = BreachSerializer
    deeds = BREACH_DEEDS
    filterset_fields: ClassVar[list[str]] = [
        "state",
        "project",
        "approval",
        "code",
        "animal",
        "group",
        "use",
        "session",
        "deposit_number",
    ]
    ordering_fields: ClassVar[list[str]] = ["found_at", "happened_on"]


@shows
class HoldSerializer(ObjectSerializer[Hold]):
    """That all records of a project are kept."""

    class Meta:
        model = Hold
        fields = ("id", "project", "why", "set_by", "set_at", "lifted_at", "state")
        read_only_fields = fields


class HoldViewSet(ObjectViewSet[Hold]):
    """What is held beyond its time."""

    queryset = Hold.objects.all()
    serializer_class = HoldSerializer
    deeds = HOLD_DEEDS
    filterset_fields: ClassVar[list[str]] = ["state", "project"]
    ordering_fields: ClassVar[list[str]] = ["set_at"]


@shows
class ConcernSerializer(ObjectSerializer[Concern]):
    """A concern, to those who handle it or raised it."""

    class Meta:
        model = Concern
        fields = ("id", "text", "animal", "project", "named", "raised_at", "outcome", "state")
        read_only_fields = fields


class ConcernViewSet(ObjectViewSet[Concern]):
    """Concerns; the answer to raising one holds the code by which it can be followed."""

    queryset = Concern.objects.all()
    serializer_class = ConcernSerializer
    deeds = CONCERN_DEEDS
    creates = RAISE
    starts = deeds_of(FOLLOW)
    filterset_fields: ClassVar[list[str]] = ["state", "animal", "project"]
    ordering_fields: ClassVar[list[str]] = ["raised_at"]

    def show_made(self, form: DeedForm, done: Model) -> dict[str, Any]:
        """Add the code, which is shown this once."""
        if isinstance(form, Follow) and isinstance(done, Concern):
            return {"state": done.state, "outcome": done.outcome}  # as the page shows it
        shown = super().show_made(form, done)
        return {**shown, "follow_up_code": form.code} if isinstance(form, RaiseConcern) else shown


@shows
class PointSerializer(ObjectSerializer[Point]):
    """A point of an audit, with its answer."""

    is_overdue = serializers.BooleanField(read_only=True)

    class Meta:
        model = Point
        fields = (
            "id",
            "audit",
            "text",
            "breach",
            "use",
            "addressee",
            "due_on",
            "is_overdue",
            "written_at",
            "answer",
            "answered_at",
            "state",
        )
        read_only_fields = fields


@shows
class AuditSerializer(ObjectSerializer[Audit]):
    """An audit as the API shows it."""

    class Meta:
        model = Audit
        fields = ("id", "title", "scope", "from_on", "to_on", "opener", "opened_at", "points")
        read_only_fields = fields


class AuditViewSet(ObjectViewSet[Audit]):
    """Audits of the record."""

    queryset = Audit.objects.prefetch_related("points")
    serializer_class = AuditSerializer
    deeds = AUDIT_DEEDS
    creates = OPEN
    filterset_fields: ClassVar[list[str]] = ["opener"]
    ordering_fields: ClassVar[list[str]] = ["opened_at"]


@shows
class SampledUseSerializer(ObjectSerializer[SampledUse]):
    """A use that an audit looks at, with how it was drawn."""

    how = serializers.CharField(source="draw.how", read_only=True)
    seed = serializers.CharField(source="draw.seed", read_only=True)

    class Meta:
        model = SampledUse
        fields = ("id", "audit", "use", "how", "seed", "evidence", "looked_at", "state")
        read_only_fields = fields


class SampledUseViewSet(ObjectViewSet[SampledUse]):
    """Uses that audits look at."""

    queryset = SampledUse.objects.select_related("draw")
    serializer_class = SampledUseSerializer
    deeds = SAMPLED_DEEDS
    filterset_fields: ClassVar[list[str]] = ["state", "audit", "use"]
    ordering_fields: ClassVar[list[str]] = ["looked_at"]


class PointViewSet(ObjectViewSet[Point]):
    """Points that must be answered."""

    queryset = Point.objects.all()
    serializer_class = PointSerializer
    deeds = POINT_DEEDS
    filterset_fields: ClassVar[list[str]] = ["state", "audit", "addressee"]
    ordering_fields: ClassVar[list[str]] = ["written_at"]


OFFERED: dict[str, Any] = {
    "bookings": BookingViewSet,
    "enrolments": EnrolmentViewSet,
    "sessions": SessionViewSet,
    "uses": UseViewSet,
    "rest-rules": RestRuleViewSet,
    "year-returns": YearReturnViewSet,
    "return-categories": ReturnCategoryViewSet,
    "adverse-events": AdverseEventViewSet,
    "breaches": BreachViewSet,
    "holds": HoldViewSet,
    "concerns": ConcernViewSet,
    "audits": AuditViewSet,
    "sampled-uses": SampledUseViewSet,
    "audit-points": PointViewSet,
}
