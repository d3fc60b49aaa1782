"""The yearly return: its categories, what people say for it, and what was published."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from registry.oversight.models.bookings import IN_PROJECT, Enrolment
from registry.projects.models import Project

_PERSON = settings.AUTH_USER_MODEL


class ReturnCategory(models.Model):
    """A category that a return asks for; reference data, dated."""

    kind: ClassVar[str] = "return_category"

    class Sort(models.TextChoices):
        """What it is a category of."""

        SPECIES = "species", "species"
        PURPOSE = "purpose", "purpose"
        ORIGIN = "origin", "place of birth"

    code = models.SlugField(max_length=40, unique=True)
    sort = models.CharField(max_length=20, choices=Sort)
    name = models.CharField(max_length=200)
    from_year = models.PositiveSmallIntegerField()
    until_year = models.PositiveSmallIntegerField(null=True, blank=True)
    genera = models.TextField(blank=True, help_text="Of species: genera, spaces between.")
    classes = models.CharField(
        max_length=200, blank=True, help_text="Of species: classes of the register."
    )
    source = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["sort", "pk"]
        verbose_name_plural = "return categories"

    def __str__(self) -> str:
        return self.name


class StatedPurpose(models.Model):
    """What a project's regulated work is for, as a return asks it; the newest row holds."""

    kind: ClassVar[str] = "stated_purpose"
    reach: ClassVar[dict[str, str]] = IN_PROJECT

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="stated_purposes")
    purpose = models.ForeignKey(ReturnCategory, on_delete=models.PROTECT, related_name="purposes")
    origin = models.ForeignKey(
        ReturnCategory,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="origins_of_projects",
        help_text="Where its animals were born, unless said of one by itself.",
    )
    said_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="purposes_said")
    said_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"{self.project}: {self.purpose}"


class StatedOrigin(models.Model):
    """Where an enrolled animal was born, as a return asks it; the newest row holds."""

    kind: ClassVar[str] = "stated_origin"
    reach: ClassVar[dict[str, str]] = {"project": "enrolment__project"}

    enrolment = models.ForeignKey(
        Enrolment, on_delete=models.PROTECT, related_name="stated_origins"
    )
    origin = models.ForeignKey(ReturnCategory, on_delete=models.PROTECT, related_name="origins")
    is_continued = models.BooleanField("continues its earlier use", default=False)
    said_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="origins_said")
    said_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"{self.enrolment}: {self.origin}"


class YearReturn(models.Model):
    """A return as it was published; a later edition revises it, and both are kept."""

    kind: ClassVar[str] = "year_return"

    year = models.PositiveSmallIntegerField()
    edition = models.PositiveSmallIntegerField()
    rows = models.JSONField(help_text="Species, purpose, origin, severity, re-use, procedures.")
    embryos = models.JSONField(help_text="Late embryos, in rows of the same shape.")
    procedures = models.PositiveIntegerField()
    animals = models.PositiveIntegerField("animals at their first use")
    late_embryos = models.PositiveIntegerField(default=0)
    note = models.TextField("what it revises, and why", blank=True)
    published_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="returns_published"
    )
    published_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["-year", "-edition"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["year", "edition"], name="one_return_of_an_edition"),
            models.CheckConstraint(
                condition=models.Q(animals__lte=models.F("procedures")),
                name="no_more_animals_than_procedures",
            ),
        ]

    def __str__(self) -> str:
        return f"return of {self.year}, edition {self.edition}"

    def get_absolute_url(self) -> str:
        """Give the address of the edition's page."""
        return f"/oversight/returns/{self.pk}/"
