"""What named persons decide beside the rules: screenings, stages of animals, use again."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Animal, EggCase, Group, LifeStage, Taxon, one_of
from registry.projects.models import Procedure, Project


class Screening(models.Model):
    """What the rules said of a procedure on a kind of animal, and what a named person decided.

    Each is a row of its own and none is changed: the newest of a procedure, taxon and stage holds.
    """

    kind: ClassVar[str] = "screening"
    reach: ClassVar[dict[str, str]] = {"project": "project", "body": "project__approvals__body"}

    class Answer(models.TextChoices):
        """Whether the law on animals used in science asks for a licence."""

        NOT_REGULATED = "not regulated", "not regulated"
        REFER = "refer", "refer"
        REGULATED = "regulated", "regulated"

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="screenings")
    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="screenings")
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="screenings")
    life_stage = models.CharField(max_length=20, choices=LifeStage)
    facts = models.TextField(help_text="What it went by, as it was then: canonical JSON.")
    rule_version = models.CharField(max_length=40)
    is_protected = models.BooleanField()
    said = models.CharField("the rules say", max_length=20, choices=Answer)
    why = models.TextField()
    answer = models.CharField("decided", max_length=20, choices=Answer)
    reason = models.TextField(blank=True)
    screened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="screenings"
    )
    screened_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"{self.procedure} of {self.taxon}, {self.get_life_stage_display()}"


class ReuseDecision(models.Model):
    """What a veterinary surgeon says of using an animal again in a project; the newest holds."""

    kind: ClassVar[str] = "reuse_decision"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="reuse_decisions")
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="reuse_decisions"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="reuse_decisions"
    )
    is_continued = models.BooleanField(
        default=False, help_text="It is needed because of its earlier steps, in one procedure."
    )
    has_recovered = models.BooleanField(
        default=False, help_text="Advised by who knows its lifetime experience."
    )
    was_examined = models.BooleanField(default=False, help_text="This very animal was examined.")
    reason = models.TextField()
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reuse_decisions"
    )
    decided_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=one_of("animal", "group"), name="reuse_of_one")
        ]

    def __str__(self) -> str:
        return f"use again of {self.subject}"

    @property
    def subject(self) -> Any:
        """The animal or the group."""
        return self.animal or self.group


class StageDecision(models.Model):
    """That an animal is protected from a day on, or is not until a day, whatever the rule says.

    Each is a row of its own and none is changed: of those that hold on a day, the newest counts.
    """

    kind: ClassVar[str] = "stage_decision"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="stage_decisions")
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="stage_decisions"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="stage_decisions"
    )
    case = models.ForeignKey(
        EggCase, on_delete=models.PROTECT, null=True, blank=True, related_name="stage_decisions"
    )
    is_protected = models.BooleanField()
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True, help_text="Its last day.")
    reason = models.TextField()
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="stage_decisions"
    )
    decided_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=one_of("animal", "group", "case"), name="stage_of_one"
            ),
            models.CheckConstraint(
                condition=Q(is_protected=True) | Q(until_on__isnull=False),
                name="unprotected_until_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"stage of {self.subject}"

    @property
    def subject(self) -> Any:
        """The animal, the group or the egg case."""
        return self.animal or self.group or self.case
