"""Animals that one institution owns and another keeps: loans in and out, for breeding or show."""

from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.lifecycle import LOAN
from registry.animals.models.living import OfOne
from registry.lifecycle import Lifecycle
from registry.people.models import Institution

_PERSON = settings.AUTH_USER_MODEL


class LoanQuerySet(models.QuerySet["Loan"]):
    """Reads of loans."""

    def on_day(self, day: Any) -> "LoanQuerySet":
        """Loans that hold at the end of this day, whichever day they were recorded."""
        return self.filter(began_on__lte=day).filter(Q(ended_on=None) | Q(ended_on__gt=day))


class Loan(OfOne):
    """An animal or a group that its owner leaves with another; who keeps it does not own it."""

    kind: ClassVar[str] = "loan"
    lifecycle: ClassVar[Lifecycle] = LOAN

    class Direction(models.TextChoices):
        """Which way it went."""

        IN = "in", "lent to this collection"
        OUT = "out", "lent by this collection"

    class Outcome(models.TextChoices):
        """How a loan ended."""

        RETURNED = "returned", "went back to its owner"
        MADE_OVER = "made_over", "made over to who kept it"
        DIED = "died", "died"

    direction = models.CharField(max_length=10, choices=Direction)
    institution = models.ForeignKey(
        Institution,
        on_delete=models.PROTECT,
        related_name="loans",
        help_text="The owner of what is lent to this collection, the holder of what it lends.",
    )
    began_on = models.DateField()
    expected_end_on = models.DateField(null=True, blank=True)
    terms = models.TextField(help_text="What was agreed, also of young that are born meanwhile.")
    recorded_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="loans_recorded"
    )
    recorded_at = models.DateTimeField(default=timezone.now)
    ended_on = models.DateField(null=True, blank=True)
    outcome = models.CharField(max_length=20, choices=Outcome, blank=True)
    end_note = models.TextField(blank=True)
    ended_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="loans_ended"
    )
    end_recorded_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=LOAN.choices, default=LOAN.first)

    objects = LoanQuerySet.as_manager()

    class Meta(OfOne.Meta):
        default_related_name = "loans"
        ordering: ClassVar[list[str]] = ["-began_on", "-pk"]
        constraints: ClassVar[list[Any]] = [
            *OfOne.Meta.constraints,
            *(
                models.UniqueConstraint(
                    fields=[name, "direction"],
                    condition=Q(state="lent") & Q(**{f"{name}__isnull": False}),
                    name=f"{name}_in_one_loan_a_way",
                )
                for name in ("animal", "group")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.subject}, {self.get_direction_display()}"

    @property
    def owner(self) -> Institution | None:
        """Who owns it; None is this collection."""
        return self.institution if self.direction == self.Direction.IN else None

    @property
    def holder(self) -> Institution | None:
        """Who keeps it; None is this collection."""
        return self.institution if self.direction == self.Direction.OUT else None

    @property
    def tone(self) -> str:
        """The tone of its state's word: under way, or over."""
        return "part" if self.state == "lent" else "past"

    def is_overdue_on(self, day: date) -> bool:
        """Say whether it was to be over by this day, and is not."""
        return bool(self.state == "lent" and self.expected_end_on and self.expected_end_on < day)

    def get_absolute_url(self) -> str:
        """Give the address of the loan's page."""
        return f"/animals/loans/{self.pk}/"
