"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from django.db.models import Prefetch, prefetch_related_objects
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.approvals.brief import WAITING_READS, compared, stage_rows, waiting_of
from registry.approvals.checklists import READ_FOR_ITEMS, blank_items
from registry.approvals.forms import DEEDS
from registry.approvals.models import (
    Approval,
    Change,
    Comment,
    Condition,
    Item,
    Limit,
    Pause,
    PermissionKind,
    Screening,
)
from registry.approvals.screens import screenings_of
from registry.approvals.staging import stages_of
from registry.approvals.weighing import approval_cautions
from registry.rest import (
    LOOK_REFUSED,
    LookViewSet,
    ObjectSerializer,
    ObjectViewSet,
    RefusalSerializer,
    shows,
)


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


class CommentSerializer(serializers.ModelSerializer[Comment]):
    """What someone said of it."""

    class Meta:
        model = Comment
        fields = ("text", "said_by", "said_at")


class ChangeSerializer(serializers.ModelSerializer[Change]):
    """A point that the body wants changed, with the applicant's answer."""

    class Meta:
        model = Change
        fields = ("id", "text", "asked_by", "asked_at", "answer", "answered_by", "answered_at")


class ItemSerializer(serializers.ModelSerializer[Item]):
    """What was written to an item of the lists."""

    class Meta:
        model = Item
        fields = ("code", "text", "written_by", "written_at")


@shows
class ApprovalSerializer(ObjectSerializer[Approval]):
    """An approval as the API shows it, with its limits, conditions and suspensions."""

    limits = LimitSerializer(many=True, read_only=True)
    conditions = ConditionSerializer(many=True, read_only=True)
    pauses = PauseSerializer(many=True, read_only=True)
    comments = CommentSerializer(many=True, read_only=True)
    changes = ChangeSerializer(many=True, read_only=True)
    items = ItemSerializer(many=True, read_only=True)
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
            "harm_category",
            "harms",
            "benefit_category",
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
            "submitted_at",
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
            "comments",
            "changes",
            "items",
            "state",
        )


class StageRowSerializer(serializers.Serializer[Any]):
    """Animals that stand alike: their stage now, and from which day of the project protected."""

    project = serializers.IntegerField(source="project.pk")
    names = serializers.CharField()
    taxon = serializers.CharField()
    stage = serializers.CharField()
    state = serializers.CharField(source="word")
    protected_from = serializers.DateField(source="from_on", allow_null=True)
    is_throughout = serializers.BooleanField()
    is_certain = serializers.BooleanField()
    why = serializers.CharField()
    rule_version = serializers.CharField(source="version")
    is_booked = serializers.BooleanField()


class ScreeningSerializer(serializers.ModelSerializer[Screening]):
    """A screening with its facts, what the rules said, and who decided what."""

    class Meta:
        model = Screening
        fields = (
            *("id", "project", "procedure", "taxon", "life_stage", "facts", "rule_version"),
            *("is_protected", "said", "why", "answer", "reason", "screened_by", "screened_at"),
        )


class ScreeningStandSerializer(serializers.Serializer[Any]):
    """The newest screening of a procedure, taxon and stage, and what has changed since."""

    screening = ScreeningSerializer()
    changed = serializers.ListField(child=serializers.CharField())


class ComparedSerializer(serializers.Serializer[Any]):
    """One thing that an amendment changes."""

    what = serializers.CharField()
    now = serializers.CharField()
    asked = serializers.CharField()


class CautionSerializer(serializers.Serializer[Any]):
    """A caution, with its source."""

    word = serializers.CharField()
    said = serializers.CharField()
    by_source = serializers.CharField(source="source")


class WaitingSerializer(serializers.Serializer[Any]):
    """When it can be decided, and whose course is over before."""

    meets_on = serializers.DateField(source="meeting.held_on", default=None)
    papers_by = serializers.DateField(source="meeting.papers_by", default=None)
    too_late_for = serializers.ListField(child=serializers.ListField())


class BriefSerializer(serializers.Serializer[Any]):
    """What a decider needs of a request beside its own terms."""

    animals = StageRowSerializer(many=True)
    screenings = ScreeningStandSerializer(many=True)
    not_screened = serializers.ListField(child=serializers.CharField())
    amends = ComparedSerializer(many=True)
    blank = serializers.ListField(child=serializers.CharField())
    cautions = CautionSerializer(many=True)
    waiting = WaitingSerializer(allow_null=True)


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
        "comments",
        "changes",
        "items",
        Prefetch("limits", Limit.objects.select_related("taxon", "procedure")),
    )
    serializer_class = ApprovalSerializer
    deeds = DEEDS
    filterset_fields: ClassVar[list[str]] = ["state", "body", "permission", "projects", "amends"]
    ordering_fields: ClassVar[list[str]] = ["asked_at", "decided_at", "ends_on"]

    @extend_schema(
        responses={200: BriefSerializer, **dict.fromkeys(LOOK_REFUSED, RefusalSerializer)},
        filters=False,
    )
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def brief(self, request: Request, pk: str | None = None) -> Response:
        """Give what a decider needs beside the terms: animals, screenings, blanks, the calendar."""
        approval = self.get_object()
        rows = approval.projects.select_related("study", "plan").prefetch_related(*READ_FOR_ITEMS)
        projects = list(rows.order_by("pk"))
        prefetch_related_objects([approval], *WAITING_READS)
        stages = stages_of(projects, is_planned=True)
        found = screenings_of(projects, stages)
        told = {
            "animals": stage_rows(projects, stages),
            "screenings": found.standing,
            "not_screened": [str(one) for one in found.missing],
            "amends": compared(approval),
            "blank": [f"{one.code}: {one.title}" for one in blank_items(approval, projects)],
            "cautions": approval_cautions(approval, projects),
            "waiting": waiting_of(approval),
        }
        return Response(BriefSerializer(told).data)


OFFERED: dict[str, Any] = {
    "approvals": ApprovalViewSet,
    "permission-kinds": PermissionKindViewSet,
}
