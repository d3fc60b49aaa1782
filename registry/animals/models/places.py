"""Where animals live, and the files from which they were brought in."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from registry.animals.lifecycle import INTAKE
from registry.lifecycle import Lifecycle


class Enclosure(models.Model):
    """A tank, pool or run where animals live; days that are not known are left open."""

    kind: ClassVar[str] = "enclosure"
    searched: ClassVar[tuple[str, ...]] = ("code",)
    search_keys: ClassVar[tuple[str, ...]] = ("code",)

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    is_on_show = models.BooleanField(default=False)
    opened_on = models.DateField(null=True, blank=True)
    keepers = models.ManyToManyField(
        settings.AUTH_USER_MODEL,
        blank=True,
        related_name="enclosures_kept",
        help_text="Who looks after it; where nobody is named, every keeper does.",
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["code"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Give the address of the enclosure's page."""
        return f"/animals/enclosures/{self.pk}/"


class Intake(models.Model):
    """One file from which many animals and groups were brought in at once."""

    kind: ClassVar[str] = "intake"
    lifecycle: ClassVar[Lifecycle] = INTAKE

    file_name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    animals_brought = models.PositiveIntegerField()
    groups_brought = models.PositiveIntegerField()
    rows_known = models.PositiveIntegerField(help_text="Rows that were in the register already.")
    brought_at = models.DateTimeField(default=timezone.now)
    brought_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="intakes"
    )
    state = models.CharField(max_length=20, choices=INTAKE.choices, default=INTAKE.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-brought_at", "-pk"]

    def __str__(self) -> str:
        return self.file_name

    def get_absolute_url(self) -> str:
        """Give the address of the page that says what came in."""
        return f"/animals/imports/{self.pk}/"
