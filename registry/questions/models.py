"""A question that staff raised, and the students who would like it."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Taxon
from registry.lifecycle import Lifecycle
from registry.questions.lifecycle import QUESTION


class Level(models.TextChoices):
    """Levels of student."""

    UNDERGRADUATE = "undergraduate", "undergraduate"
    TAUGHT_MASTERS = "taught_masters", "taught master's"
    RESEARCH_MASTERS = "research_masters", "research master's"
    DOCTORAL = "doctoral", "doctoral"


class QuestionQuerySet(models.QuerySet["Question"]):
    """Reads of questions."""

    def awaiting_triage(self) -> "QuestionQuerySet":
        """Questions that nobody has sorted yet."""
        return self.filter(state="posted")

    def open_to_students(self) -> "QuestionQuerySet":
        """Questions that a student could still take: neither answered nor set aside."""
        return self.filter(state__in=["posted", "taken_on"])


class Question(models.Model):
    """What someone in the collection wants to know, and what it would change."""

    kind: ClassVar[str] = "question"
    lifecycle: ClassVar[Lifecycle] = QUESTION
    reach: ClassVar[dict[str, str]] = {"asker": "asker", "project": "studies__projects"}
    searched: ClassVar[tuple[str, ...]] = ("animals", "why", "would_change", "taxon__searched_by")
    search_taxon: ClassVar[str] = "taxon_id"

    title = models.CharField("the question", max_length=300)
    why = models.TextField("why it matters")
    would_change = models.TextField("what would change")
    animals = models.CharField("which animals", max_length=200)
    taxon = models.ForeignKey(
        Taxon, on_delete=models.PROTECT, null=True, blank=True, related_name="questions"
    )
    wanted_by = models.DateField(null=True, blank=True)
    asker = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="questions"
    )
    posted_at = models.DateTimeField(default=timezone.now)
    level = models.CharField(max_length=20, choices=Level, blank=True)
    first_month = models.PositiveSmallIntegerField(null=True, blank=True)
    last_month = models.PositiveSmallIntegerField(null=True, blank=True)
    triage_reason = models.TextField(blank=True)
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged"
    )
    state = models.CharField(max_length=20, choices=QUESTION.choices, default=QUESTION.first)

    objects = QuestionQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-posted_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Give the address of the question's page."""
        return f"/questions/{self.pk}/"


class Interest(models.Model):
    """A student's “I would like this one”."""

    kind: ClassVar[str] = "interest"

    question = models.ForeignKey(Question, on_delete=models.PROTECT, related_name="interests")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="interests"
    )
    note = models.TextField(blank=True)
    said_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["said_at"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["question", "person"], condition=Q(ended_at=None), name="one_live_interest"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.question}"
