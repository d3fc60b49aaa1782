"""A plain summary with its evidence, what changed in husbandry, and the close of a project."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from archive.models import Version
from registry.projects.models import Project, Study
from registry.questions.models import Question

_PERSON = settings.AUTH_USER_MODEL


class Answer(models.Model):
    """What was found, in plain words, for those who asked; a queried one is followed by another."""

    kind: ClassVar[str] = "answer"
    reach: ClassVar[dict[str, str]] = {"asker": "question__asker", "project": "study__projects"}
    searched: ClassVar[tuple[str, ...]] = ("summary", "sureness", "question__animals")

    question = models.ForeignKey(Question, on_delete=models.PROTECT, related_name="answers")
    study = models.ForeignKey(
        Study, on_delete=models.PROTECT, null=True, blank=True, related_name="answers"
    )
    summary = models.TextField("plain summary")
    sureness = models.TextField(
        "how sure this is", help_text="How many animals or tanks, and what could be otherwise."
    )
    evidence = models.ManyToManyField(Version, related_name="answers")
    written_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="answers")
    written_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["-written_at", "-pk"]

    def __str__(self) -> str:
        return f"answer to “{self.question}”"

    def get_absolute_url(self) -> str:
        """Give the address of the answer's page."""
        return f"/questions/answers/{self.pk}/"


class HusbandryAction(models.Model):
    """Something that keepers might do differently, and whether they did."""

    kind: ClassVar[str] = "husbandry_action"

    answer = models.ForeignKey(Answer, on_delete=models.PROTECT, related_name="actions")
    text = models.CharField(max_length=300)
    due_on = models.DateField(null=True, blank=True)
    is_done = models.BooleanField(null=True, blank=True)
    outcome = models.TextField(blank=True)
    said_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="actions_said"
    )
    said_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return self.text


class CloseReport(models.Model):
    """How a project ended: what was used, how it went, what deviated."""

    kind: ClassVar[str] = "close_report"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.OneToOneField(Project, on_delete=models.PROTECT, related_name="close_report")
    text = models.TextField()
    deviations = models.TextField(blank=True)
    learned = models.TextField("what was learned for refinement", blank=True)
    account = models.JSONField(default=dict, help_text="The figures as they stood at the close.")
    written_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="close_reports")
    written_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"close report of {self.project}"
