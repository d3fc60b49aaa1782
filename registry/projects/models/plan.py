"""The plan of a project: how it is to be done, its treatments, and what its reviewers said."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Enclosure, Taxon
from registry.projects.models.work import Procedure, Project, Severity


class SamplingRule(models.TextChoices):
    """Which subjects are watched, and when (Altmann 1974; Martin and Bateson)."""

    FOCAL = "focal", "focal animal"
    SCAN = "scan", "scan"
    BEHAVIOUR = "behaviour", "all occurrences of a behaviour"
    AD_LIBITUM = "ad_libitum", "ad libitum"
    MEASURED = "measured", "measured, not watched"


class RecordingRule(models.TextChoices):
    """How what is seen is written down (Altmann 1974; Martin and Bateson)."""

    CONTINUOUS = "continuous", "continuous"
    INSTANTANEOUS = "instantaneous", "instantaneous"
    ONE_ZERO = "one_zero", "one-zero"
    NOT_BEHAVIOUR = "not_behaviour", "not behaviour"


class Plan(models.Model):
    """How the project is to be done; members write it, a supervisor who is not one reviews it."""

    kind: ClassVar[str] = "plan"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.OneToOneField(Project, on_delete=models.PROTECT, related_name="plan")
    hypothesis = models.TextField(blank=True)
    experimental_unit = models.CharField(
        max_length=120,
        blank=True,
        help_text="What a treatment is given to, by itself: an animal, a tank, an egg string.",
    )
    unit_reason = models.TextField(
        "why this is the unit",
        blank=True,
        help_text="Allocated by itself, treated by itself, and not swayed by its neighbours.",
    )
    is_randomised_alone = models.BooleanField(
        "is each one randomised by a draw of its own?", null=True, blank=True
    )
    is_treated_alone = models.BooleanField(
        "is each one treated independently of the others?", null=True, blank=True
    )
    is_uninfluenced = models.BooleanField(
        "does none of them influence another?", null=True, blank=True
    )
    subjects = models.TextField(
        "the animals", blank=True, help_text="Species, sex, age or stage, and origin."
    )
    exclusions = models.TextField(
        "rules of exclusion",
        blank=True,
        help_text="Fixed beforehand: which units, animals or values are left out, and when.",
    )
    outcome = models.CharField(max_length=200, blank=True)
    outcome_unit = models.CharField("unit of the outcome", max_length=40, blank=True)
    ethogram = models.CharField(
        "version of the ethogram or dictionary",
        max_length=200,
        blank=True,
        help_text="Which one says what is meant by the outcome.",
    )
    sampling_rule = models.CharField(max_length=20, choices=SamplingRule, blank=True)
    recording_rule = models.CharField(max_length=20, choices=RecordingRule, blank=True)
    allocation = models.TextField("allocation to treatments", blank=True)
    blinding = models.TextField(blank=True)
    number_reason = models.TextField("why this many", blank=True)
    analysis = models.TextField(blank=True)
    schedule = models.TextField(blank=True)
    data_plan = models.TextField(blank=True)
    humane_end_points = models.TextField(
        "humane end-points", blank=True, help_text="When an animal is taken out, and by whom."
    )
    stopping_rule = models.TextField("when the study stops", blank=True)
    three_rs = models.TextField("replacement, reduction, refinement", blank=True)
    max_severity = models.PositiveSmallIntegerField(
        "highest severity expected", choices=Severity, default=Severity.SUB_THRESHOLD
    )
    is_quarantine_study = models.BooleanField(
        "a study of quarantine itself",
        default=False,
        help_text="Only such a study may work with animals in quarantine.",
    )
    procedures = models.ManyToManyField(Procedure, related_name="plans", blank=True)
    places = models.ManyToManyField(Enclosure, related_name="plans", blank=True)
    keyholders = models.ManyToManyField(
        settings.AUTH_USER_MODEL, related_name="keys_held", blank=True
    )

    def __str__(self) -> str:
        return f"plan of {self.project}"


PLAN_TEXTS: tuple[str, ...] = tuple(
    field.name for field in Plan._meta.concrete_fields if field.name not in {"id", "project"}
)
"""The fields of a plan that are written, procedures, places and keyholders left out."""


def chosen(plan: Plan) -> dict[str, Any]:
    """Give what a plan's own columns do not hold, for the ledger."""
    return {
        "procedures": list(plan.procedures.values_list("code", flat=True)),
        "places": list(plan.places.values_list("code", flat=True)),
        "keyholders": sorted(plan.keyholders.values_list("pk", flat=True)),
    }


class Arm(models.Model):
    """One treatment or group of the plan, with its numbers of units and animals."""

    kind: ClassVar[str] = "arm"
    reach: ClassVar[dict[str, str]] = {"project": "plan__project"}

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="arms")
    name = models.CharField(max_length=80)
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="arms")
    units = models.PositiveIntegerField("experimental units")
    animals = models.PositiveIntegerField("animals or eggs")
    is_dropped = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["plan", "name"], condition=Q(is_dropped=False), name="one_arm_of_a_name"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Review(models.Model):
    """A design review of a plan by a supervisor who is not a member."""

    kind: ClassVar[str] = "review"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="reviews")
    reviewer = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reviews"
    )
    is_accepted = models.BooleanField()
    remarks = models.TextField(blank=True)
    written_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["-written_at"]

    def __str__(self) -> str:
        return f"review of {self.project}"
