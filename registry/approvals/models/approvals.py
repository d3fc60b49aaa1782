"""Approvals as sets of limits that a body decides on."""

from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, LifeStage, Taxon
from registry.approvals.lifecycle import APPROVAL
from registry.approvals.models.needs import PermissionKind
from registry.lifecycle import Lifecycle
from registry.people.models import Body
from registry.projects.models import Procedure, Project, Severity


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

    class Harm(models.TextChoices):
        """The worst that an animal is likely to go through, as the applicant sees it."""

        NONE = "none", "none expected"
        SLIGHT = "slight", "slight, and soon over"
        MARKED = "marked", "marked, and it passes"
        LASTING = "lasting", "lasting, or grave"

    class Benefit(models.TextChoices):
        """To whom it is a benefit above all; no kind stands above another."""

        ANIMALS = "animals", "to these animals, and how they are kept"
        KIND = "kind", "to their kind, and its conservation"
        KNOWLEDGE = "knowledge", "to what is known"
        TEACHING = "teaching", "to teaching"

    class Consent(models.TextChoices):
        """How far it consents to using animals again that went through a procedure before."""

        NONE = "none", "not at all"
        KIND = "kind", "animals of the kinds in its limits"
        NAMED = "named", "the animals that it names, and no other"

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
    harm_category = models.CharField("kind of harm", max_length=10, choices=Harm, blank=True)
    harms = models.TextField("expected harms", blank=True)
    benefit_category = models.CharField(
        "kind of benefit", max_length=10, choices=Benefit, blank=True
    )
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
    reuse_consent = models.CharField(
        "using animals again", max_length=10, choices=Consent, default=Consent.NONE
    )
    reuse_animals = models.ManyToManyField(
        Animal, related_name="consents", blank=True, help_text="The animals that it names."
    )
    amends = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="amendments"
    )
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="approvals_asked"
    )
    asked_at = models.DateTimeField(default=timezone.now)
    submitted_at = models.DateTimeField(null=True, blank=True)
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
    "harm_category",
    "harms",
    "benefit_category",
    "benefits",
    "starts_on",
    "ends_on",
    "weekdays",
    "max_severity",
    "reuse_consent",
)
"""The fields of an approval that are written, places and people left out."""


def chosen(approval: Approval) -> dict[str, Any]:
    """Give what an approval's own columns do not hold, for the ledger."""
    return {
        "projects": list(approval.projects.order_by("pk").values_list("pk", flat=True)),
        "places": list(approval.places.order_by("pk").values_list("code", flat=True)),
        "people": list(approval.people.order_by("pk").values_list("pk", flat=True)),
        "reuse_animals": list(approval.reuse_animals.order_by("pk").values_list("pk", flat=True)),
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
    max_severity = models.PositiveSmallIntegerField(
        "severity at most",
        choices=Severity,
        null=True,
        blank=True,
        help_text="Of this procedure; leave empty for the approval's own.",
    )
    is_dropped = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"{self.max_animals} {self.taxon}, {self.procedure}"

    @property
    def severity_at_most(self) -> Severity:
        """The prospective class of this line: its own, or else the approval's."""
        most = self.approval.max_severity if self.max_severity is None else self.max_severity
        return Severity(most)
