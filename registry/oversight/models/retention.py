"""How long which records are kept at least, and what is held beyond that."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from registry.lifecycle import Lifecycle
from registry.oversight.lifecycle import HOLD
from registry.oversight.models.bookings import IN_PROJECT
from registry.projects.models import Project


class RetentionRule(models.Model):
    """The least time for which a kind of record is kept; reference data."""

    kind: ClassVar[str] = "retention_rule"

    code = models.SlugField(max_length=40, unique=True)
    record = models.CharField("what is kept", max_length=200)
    years = models.PositiveSmallIntegerField()
    counted_from = models.CharField(max_length=120)
    source = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return self.record


class HoldQuerySet(models.QuerySet["Hold"]):
    """Reads of holds."""

    def standing(self) -> "HoldQuerySet":
        """Holds that nobody has lifted."""
        return self.filter(state=HOLD.first)


class Hold(models.Model):
    """That all records of a project are kept, whatever the rules say: an inquiry, a dispute."""

    kind: ClassVar[str] = "hold"
    lifecycle: ClassVar[Lifecycle] = HOLD
    reach: ClassVar[dict[str, str]] = IN_PROJECT

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="holds")
    why = models.TextField("reason")
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="holds_set"
    )
    set_at = models.DateTimeField(default=timezone.now)
    lifted_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=HOLD.choices, default=HOLD.first)

    objects = HoldQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[Any]] = ["-set_at", "-pk"]

    def __str__(self) -> str:
        return f"hold {self.pk} on {self.project}"

    def get_absolute_url(self) -> str:
        """Give the address of the hold's page."""
        return f"/oversight/holds/{self.pk}/"
