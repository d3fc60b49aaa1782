"""Approvals as sets of limits, and the permissions that a project needs."""

from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Enclosure, LifeStage, Taxon
from registry.approvals.lifecycle import APPROVAL
from registry.lifecycle import Lifecycle
from registry.people.models import Body
from registry.projects.models import Procedure, Project, Severity


class PermissionKind(models.Model):
    """A kind of permission that work may need; reference data."""

    kind: ClassVar[str] = "permission_kind"

    class SatisfiedBy(models.TextChoices):
        """What satisfies it."""

        APPROVAL = "approval", "an approval of a body"
        AGREEMENT = "agreement", "a data agreement signed by each student"
        INDUCTION = "induction", "a live induction of each student"

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    satisfied_by = models.CharField(max_length=20, choices=SatisfiedBy)
    is_always_asked = models.BooleanField(
        default=False, help_text="Each project must say whether it needs it."
    )
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return self.name


class Need(models.Model):
    """That a project needs a permission, or the reason why it does not, with who said so."""

    kind: ClassVar[str] = "need"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="needs")
    permission = models.ForeignKey(PermissionKind, on_delete=models.PROTECT, related_name="needs")
    is_needed = models.BooleanField()
    reason = models.TextField(blank=True)
    said_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="needs_said"
    )
    said_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["permission__pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["project", "permission"], name="one_need_of_a_kind")
        ]

    def __str__(self) -> str:
        return f"{self.permission}: {'needed' if self.is_needed else 'not needed'}"


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


class ApprovalQuerySet(models.QuerySet["Approval"]):
    """Reads of approvals."""

    def awaiting_decision(self) -> "ApprovalQuerySet":
        """Approvals that a body has yet to decide."""
        return self.filter(state="submitted")

    def in_hand(self) -> "ApprovalQuerySet":
        """Approvals that were granted, and neither ended nor replaced nor run out by today."""
        today = timezone.localdate()
        return self.filter(state__in=["approved", "suspended"], ends_on__gte=today).exclude(
            superseded_on__lte=today
        )

    def expiring_by(self, day: date) -> "ApprovalQuerySet":
        """Approvals in hand whose last day is this one or an earlier one."""
        return self.in_hand().filter(ends_on__lte=day)


class Approval(models.Model):
    """A permission of a body, as a set of limits; it may cover several projects."""

    kind: ClassVar[str] = "approval"
    lifecycle: ClassVar[Lifecycle] = APPROVAL
    reach: ClassVar[dict[str, str]] = {"project": "projects", "body": "body"}
    searched: ClassVar[tuple[str, ...]] = ("reference", "case", "body__name")
    search_keys: ClassVar[tuple[str, ...]] = ("reference",)

    permission = models.ForeignKey(
        PermissionKind, on_delete=models.PROTECT, related_name="approvals"
    )
    body = models.ForeignKey(Body, on_delete=models.PROTECT, related_name="approvals")
    projects = models.ManyToManyField(Project, related_name="approvals")
    title = models.CharField(max_length=200)
    reference = models.CharField(
        max_length=60, blank=True, help_text="The body's own number, where it has one."
    )
    case = models.TextField("why it should be approved")
    harms = models.TextField("expected harms", blank=True)
    benefits = models.TextField("expected benefits", blank=True)
    starts_on = models.DateField()
    ends_on = models.DateField()
    weekdays = models.CharField(
        max_length=7, default="1234567", help_text="Days of the week, Monday is 1."
    )
    max_severity = models.PositiveSmallIntegerField(
        choices=Severity, default=Severity.SUB_THRESHOLD
    )
    places = models.ManyToManyField(Enclosure, related_name="approvals")
    people = models.ManyToManyField(
        settings.AUTH_USER_MODEL,
        related_name="approvals_naming",
        blank=True,
        help_text="Named people only; leave empty for the project's members.",
    )
    amends = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="amendments"
    )
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="approvals_asked"
    )
    asked_at = models.DateTimeField(default=timezone.now)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="approvals_decided",
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    deciders = models.ManyToManyField(
        settings.AUTH_USER_MODEL, related_name="approvals_voted", blank=True
    )
    decision = models.TextField(blank=True)
    superseded_on = models.DateField(
        null=True, blank=True, help_text="The first day of the amendment that replaced it."
    )
    superseded_recorded_at = models.DateTimeField(null=True, blank=True)
    ended_on = models.DateField(
        null=True, blank=True, help_text="The day on which it was withdrawn or closed."
    )
    ended_recorded_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=APPROVAL.choices, default=APPROVAL.first)

    objects = ApprovalQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-asked_at", "-pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(ends_on__gte=models.F("starts_on")), name="approval_ends_after_start"
            )
        ]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Give the address of the approval's page."""
        return f"/studies/approvals/{self.pk}/"

    @property
    def is_expired(self) -> bool:
        """Whether its last day has passed; computed, never stored."""
        return self.state in {"approved", "suspended"} and self.ends_on < timezone.localdate()


TEXTS = (
    "title",
    "reference",
    "case",
    "harms",
    "benefits",
    "starts_on",
    "ends_on",
    "weekdays",
    "max_severity",
)
"""The fields of an approval that are written, places and people left out."""


def chosen(approval: Approval) -> dict[str, Any]:
    """Give what an approval's own columns do not hold, for the ledger."""
    return {
        "projects": list(approval.projects.order_by("pk").values_list("pk", flat=True)),
        "places": list(approval.places.order_by("pk").values_list("code", flat=True)),
        "people": list(approval.people.order_by("pk").values_list("pk", flat=True)),
    }


class Limit(models.Model):
    """One line of an approval: of this taxon and stage, by this procedure, so many and no more."""

    kind: ClassVar[str] = "limit"
    reach: ClassVar[dict[str, str]] = {"project": "approval__projects"}

    approval = models.ForeignKey(Approval, on_delete=models.PROTECT, related_name="limits")
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="limits")
    life_stage = models.CharField(
        max_length=20, choices=LifeStage, blank=True, help_text="Leave empty for any stage."
    )
    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="limits")
    max_animals = models.PositiveIntegerField("animals at most")
    max_contacts_each = models.PositiveIntegerField(
        "times each at most", null=True, blank=True, help_text="Leave empty for no limit."
    )
    is_dropped = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"{self.max_animals} {self.taxon}, {self.procedure}"


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
