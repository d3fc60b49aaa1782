"""Audits, what they look at and their points, over the API."""

from typing import ClassVar

from rest_framework import serializers

from registry.oversight.forms.audits import AUDIT_DEEDS, OPEN, POINT_DEEDS, SAMPLED_DEEDS
from registry.oversight.models import Audit, Point, SampledUse
from registry.rest import ObjectSerializer, ObjectViewSet, shows


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
