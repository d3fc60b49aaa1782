"""Adverse events, breaches, holds and concerns over the API."""

from typing import Any, ClassVar

from django.db.models import Model

from registry.oversight.forms import BREACH_DEEDS
from registry.oversight.forms.concerns import DEEDS as CONCERN_DEEDS
from registry.oversight.forms.concerns import FOLLOW, RAISE, Follow, RaiseConcern
from registry.oversight.forms.holds import HOLD_DEEDS
from registry.oversight.forms.welfare import EVENT_DEEDS
from registry.oversight.models import AdverseEvent, Breach, Concern, Hold
from registry.rest import ObjectSerializer, ObjectViewSet, shows
from registry.web import DeedForm
from registry.web import deeds as deeds_of


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
