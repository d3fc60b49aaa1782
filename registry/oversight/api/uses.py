"""Uses of animals, and the house's rules for them, over the API."""

from typing import ClassVar

from rest_framework import serializers

from registry.oversight.forms import USE_DEEDS
from registry.oversight.forms.rests import REST_DEEDS, SET
from registry.oversight.forms.trainings import SET as ASK
from registry.oversight.forms.trainings import TRAINING_DEEDS
from registry.oversight.models import RestRule, TrainingRule, Use
from registry.rest import ObjectSerializer, ObjectViewSet, shows


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
class TrainingRuleSerializer(ObjectSerializer[TrainingRule]):
    """A training that a procedure asks for."""

    class Meta:
        model = TrainingRule
        fields = (
            "id",
            "procedure",
            "training",
            "why",
            "owner",
            "from_on",
            "recorded_at",
            "ended_on",
            "state",
        )
        read_only_fields = fields


class TrainingRuleViewSet(ObjectViewSet[TrainingRule]):
    """The trainings that procedures ask for."""

    queryset = TrainingRule.objects.all()
    serializer_class = TrainingRuleSerializer
    deeds = TRAINING_DEEDS
    creates = ASK
    filterset_fields: ClassVar[list[str]] = ["state", "procedure", "training", "owner"]
    ordering_fields: ClassVar[list[str]] = ["from_on", "ended_on"]
