"""Breeding loans: an animal or a group that is lent to this collection, or by it."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models.living import Animal, Group
from registry.animals.models.words import one_of
from registry.people.models import Institution


class LoanQuerySet(models.QuerySet["Loan"]):
    """Reads of loans."""

    def in_force_on(self, day: Any) -> "LoanQuerySet":
        """Loans that ran on this day; the day on which one ends is no longer one of it."""
        return self.filter(began_on__lte=day).filter(Q(ended_on=None) | Q(ended_on__gt=day))


class Loan(models.Model):
    """An animal or a group that is lent, in either direction; one that is out has not departed."""

    kind: ClassVar[str] = "loan"

    class Sort(models.TextChoices):
        """Which way, and what for."""

        IN = "in", "here on breeding loan from"
        OUT = "out", "elsewhere on breeding loan to"

    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="loans"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="loans"
    )
    sort = models.CharField(max_length=20, choices=Sort)
    partner = models.ForeignKey(Institution, on_delete=models.PROTECT, related_name="loans")
    began_on = models.DateField()
    expected_end_on = models.DateField(null=True, blank=True)
    terms = models.TextField("terms, and who agreed them", blank=True)
    begun_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="loans_begun"
    )
    recorded_at = models.DateTimeField(default=timezone.now)
    ended_on = models.DateField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="loans_ended",
    )

    objects = LoanQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-began_on", "-pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=one_of("animal", "group"), name="loan_of_one"),
            *(
                models.UniqueConstraint(
                    fields=[name],
                    condition=Q(**{f"{name}__isnull": False, "ended_on": None}),
                    name=f"one_open_loan_of_{name}",
                )
                for name in ("animal", "group")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.subject} {self.get_sort_display()} {self.partner}"

    @property
    def subject(self) -> Any:
        """What is lent: an animal or a group."""
        return self.animal or self.group
