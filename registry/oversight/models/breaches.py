"""Breaches: what happened outside a limit."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from registry.animals.models import Animal, Group
from registry.approvals.models import Approval
from registry.lifecycle import Lifecycle
from registry.oversight.lifecycle import BREACH
from registry.oversight.models.bookings import IN_PROJECT
from registry.oversight.models.sessions import Session
from registry.oversight.models.uses import Use
from registry.projects.models import Project

_PERSON = settings.AUTH_USER_MODEL


class Breach(models.Model):
    """Something that happened outside a limit; to be explained, never hidden."""

    kind: ClassVar[str] = "breach"
    lifecycle: ClassVar[Lifecycle] = BREACH
    reach: ClassVar[dict[str, str]] = {**IN_PROJECT, "body": "approval__body"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="breaches")
    code = models.CharField(max_length=40)
    said = models.TextField("what happened, and the limit that it passed")
    approval = models.ForeignKey(
        Approval, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    use = models.ForeignKey(
        Use, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    session = models.ForeignKey(
        Session, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    # A plain number: the deposit stands in a higher slice.
    deposit_number = models.PositiveBigIntegerField(null=True, blank=True)
    # Whom it concerns, where that is known; what data say of a code that was never enrolled is not.
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    happened_on = models.DateField(null=True, blank=True)
    found_at = models.DateTimeField(default=timezone.now)
    explanation = models.TextField(blank=True)
    explained_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches_explained"
    )
    explained_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=BREACH.choices, default=BREACH.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-found_at", "-pk"]
        verbose_name_plural = "breaches"

    def __str__(self) -> str:
        return f"breach {self.pk}"

    @property
    def subject(self) -> Any:
        """The animal or the group that it concerns, where that is known."""
        return self.animal or self.group

    @property
    def limit_said(self) -> str:
        """The kind of limit that was passed, in words."""
        return self.code.replace("-", " ")

    def get_absolute_url(self) -> str:
        """Give the address of the breach's page."""
        return f"/oversight/breaches/{self.pk}/"
