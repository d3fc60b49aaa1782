"""How often versions were taken away: counted by the day, with nobody's name."""

from typing import Any, ClassVar

from django.db import models
from django.utils import timezone

from archive.models.holding import Version


class Taken(models.Model):
    """How often a version was taken in one form on one day; who took it is not kept."""

    class Form(models.TextChoices):
        """What was taken."""

        PACKAGE = "package", "whole package"
        TABLE = "table", "one table"

    version = models.ForeignKey(Version, on_delete=models.PROTECT, related_name="taken")
    form = models.CharField(max_length=20, choices=Form)
    taken_on = models.DateField(default=timezone.localdate)
    times = models.PositiveIntegerField(default=0)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["version", "form", "taken_on"], name="one_count_of_a_form_a_day"
            )
        ]

    def __str__(self) -> str:
        return f"{self.version}, {self.get_form_display()}, {self.taken_on}: {self.times}"
