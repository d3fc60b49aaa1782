"""What happened to animals, groups and egg cases: the append-only record.

Each event that changes a number says by how many, for an animal as for a group: one that arrives
is one male, female or of unknown sex more. So the animals here on any day are a plain sum, and an
event that only moves animals between records is a pair whose changes sum to nought.
"""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Coalesce
from django.utils import timezone

from registry.animals.models.words import LifeStage, Sex, one_of
from registry.people.models import Institution


class EventQuerySet(models.QuerySet["Event"]):
    """Reads of events."""

    def standing(self) -> "EventQuerySet":
        """Events that no later one took back, reversing events themselves left out.

        Said so that no index serves: nearly every event reverses nothing, and SQLite, which takes
        that to be rare, would look through them all.
        """
        later = Event.objects.filter(reverses=OuterRef("pk"))
        told = self.alias(taken_back=Coalesce("reverses", 0)).filter(taken_back=0)
        return told.filter(~Exists(later))

    def known_by(self, moment: Any) -> "EventQuerySet":
        """Events that stood by what was recorded up to a moment, whatever was recorded since."""
        later = Event.objects.filter(reverses=OuterRef("pk"), recorded_at__lte=moment)
        told = self.alias(taken_back=Coalesce("reverses", 0)).filter(taken_back=0)
        return told.filter(~Exists(later), recorded_at__lte=moment)

    def placing(self) -> "EventQuerySet":
        """Standing events that say where the animals lived from then on, or that they were away."""
        somewhere = Q(enclosure__isnull=False) | Q(sort=Event.Sort.SENT)
        return self.standing().filter(somewhere, sort__in=PLACING)


class Event(models.Model):
    """Something that happened to an animal, a group or an egg case; reversed, never edited."""

    kind: ClassVar[str] = "event"

    class Sort(models.TextChoices):
        """Kinds of event."""

        ARRIVED = "arrived", "arrived"
        BORN = "born", "born or hatched"
        LAID = "laid", "laid"
        FERTILE = "fertile", "looked at for fertility"
        HATCHED = "hatched", "hatched out"
        SEXED = "sexed", "sexed"
        STAGED = "staged", "reached a stage"
        MEASURED = "measured", "measured"
        MOVED = "moved", "moved"
        JOINED = "joined", "joined a group"
        DRAWN = "drawn", "drawn from a group"
        SPLIT = "split", "split"
        MERGED = "merged", "merged"
        COUNTED = "counted", "counted anew"
        SCANNED = "scanned", "scanned for pregnancy"
        BORE = "bore", "gave birth"
        SENT = "sent", "went into a partner’s custody"
        RETURNED = "returned", "came back"
        OWNED = "owned", "changed hands"
        DEPARTED = "departed", "departed"
        DIED = "died", "died"

    class Measure(models.TextChoices):
        """What was measured, with its unit."""

        MASS_G = "mass_g", "mass (g)"
        LENGTH_MM = "length_mm", "total length (mm)"
        WIDTH_MM = "width_mm", "disc width or breadth (mm)"
        STAGE = "stage", "stage of development (number)"

    class Cause(models.TextChoices):
        """Why an animal died, as far as is known."""

        UNKNOWN = "unknown", "not known"
        AGE = "age", "old age"
        DISEASE = "disease", "disease"
        INJURY = "injury", "injury"
        OTHER_ANIMAL = "other_animal", "another animal"
        SURROUNDINGS = "surroundings", "water, temperature or equipment"
        FAILED = "failed", "failed before or at hatching or birth"
        KILLED = "killed", "killed humanely"
        LOST = "lost", "escaped or lost"

    animal = models.ForeignKey(
        "animals.Animal", on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    group = models.ForeignKey(
        "animals.Group", on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    case = models.ForeignKey(
        "animals.EggCase", on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    embryo = models.ForeignKey(
        "animals.Embryo", on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    sort = models.CharField(max_length=20, choices=Sort)
    happened_on = models.DateField()
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="animal_events"
    )
    enclosure = models.ForeignKey(
        "animals.Enclosure", on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    institution = models.ForeignKey(
        Institution, on_delete=models.PROTECT, null=True, blank=True, related_name="animal_events",
        help_text="From where it came, or to where it went.",
    )  # fmt: skip
    males = models.IntegerField("males, change", default=0)
    females = models.IntegerField("females, change", default=0)
    unknown = models.IntegerField("of unknown sex, change", default=0)
    is_estimated = models.BooleanField("number is an estimate", default=False)
    born_on = models.DateField(
        null=True, blank=True, help_text="When those that it speaks of were born, where known."
    )
    sex = models.CharField(max_length=20, choices=Sex, blank=True)
    life_stage = models.CharField(max_length=20, choices=LifeStage, blank=True)
    measure = models.CharField(max_length=20, choices=Measure, blank=True)
    value = models.FloatField(null=True, blank=True)
    method = models.CharField("method or citation", max_length=200, blank=True)
    is_positive = models.BooleanField(
        null=True, blank=True, help_text="Whether it was fertile, or pregnant."
    )
    number = models.PositiveIntegerField(
        null=True, blank=True, help_text="Young expected, or eggs found fertile."
    )
    since_on = models.DateField(
        null=True, blank=True, help_text="Earliest day on which a pregnancy may have begun."
    )
    cause = models.CharField(max_length=20, choices=Cause, blank=True)
    note = models.TextField(blank=True)
    partner = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="partners",
        help_text="The other side of a joining, drawing, split, merging or hatching.",
    )  # fmt: skip
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )

    objects = EventQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["happened_on", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=one_of("animal", "group", "case"), name="event_of_one"
            ),
            models.CheckConstraint(
                condition=Q(measure="", value=None) | (~Q(measure="") & Q(value__isnull=False)),
                name="measure_has_a_value",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.subject}: {self.get_sort_display()}"

    @property
    def subject(self) -> Any:
        """What it happened to: an animal, a group or an egg case."""
        return self.animal or self.group or self.case

    @property
    def said(self) -> str:
        """What it says beyond its sort, in words: a measure, a number, a cause, a note."""
        told = []
        if self.measure and self.value is not None:
            told.append(f"{self.get_measure_display()}: {self.value:g}")
        if self.is_positive is not None:
            told.append("yes" if self.is_positive else "no")
        if self.number is not None:
            told.append(str(self.number))
        if self.is_estimated:
            told.append("estimated")
        if self.sort == self.Sort.SEXED and self.sex:
            told.append(self.get_sex_display())
        if self.sort == self.Sort.STAGED and self.life_stage:
            told.append(self.get_life_stage_display())
        if self.cause:
            told.append(self.get_cause_display())
        return "; ".join([*told, *filter(None, [self.method, self.note])])

    @property
    def changes(self) -> tuple[int, int, int]:
        """By how many males, females and animals of unknown sex there are more; losses negative."""
        return self.males, self.females, self.unknown


PLACING = (
    Event.Sort.ARRIVED,
    Event.Sort.BORN,
    Event.Sort.LAID,
    Event.Sort.MOVED,
    Event.Sort.DRAWN,
    Event.Sort.SPLIT,
    Event.Sort.SENT,
    Event.Sort.RETURNED,
)
"""Events after which an animal lives in the enclosure that they name, where they name one; one that
was sent lives in none."""

GAINS = (Event.Sort.ARRIVED, Event.Sort.BORN, Event.Sort.LAID)
"""Events by which there are more animals, or more eggs, in the collection."""

LOSSES = (Event.Sort.DEPARTED, Event.Sort.DIED, Event.Sort.HATCHED)
"""Events by which there are fewer; those that hatch out leave the eggs and are born as animals."""
