"""Analyses of versions: what was asked, by what code it was computed, and what it gave."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from archive.lifecycle import ANALYSIS
from archive.models.holding import Dictionary, Version
from registry.lifecycle import Lifecycle

_PERSON = settings.AUTH_USER_MODEL


class AnalysisQuerySet(models.QuerySet["Analysis"]):
    """Reads of analyses."""

    def waiting(self) -> "AnalysisQuerySet":
        """Analyses that the worker has still to run, or to run again."""
        return self.filter(state__in=["asked", "repeated"])


class Analysis(models.Model):
    """An analysis of a version: what was asked, by what code it was run, and what it gave.

    All that the numbers follow from is kept, so that the worker can make them again.
    """

    kind: ClassVar[str] = "analysis"
    lifecycle: ClassVar[Lifecycle] = ANALYSIS
    reach: ClassVar[dict[str, str]] = {
        "project": "version__dataset__project",
        "asker": "asked_by",
    }

    class Sort(models.TextChoices):
        """What can be asked."""

        BUDGET = "budget", "time budget"
        ONE_ZERO = "one_zero", "one-zero records"
        BOUTS = "bouts", "bouts and events"
        SEQUENCE = "sequence", "what follows what"
        SPACE = "space", "use of space"
        COMPARISON = "comparison", "comparison of arms"
        REVERSAL = "reversal", "phases within animals"
        ALONG = "along", "visitors, noise and other covariates"
        GROWTH = "growth", "growth"
        CONDITION = "condition", "condition"
        FEEDING = "feeding", "feed conversion"
        HATCHING = "hatching", "hatching success"
        SURVIVAL = "survival", "time to an event"
        WARMTH = "warmth", "degree-days"
        RATES = "rates", "rates and temperature"
        RESPONSE = "response", "dose or temperature response"
        AGREEMENT = "agreement", "agreement of observers"
        MEASURED = "measured", "agreement of measurements"
        INTERVAL = "interval", "interval between scans"
        COHORTS = "cohorts", "cohorts together"

    version = models.ForeignKey(Version, on_delete=models.PROTECT, related_name="analyses")
    sources = models.ManyToManyField(
        Version, related_name="analysed_in", help_text="Every version that it reads."
    )
    sort = models.CharField(max_length=20, choices=Sort)
    title = models.CharField(max_length=200)
    request = models.JSONField(help_text="Table, columns, options and seed.")
    facts = models.JSONField(
        default=dict, help_text="What the register added: draw, rules of recording, ethogram."
    )
    asked_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="analyses_asked")
    asked_at = models.DateTimeField(default=timezone.now)
    is_planned = models.BooleanField(
        default=False, help_text="The plan named this outcome and this test."
    )
    standing_said = models.TextField(blank=True, help_text="Why it counts as planned or not.")
    code = models.CharField(
        max_length=80, blank=True, help_text="Digest of the code that computed it."
    )
    computed_at = models.DateTimeField(null=True, blank=True)
    result = models.JSONField(default=dict, blank=True)
    digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of its numbers.")
    refusal = models.JSONField(default=dict, blank=True)
    repeated_at = models.DateTimeField(null=True, blank=True)
    repeated_code = models.CharField(max_length=80, blank=True)
    repeated_digest = models.CharField(max_length=64, blank=True)
    state = models.CharField(max_length=20, choices=ANALYSIS.choices, default=ANALYSIS.first)

    objects = AnalysisQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-asked_at", "-pk"]
        verbose_name_plural = "analyses"

    def __str__(self) -> str:
        return self.title

    @property
    def is_confirmed(self) -> bool:
        """Whether it was run again and gave the same numbers."""
        return bool(self.repeated_digest) and self.repeated_digest == self.digest

    @property
    def is_stale(self) -> bool:
        """Whether a version that it reads is no longer held."""
        return any(one.state != "held" for one in self.sources.all())

    def get_absolute_url(self) -> str:
        """Give the address of the analysis's page."""
        return f"/archive/analyses/{self.pk}/"


class Sitting(models.Model):
    """A test that an observer sat by one version of an ethogram: how they agreed with another."""

    kind: ClassVar[str] = "sitting"
    reach: ClassVar[dict[str, str]] = {"project": "analysis__version__dataset__project"}

    analysis = models.ForeignKey(Analysis, on_delete=models.PROTECT, related_name="sittings")
    dictionary = models.ForeignKey(Dictionary, on_delete=models.PROTECT, related_name="sittings")
    person = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="sittings")
    pair = models.CharField(max_length=200, help_text="The row of the analysis.")
    sat_on = models.DateField()
    moments = models.PositiveIntegerField()
    same = models.FloatField()
    kappa = models.FloatField(null=True, blank=True)
    kappa_low = models.FloatField(null=True, blank=True)
    seen = models.PositiveIntegerField()
    of = models.PositiveIntegerField()
    recorded_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="sittings_recorded"
    )
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["-sat_on", "-pk"]

    def __str__(self) -> str:
        return f"test of {self.person} by {self.dictionary}"
