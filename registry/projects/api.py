"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from rest_framework import serializers

from registry.permissions import Verb, allowed, may
from registry.projects.designed import standing
from registry.projects.forms import ALLOCATION_DEEDS, DEEDS, OPEN, STUDY_DEEDS
from registry.projects.models import (
    Agreement,
    Allocation,
    Arm,
    Member,
    Plan,
    Procedure,
    Project,
    Review,
    Study,
)
from registry.rest import LookViewSet, ObjectSerializer, ObjectViewSet, shows


class ProcedureSerializer(serializers.ModelSerializer[Procedure]):
    """A procedure of the vocabulary."""

    class Meta:
        model = Procedure
        fields = ("id", "code", "name", "is_contact", "severity", "caution", "source")


class ProcedureViewSet(LookViewSet[Procedure]):
    """What is done with animals; reference data."""

    queryset = Procedure.objects.all()
    serializer_class = ProcedureSerializer
    filterset_fields: ClassVar[list[str]] = ["code", "is_contact", "severity"]


@shows
class StudySerializer(ObjectSerializer[Study]):
    """A study as the API shows it."""

    class Meta:
        model = Study
        fields = (
            "id",
            "title",
            "aim",
            "taxon",
            "questions",
            "projects",
            "dictionaries",
            "opened_by",
            "opened_at",
        )


class StudyViewSet(ObjectViewSet[Study]):
    """Studies: long-lived lines of work."""

    queryset = Study.objects.prefetch_related("questions", "projects", "dictionaries")
    serializer_class = StudySerializer
    deeds = STUDY_DEEDS
    creates = OPEN
    filterset_fields: ClassVar[list[str]] = ["taxon", "questions"]
    ordering_fields: ClassVar[list[str]] = ["title", "opened_at"]


class MemberSerializer(serializers.ModelSerializer[Member]):
    """A person's part."""

    name = serializers.CharField(source="person.name", read_only=True)
    data_code = serializers.CharField(read_only=True)

    class Meta:
        model = Member
        fields = ("person", "name", "data_code", "part", "began_on", "ended_on")


class ArmSerializer(serializers.ModelSerializer[Arm]):
    """A treatment or group of a plan."""

    class Meta:
        model = Arm
        fields = ("id", "name", "taxon", "units", "animals", "is_dropped")


class PlanSerializer(serializers.ModelSerializer[Plan]):
    """A plan, with its treatments."""

    arms = ArmSerializer(many=True, read_only=True)
    design = serializers.SerializerMethodField()
    drawn = serializers.PrimaryKeyRelatedField[Allocation](read_only=True)

    def get_design(self, plan: Plan) -> dict[str, Any]:
        """Give the sums that stand in the plan, by their part, with all that they were given."""
        return {
            part: {"said": one.said, "given": one.given, "told": one.told}
            for part, one in standing(plan).items()
        }

    class Meta:
        model = Plan
        exclude = ("id", "project")


class ReviewSerializer(serializers.ModelSerializer[Review]):
    """A design review."""

    class Meta:
        model = Review
        fields = ("reviewer", "is_accepted", "remarks", "written_at")


class AgreementSerializer(serializers.ModelSerializer[Agreement]):
    """A data agreement."""

    class Meta:
        model = Agreement
        fields = ("person", "terms", "embargo_months", "signed_name", "signed_at")


@shows
class ProjectSerializer(ObjectSerializer[Project]):
    """A project as the API shows it; its plan and reviews to those who may read them."""

    members = MemberSerializer(many=True, read_only=True)
    plan = serializers.SerializerMethodField()
    reviews = serializers.SerializerMethodField()
    needs = serializers.SerializerMethodField()
    agreements = AgreementSerializer(many=True, read_only=True)

    class Meta:
        model = Project
        fields = (
            "id",
            "study",
            "cohort",
            "level",
            "starts_on",
            "ends_on",
            "keeper_hours_week",
            "extends",
            "opened_by",
            "opened_at",
            "members",
            "plan",
            "reviews",
            "agreements",
            "needs",
            "approvals",
            "state",
        )

    def get_needs(self, project: Project) -> list[dict[str, Any]]:
        """Give what was said of each permission, which stands in a higher slice."""
        return [
            {
                "permission": one.permission.code,
                "is_needed": one.is_needed,
                "reason": one.reason,
                "said_by": one.said_by_id,
                "said_at": one.said_at,
            }
            for one in project.needs.all()
        ]

    def _may_read_plan(self, project: Project) -> bool:
        marked: bool | None = getattr(project, "may_see_plan", None)
        request = self.context.get("request")
        if marked is not None or request is None:
            return bool(marked)
        return may(request.user, Verb.PROJECT_SEE_PLAN, project)

    def get_plan(self, project: Project) -> dict[str, Any] | None:
        """Give the plan, or null to those who may not read it."""
        if not self._may_read_plan(project):
            return None
        told: dict[str, Any] = PlanSerializer(project.plan, context=self.context).data
        return told

    def get_reviews(self, project: Project) -> list[Any]:
        """Give the design reviews to those who may read the plan."""
        if not self._may_read_plan(project):
            return []
        return list(ReviewSerializer(project.reviews.all(), many=True, context=self.context).data)


class ProjectViewSet(ObjectViewSet[Project]):
    """Projects: one cohort's piece of work each."""

    queryset = Project.objects.select_related("plan__drawn").prefetch_related(
        Prefetch("members", Member.objects.with_codes().select_related("person")),
        "plan__arms",
        "plan__procedures",
        "plan__places",
        "plan__keyholders",
        "plan__design_parts",
        "reviews",
        "agreements",
        "needs__permission",
        "approvals",
    )
    serializer_class = ProjectSerializer
    deeds = DEEDS
    filterset_fields: ClassVar[list[str]] = ["study", "state", "level", "cohort"]
    ordering_fields: ClassVar[list[str]] = ["starts_on", "ends_on", "opened_at"]

    def get_queryset(self) -> QuerySet[Project]:
        """Mark whose plan this person may read, in the same query."""
        found = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return found
        person: Any = self.request.user
        readable = allowed(Project.objects.all(), person, Verb.PROJECT_SEE_PLAN)
        return found.annotate(may_see_plan=Exists(readable.filter(pk=OuterRef("pk"))))


@shows
class AllocationSerializer(ObjectSerializer[Allocation]):
    """A sealed allocation: who gets what stands there for those who may read the key."""

    units = serializers.SerializerMethodField()
    key = serializers.SerializerMethodField()
    seed = serializers.SerializerMethodField()

    class Meta:
        model = Allocation
        fields = (
            "id",
            "plan",
            "method",
            "notes",
            "units",
            "key",
            "seed",
            "commitment",
            "digest",
            "drawn_at",
            "revealed_at",
            "revealed_by",
            "state",
        )

    def get_units(self, kept: Allocation) -> dict[str, str]:
        """Give each unit's code."""
        return dict(kept.codes)

    def get_key(self, kept: Allocation) -> list[dict[str, Any]] | None:
        """Give who gets what, or null to those who may not read it."""
        if not getattr(kept, "may_see_key", False):
            return None
        return [
            {"unit": unit, "arm": arm, "block": block, "sequence": sequence}
            for unit, arm, block, sequence in kept.places
        ]

    def get_seed(self, kept: Allocation) -> str | None:
        """Give the seed once it is revealed."""
        return kept.seed if kept.state == "revealed" else None


class AllocationViewSet(ObjectViewSet[Allocation]):
    """Allocations that were sealed when their plans were accepted."""

    queryset = Allocation.objects.all()
    serializer_class = AllocationSerializer
    deeds = ALLOCATION_DEEDS
    filterset_fields: ClassVar[list[str]] = ["plan", "state"]
    ordering_fields: ClassVar[list[str]] = ["drawn_at"]


OFFERED: dict[str, Any] = {
    "studies": StudyViewSet,
    "projects": ProjectViewSet,
    "procedures": ProcedureViewSet,
    "allocations": AllocationViewSet,
}
