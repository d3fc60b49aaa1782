"""The design of a plan: its sums as they were reckoned, the drawn allocation, its versions."""

import json
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.lifecycle import Lifecycle
from registry.projects.lifecycle import ALLOCATION
from registry.projects.models.plan import Plan


class DesignPart(models.Model):
    """One sum that a plan rests on, with all that it was given, so that it can be made again."""

    kind: ClassVar[str] = "design_part"
    reach: ClassVar[dict[str, str]] = {"project": "plan__project"}

    class Part(models.TextChoices):
        """What was reckoned."""

        SIZE = "size", "replication"
        SIMULATION = "simulation", "simulation"
        ALLOCATION = "allocation", "allocation"
        SCHEDULE = "schedule", "schedule"

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="design_parts")
    part = models.CharField(max_length=20, choices=Part)
    given = models.JSONField()
    told = models.JSONField()
    said = models.TextField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="design_parts"
    )
    taken_at = models.DateTimeField(default=timezone.now)
    is_dropped = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["plan", "part"],
                condition=Q(is_dropped=False),
                name="one_standing_part_of_a_design",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_part_display()} of {self.plan}"


class Allocation(models.Model):
    """Who gets what: drawn and sealed when the plan is accepted, read by the keyholders alone.

    The digest of the seed is shown from then on; seed and key are shown when it is revealed.
    """

    kind: ClassVar[str] = "allocation"
    lifecycle: ClassVar[Lifecycle] = ALLOCATION
    reach: ClassVar[dict[str, str]] = {
        "project": "plan__project",
        "body": "plan__project__approvals__body",
        "keyholder": "plan__keyholders",
    }

    plan = models.OneToOneField(Plan, on_delete=models.PROTECT, related_name="drawn")
    drawn_from = models.OneToOneField(
        DesignPart, on_delete=models.PROTECT, related_name="allocation"
    )
    seed = models.CharField(max_length=64)
    commitment = models.CharField(max_length=64)
    digest = models.CharField(max_length=64)
    method = models.CharField(max_length=80)
    places = models.JSONField()
    codes = models.JSONField()
    notes = models.JSONField()
    drawn_at = models.DateTimeField(default=timezone.now)
    revealed_at = models.DateTimeField(null=True, blank=True)
    revealed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="allocations_revealed",
    )
    state = models.CharField(max_length=20, choices=ALLOCATION.choices, default=ALLOCATION.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-drawn_at", "-pk"]

    def __str__(self) -> str:
        return f"allocation of {self.plan.project}"

    def get_absolute_url(self) -> str:
        """Give the address of the allocation's page."""
        return f"/studies/allocations/{self.pk}/"


class PlanVersion(models.Model):
    """A plan as it stood when it was submitted; its words are never edited."""

    kind: ClassVar[str] = "plan_version"
    reach: ClassVar[dict[str, str]] = {"project": "plan__project"}

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    text = models.TextField(help_text="All that the plan said, as one line of JSON.")
    digest = models.CharField(max_length=64)
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="plan_versions"
    )
    written_at = models.DateTimeField(default=timezone.now)
    is_accepted = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["number"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["plan", "number"], name="one_plan_of_a_version")
        ]

    def __str__(self) -> str:
        return f"version {self.number} of the {self.plan}"

    @property
    def content(self) -> dict[str, Any]:
        """What it said, by field."""
        found: dict[str, Any] = json.loads(self.text)
        return found
