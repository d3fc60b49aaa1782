"""Concerns: worries that anyone may raise."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from registry.animals.models import Animal
from registry.lifecycle import Lifecycle
from registry.oversight.lifecycle import CONCERN
from registry.oversight.models.welfare import Course
from registry.projects.models import Project

_PERSON = settings.AUTH_USER_MODEL


class Concern(models.Model):
    """A worry that anyone may raise, by name or not; seen only by those who handle it."""

    kind: ClassVar[str] = "concern"
    lifecycle: ClassVar[Lifecycle] = CONCERN
    reach: ClassVar[dict[str, str]] = {"named": "named", "raiser": "raiser"}

    text = models.TextField()
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="concerns"
    )
    project = models.ForeignKey(
        Project, on_delete=models.PROTECT, null=True, blank=True, related_name="concerns"
    )
    named = models.ForeignKey(
        _PERSON,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="concerns_about",
        help_text="If it is about a person, that person will not see it.",
    )
    raiser = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="concerns_raised"
    )
    follow_up_digest = models.CharField(max_length=64, blank=True)
    raised_at = models.DateTimeField(default=timezone.now)
    outcome = models.TextField(blank=True)
    state = models.CharField(max_length=20, choices=CONCERN.choices, default=CONCERN.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-raised_at", "-pk"]

    def __str__(self) -> str:
        return f"concern {self.pk}"

    def get_absolute_url(self) -> str:
        """Give the address of the concern's page."""
        return f"/oversight/concerns/{self.pk}/"


class ConcernNote(models.Model):
    """What is asked, answered or looked at about a concern; with a decision after a look."""

    kind: ClassVar[str] = "concern_note"
    reach: ClassVar[dict[str, str]] = {"named": "concern__named", "raiser": "concern__raiser"}

    class Sort(models.TextChoices):
        """Who speaks, and to whom."""

        QUESTION = "question", "question to whoever raised it"
        REPLY = "reply", "answer of whoever raised it"
        CHECK = "check", "welfare check"

    concern = models.ForeignKey(Concern, on_delete=models.PROTECT, related_name="notes")
    sort = models.CharField(max_length=20, choices=Sort)
    text = models.TextField()
    course = models.CharField("decision", max_length=20, choices=Course, blank=True)
    written_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="concern_notes"
    )
    written_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"{self.get_sort_display()} about {self.concern}"
