"""What follows a request: comments, points to change, conditions, suspensions."""

from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from registry.approvals.models.approvals import Approval


class Comment(models.Model):
    """What someone says of a request; it decides nothing and is never edited."""

    kind: ClassVar[str] = "comment"
    reach: ClassVar[dict[str, str]] = {"project": "approval__projects", "body": "approval__body"}

    approval = models.ForeignKey(Approval, on_delete=models.PROTECT, related_name="comments")
    text = models.TextField()
    said_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="comments"
    )
    said_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"comment on {self.approval}"


class Change(models.Model):
    """One point that the body wants changed, and what the applicant answers to it."""

    kind: ClassVar[str] = "change"
    reach: ClassVar[dict[str, str]] = {"project": "approval__projects", "body": "approval__body"}

    approval = models.ForeignKey(Approval, on_delete=models.PROTECT, related_name="changes")
    text = models.TextField()
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="changes_asked"
    )
    asked_at = models.DateTimeField(default=timezone.now)
    answer = models.TextField(blank=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="changes_answered",
    )
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return self.text


class Item(models.Model):
    """What the applicant writes to an item of a published list that the plan does not answer."""

    kind: ClassVar[str] = "item"
    reach: ClassVar[dict[str, str]] = {"project": "approval__projects"}

    approval = models.ForeignKey(Approval, on_delete=models.PROTECT, related_name="items")
    code = models.CharField(max_length=20, help_text="As the lists name it: PREPARE 1.")
    text = models.TextField()
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="items_written"
    )
    written_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["approval", "code"], name="item_written_once")
        ]

    def __str__(self) -> str:
        return self.code


class ConditionQuerySet(models.QuerySet["Condition"]):
    """Reads of conditions."""

    def unmet(self) -> "ConditionQuerySet":
        """Conditions without evidence, of approvals that are in hand."""
        return self.filter(met_on=None, approval__in=Approval.objects.in_hand())

    def overdue_on(self, day: date) -> "ConditionQuerySet":
        """Unmet conditions whose evidence was due before this day."""
        return self.unmet().filter(due_on__lt=day)


class Condition(models.Model):
    """A condition that the body set, with the day by which its evidence is due."""

    kind: ClassVar[str] = "condition"
    reach: ClassVar[dict[str, str]] = {"project": "approval__projects"}

    approval = models.ForeignKey(Approval, on_delete=models.PROTECT, related_name="conditions")
    text = models.TextField()
    due_on = models.DateField(null=True, blank=True)
    evidence = models.TextField(blank=True)
    met_on = models.DateField(null=True, blank=True)
    met_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="conditions_met",
    )

    objects = ConditionQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return self.text

    def is_overdue_on(self, day: date) -> bool:
        """Say whether its evidence was missing on this day."""
        return self.due_on is not None and self.met_on is None and self.due_on < day

    @property
    def standing(self) -> str:
        """How it stands today, in a word."""
        if self.met_on is not None:
            return "met"
        return "overdue" if self.is_overdue_on(timezone.localdate()) else "due"


class Pause(models.Model):
    """A suspension: from when, until when, and when that was recorded."""

    kind: ClassVar[str] = "pause"

    approval = models.ForeignKey(Approval, on_delete=models.PROTECT, related_name="pauses")
    began_on = models.DateField(default=timezone.localdate)
    recorded_at = models.DateTimeField(default=timezone.now)
    ended_on = models.DateField(
        null=True, blank=True, help_text="The first day on which it was in force again."
    )
    end_recorded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["began_on", "pk"]

    def __str__(self) -> str:
        return f"suspension of {self.approval}"
