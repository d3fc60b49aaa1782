"""How animals are told apart."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone


class Mark(models.Model):
    """How an animal is told apart: a chip, a tag, a natural mark."""

    kind: ClassVar[str] = "mark"

    class Sort(models.TextChoices):
        """Kinds of mark."""

        CHIP = "chip", "chip (ISO 11784)"
        OTHER_CODE = "other_code", "other code"
        TAG = "tag", "tag"
        NATURAL = "natural", "natural mark"

    animal = models.ForeignKey("animals.Animal", on_delete=models.PROTECT, related_name="marks")
    sort = models.CharField(max_length=20, choices=Sort)
    said = models.CharField("code or description", max_length=200)
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="marks_recorded"
    )
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["said"],
                condition=Q(sort="chip", ended_on=None),
                name="one_animal_to_a_chip",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_sort_display()} {self.said}"
