"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from django.db.models import Prefetch
from rest_framework import serializers

from registry.approvals.forms import DEEDS
from registry.approvals.models import Approval, Condition, Limit, Pause, PermissionKind
from registry.rest import LookViewSet, ObjectSerializer, ObjectViewSet, shows


class PermissionKindSerializer(serializers.ModelSerializer[PermissionKind]):
    """A kind of permission of the vocabulary."""

    class Meta:
        model = PermissionKind
        fields = ("id", "code", "name", "satisfied_by", "is_always_asked", "source")


class PermissionKindViewSet(LookViewSet[PermissionKind]):
    """Kinds of permission that work may need; reference data."""

    queryset = PermissionKind.objects.all()
    serializer_class = PermissionKindSerializer
    filterset_fields: ClassVar[list[str]] = ["code", "satisfied_by", "is_always_asked"]


class LimitSerializer(serializers.ModelSerializer[Limit]):
    """A line of the limits."""

    class Meta:
        model = Limit
        fields = (
            "id",
            "taxon",
            "life_stage",
            "procedure",
            "max_animals",
            "max_contacts_each",
            "max_severity",
            "is_dropped",
        )


class ConditionSerializer(serializers.ModelSerializer[Condition]):
    """A condition, how it stands, and its evidence."""

    standing = serializers.CharField(read_only=True)

    class Meta:
        model = Condition
        fields = ("id", "text", "due_on", "standing", "evidence", "met_on", "met_by")


class PauseSerializer(serializers.ModelSerializer[Pause]):
    """A suspension."""

    class Meta:
        model = Pause
        fields = ("began_on", "recorded_at", "ended_on", "end_recorded_at")


@shows
class ApprovalSerializer(ObjectSerializer[Approval]):
    """An approval as the API shows it, with its limits, conditions and suspensions."""

    limits = LimitSerializer(many=True, read_only=True)
    conditions = ConditionSerializer(many=True, read_only=True)
    pauses = PauseSerializer(many=True, read_only=True)
    is_expired = serializers.BooleanField(read_only=True)

    class Meta:
        model = Approval
        fields = (
            "id",
            "permission",
            "body",
            "projects",
            "title",
            "reference",
            "case",
            "harms",
            "benefits",
            "starts_on",
            "ends_on",
            "weekdays",
            "max_severity",
            "places",
            "people",
            "reuse_consent",
            "reuse_animals",
            "amends",
            "asked_by",
            "asked_at",
            "decided_by",
            "decided_at",
            "deciders",
            "decision",
            "superseded_on",
            "ended_on",
            "is_expired",
            "limits",
            "conditions",
            "pauses",
            "state",
        )


class ApprovalViewSet(ObjectViewSet[Approval]):
    """Approvals: sets of limits that a body decides on."""

    queryset = Approval.objects.prefetch_related(
        "projects",
        "places",
        "people",
        "reuse_animals",
        "deciders",
        "conditions",
        "pauses",
        Prefetch("limits", Limit.objects.select_related("taxon", "procedure")),
    )
    serializer_class = ApprovalSerializer
    deeds = DEEDS
    filterset_fields: ClassVar[list[str]] = ["state", "body", "permission", "projects", "amends"]
    ordering_fields: ClassVar[list[str]] = ["asked_at", "decided_at", "ends_on"]


OFFERED: dict[str, Any] = {
    "approvals": ApprovalViewSet,
    "permission-kinds": PermissionKindViewSet,
}
