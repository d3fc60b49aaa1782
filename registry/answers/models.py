"""A plain summary with its evidence, what changed in husbandry, outputs, and a project's close."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from archive.models import Analysis, Version
from registry.answers.lifecycle import OUTPUT
from registry.lifecycle import Lifecycle
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
    done = models.TextField(
        "what was done", blank=True, help_text="Which animals, where, for how long."
    )
    left_open = models.TextField("what remains open", blank=True)
    analysis = models.ForeignKey(
        Analysis,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="answers",
        help_text="Its first figure stands on the page, for those who may read its data.",
    )
    figure_released_by = models.ForeignKey(
        _PERSON,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="figures_released",
        help_text="Who showed the figure to everyone who reads the answer.",
    )
    figure_released_at = models.DateTimeField(null=True, blank=True)
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
    owner = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="actions_owned"
    )
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


class OutputQuerySet(models.QuerySet["Output"]):
    """Reads of outputs."""

    def listed(self) -> "OutputQuerySet":
        """Outputs that were not withdrawn."""
        return self.filter(state="listed")


class Output(models.Model):
    """What came out of a project for others to read: a dissertation, a paper, a poster, a talk."""

    kind: ClassVar[str] = "output"
    lifecycle: ClassVar[Lifecycle] = OUTPUT
    reach: ClassVar[dict[str, str]] = {"project": "project"}
    searched: ClassVar[tuple[str, ...]] = ("authors", "identifier")

    class Sort(models.TextChoices):
        """Sorts of output."""

        DISSERTATION = "dissertation", "dissertation"
        PAPER = "paper", "paper"
        POSTER = "poster", "poster"
        TALK = "talk", "talk"
        BOOK = "book", "book or chapter"
        OTHER = "other", "something else"

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="outputs")
    sort = models.CharField(max_length=20, choices=Sort)
    title = models.CharField(max_length=300)
    authors = models.CharField(max_length=500, help_text="As they stand on it.")
    published_on = models.DateField("when it came out or was given")
    where = models.CharField(
        "where it came out",
        max_length=300,
        blank=True,
        help_text="Journal, university, meeting.",
    )
    identifier = models.CharField(
        max_length=200, blank=True, help_text="A DOI, an ISBN, or an address; it is checked."
    )
    versions = models.ManyToManyField(Version, related_name="outputs", blank=True)
    added_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="outputs_added")
    added_at = models.DateTimeField(default=timezone.now)
    withdrawn_because = models.TextField(blank=True)
    state = models.CharField(max_length=20, choices=OUTPUT.choices, default=OUTPUT.first)

    objects = OutputQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-published_on", "-pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["project", "sort", "title"],
                condition=models.Q(state="listed"),
                name="one_listed_output_of_a_title",
            )
        ]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Give the address of the output's page."""
        return f"/questions/outputs/{self.pk}/"
