"""Permissions that work may need, and what each project says of them."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from registry.projects.models import Project


class PermissionKind(models.Model):
    """A kind of permission that work may need; reference data."""

    kind: ClassVar[str] = "permission_kind"

    class SatisfiedBy(models.TextChoices):
        """What satisfies it."""

        APPROVAL = "approval", "an approval of a body"
        AGREEMENT = "agreement", "a data agreement signed by each student"
        INDUCTION = "induction", "a live induction of each student"

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    satisfied_by = models.CharField(max_length=20, choices=SatisfiedBy)
    is_always_asked = models.BooleanField(
        default=False, help_text="Each project must say whether it needs it."
    )
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return self.name


class Need(models.Model):
    """That a project needs a permission, or the reason why it does not, with who said so."""

    kind: ClassVar[str] = "need"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="needs")
    permission = models.ForeignKey(PermissionKind, on_delete=models.PROTECT, related_name="needs")
    is_needed = models.BooleanField()
    reason = models.TextField(blank=True)
    said_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="needs_said"
    )
    said_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["permission__pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["project", "permission"], name="one_need_of_a_kind")
        ]

    def __str__(self) -> str:
        return f"{self.permission}: {'needed' if self.is_needed else 'not needed'}"
