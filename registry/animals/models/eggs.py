"""Egg cases and the embryos within them; eggs that are only counted are a group, a clutch.

A case may hold more than one embryo, and the embryos of one case may have different sires.
"""

from typing import Any, ClassVar

from django.db import models
from django.utils import timezone

from registry.animals.lifecycle import CASE
from registry.animals.models.living import Animal, Group
from registry.animals.models.places import Enclosure
from registry.animals.models.taxa import Taxon
from registry.animals.models.words import Precision
from registry.lifecycle import Lifecycle


class EggCase(models.Model):
    """One egg case that is told apart; its place is as the newest event left it."""

    kind: ClassVar[str] = "case"
    lifecycle: ClassVar[Lifecycle] = CASE
    searched: ClassVar[tuple[str, ...]] = ("code", "taxon__searched_by")
    search_keys: ClassVar[tuple[str, ...]] = ("code",)
    search_taxon: ClassVar[str] = "taxon_id"

    code = models.CharField(max_length=40, unique=True)
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="cases")
    clutch = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="cases"
    )
    enclosure = models.ForeignKey(
        Enclosure, on_delete=models.PROTECT, null=True, blank=True, related_name="cases"
    )
    laid_on = models.DateField()
    laid_precision = models.CharField(max_length=20, choices=Precision, default=Precision.DAY)
    ended_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=CASE.choices, default=CASE.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-laid_on", "code"]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        """Give the address of the case's page."""
        return f"/animals/cases/{self.pk}/"


class Embryo(models.Model):
    """One embryo of a case; hatched, it is an animal."""

    kind: ClassVar[str] = "embryo"

    class Outcome(models.TextChoices):
        """What became of it."""

        DEVELOPING = "developing", "developing"
        INFERTILE = "infertile", "infertile"
        HATCHED = "hatched", "hatched"
        DIED = "died", "died"
        MISTAKEN = "mistaken", "never was there"

    case = models.ForeignKey(EggCase, on_delete=models.PROTECT, related_name="embryos")
    ordinal = models.PositiveSmallIntegerField(default=1)
    is_fertile = models.BooleanField(null=True, blank=True)
    outcome = models.CharField(max_length=20, choices=Outcome, default=Outcome.DEVELOPING)
    ended_on = models.DateField(null=True, blank=True)
    animal = models.OneToOneField(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="embryo"
    )
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["case", "ordinal"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["case", "ordinal"], name="embryo_of_a_case_once")
        ]

    def __str__(self) -> str:
        return f"{self.case}, embryo {self.ordinal}"

    @property
    def incubation_d(self) -> int | None:
        """Days from laying to hatching; None where it has not hatched."""
        if self.outcome != self.Outcome.HATCHED or self.ended_on is None:
            return None
        return (self.ended_on - self.case.laid_on).days
