"""Where each version lies, in what condition, and what reading the copies again has come to."""

from datetime import datetime
from typing import Any, ClassVar

from django.db import models
from django.utils import timezone

from archive.copies.lifecycle import COPY
from registry.lifecycle import Lifecycle


class CopyQuerySet(models.QuerySet["Copy"]):
    """Reads of copies."""

    def kept(self) -> "CopyQuerySet":
        """Copies of versions whose bytes should be there."""
        return self.exclude(version__state="erased")

    def damaged(self) -> "CopyQuerySet":
        """Copies that were found damaged and are not mended."""
        return self.kept().filter(state="damaged")

    def due_before(self, moment: datetime) -> "CopyQuerySet":
        """Copies to be read again: the damaged first, then those not read for longest."""
        due = models.Q(checked_at__lt=moment) | models.Q(state="damaged")
        return self.kept().filter(due).order_by("state", "checked_at", "pk")


class Copy(models.Model):
    """One of the places in which a version's bytes lie."""

    kind: ClassVar[str] = "copy"
    lifecycle: ClassVar[Lifecycle] = COPY
    reach: ClassVar[dict[str, str]] = {"project": "version__dataset__project"}
    # Written each time that it is read and found whole; no deed.
    not_in_digest: ClassVar[tuple[str, ...]] = ("checked_at",)

    class Place(models.TextChoices):
        """Which store it lies in."""

        FIRST = "first", "the store"
        SECOND = "second", "the second store"

    version = models.ForeignKey("archive.Version", on_delete=models.PROTECT, related_name="copies")
    place = models.CharField(max_length=10, choices=Place)
    made_at = models.DateTimeField(default=timezone.now)
    checked_at = models.DateTimeField(default=timezone.now)
    found = models.JSONField(default=list, help_text="What was wrong when it was found damaged.")
    aside = models.CharField(
        max_length=150, blank=True, help_text="Under which name the damaged bytes were set aside."
    )
    state = models.CharField(max_length=20, choices=COPY.choices, default=COPY.first)

    objects = CopyQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["version", "place"], name="one_copy_in_a_place")
        ]

    def __str__(self) -> str:
        return f"{self.version} in {self.get_place_display()}"


class StoreRun(models.Model):
    """One round of reading copies again: what it came to, and the digest of all that is kept."""

    kind: ClassVar[str] = "store_run"

    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(default=timezone.now)
    made = models.PositiveIntegerField(help_text="Copies that were made.")
    read = models.PositiveIntegerField(help_text="Copies that were read.")
    bytes = models.PositiveBigIntegerField(help_text="Bytes of content that were read.")
    damaged = models.PositiveIntegerField(help_text="Copies that were found damaged.")
    mended = models.PositiveIntegerField(help_text="Copies that were mended.")
    left = models.PositiveIntegerField(help_text="Copies that stay damaged.")
    versions = models.PositiveIntegerField(help_text="Versions that are kept.")
    digest = models.CharField(max_length=64, help_text="The sha256 over the list of their seals.")

    class Meta:
        ordering: ClassVar[list[str]] = ["-ended_at", "-pk"]

    def __str__(self) -> str:
        return f"round {self.pk} through the copies"
