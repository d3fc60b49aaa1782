"""How animals are told apart: marks, the photographs of them, and what second readers saw."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from registry.animals.lifecycle import MARK, PHOTOGRAPH
from registry.lifecycle import Lifecycle

_PERSON = settings.AUTH_USER_MODEL


class Side(models.TextChoices):
    """Where on the animal a mark is, or from where it was photographed."""

    LEFT = "left", "left"
    RIGHT = "right", "right"
    ABOVE = "above", "back, from above"
    BELOW = "below", "belly, from below"
    HEAD = "head", "head"
    TAIL = "tail", "tail"
    WHOLE = "whole", "the whole animal"


class Confidence(models.TextChoices):
    """How sure whoever looked was."""

    SURE = "sure", "sure"
    LIKELY = "likely", "likely"
    DOUBTFUL = "doubtful", "doubtful"


class MarkQuerySet(models.QuerySet["Mark"]):
    """Reads of marks."""

    def borne(self) -> "MarkQuerySet":
        """Marks that have not ended, whether or not their animal is still here."""
        return self.filter(ended_on=None)

    def telling_apart(self) -> "MarkQuerySet":
        """Marks by which one animal is known from another; a name alone does not do that."""
        return self.borne().exclude(sort=Mark.Sort.NAME)

    def awaiting_second_reader(self) -> "MarkQuerySet":
        """Natural marks with a photograph that nobody but their recorder has read."""
        shown = Photograph.objects.filter(mark=OuterRef("pk"), state="kept")
        read = Reading.objects.filter(mark=OuterRef("pk"))
        natural = self.borne().filter(sort=Mark.Sort.NATURAL)
        return natural.filter(Exists(shown), ~Exists(read), animal__state="kept")


class Mark(models.Model):
    """How an animal is told apart: a chip, a tag, another name, a natural mark."""

    kind: ClassVar[str] = "mark"
    lifecycle: ClassVar[Lifecycle] = MARK

    class Sort(models.TextChoices):
        """Kinds of mark."""

        CHIP = "chip", "chip (ISO 11784)"
        OTHER_CODE = "other_code", "other code"
        TAG = "tag", "tag"
        NATURAL = "natural", "natural mark"
        NAME = "name", "another name"

    animal = models.ForeignKey("animals.Animal", on_delete=models.PROTECT, related_name="marks")
    sort = models.CharField(max_length=20, choices=Sort)
    said = models.CharField("code or description", max_length=200)
    side = models.CharField(max_length=10, choices=Side, blank=True)
    confidence = models.CharField(max_length=10, choices=Confidence, default=Confidence.SURE)
    seen_on = models.DateField("seen or put in on", default=timezone.localdate)
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="marks_recorded"
    )
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    ended_on = models.DateField(null=True, blank=True)
    end_reason = models.TextField(blank=True)
    state = models.CharField(max_length=20, choices=MARK.choices, default=MARK.first)

    objects = MarkQuerySet.as_manager()

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

    def get_absolute_url(self) -> str:
        """Give the address of the mark's page."""
        return f"/animals/marks/{self.pk}/"


class Photograph(models.Model):
    """A photograph of a mark; its bytes lie in a folder of the site, under their digest."""

    kind: ClassVar[str] = "photograph"
    lifecycle: ClassVar[Lifecycle] = PHOTOGRAPH

    mark = models.ForeignKey(Mark, on_delete=models.PROTECT, related_name="photographs")
    side = models.CharField(max_length=10, choices=Side)
    said = models.CharField(
        "what it shows", max_length=200, help_text="In words, for those who cannot see it."
    )
    taken_on = models.DateField(default=timezone.localdate)
    taken_by = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    small_sha256 = models.CharField(max_length=64)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    bytes = models.PositiveIntegerField()
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="photographs_recorded"
    )
    withdrawn_because = models.TextField(blank=True)
    state = models.CharField(max_length=20, choices=PHOTOGRAPH.choices, default=PHOTOGRAPH.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-taken_on", "-pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["mark", "sha256"],
                condition=Q(state="kept"),
                name="one_photograph_once_a_mark",
            )
        ]

    def __str__(self) -> str:
        return self.said

    def get_absolute_url(self) -> str:
        """Give the address of the photograph's page."""
        return f"/animals/photographs/{self.pk}/"


class ReadingQuerySet(models.QuerySet["Reading"]):
    """Reads of readings."""

    def counted(self) -> tuple[int, int]:
        """Give how many agree with the register, and of how many."""
        found = self.aggregate(
            agreed=models.Count("pk", filter=Q(is_agreed=True)), made=models.Count("pk")
        )
        return found["agreed"], found["made"]


class Reading(models.Model):
    """What a second reader saw: which animal the mark shows, named before the register was."""

    kind: ClassVar[str] = "reading"

    mark = models.ForeignKey(Mark, on_delete=models.PROTECT, related_name="readings")
    answer = models.ForeignKey(
        "animals.Animal",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="readings_named",
        help_text="Empty where the reader could not tell.",
    )
    is_agreed = models.BooleanField()
    confidence = models.CharField(max_length=10, choices=Confidence)
    note = models.TextField(blank=True)
    reader = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="readings")
    read_at = models.DateTimeField(default=timezone.now)

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["read_at", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["mark", "reader"], name="a_mark_read_once_by_one")
        ]

    def __str__(self) -> str:
        return f"{self.reader} on {self.mark}"
