"""Taxa, enclosures, animals, counted groups, their events, marks and restrictions."""

from collections.abc import Iterable
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Case, Exists, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce
from django.utils import timezone

from registry.animals.lifecycle import ANIMAL, GROUP, RESTRICTION
from registry.lifecycle import Lifecycle
from registry.people.models import Institution


class TaxonClass(models.TextChoices):
    """Classes, as far as the rules on protected animals tell them apart."""

    MAMMAL = "mammal", "mammal"
    BIRD = "bird", "bird"
    REPTILE = "reptile", "reptile"
    AMPHIBIAN = "amphibian", "amphibian"
    BONY_FISH = "bony_fish", "bony fish"
    CARTILAGINOUS_FISH = "cartilaginous_fish", "shark, skate or ray"
    CEPHALOPOD = "cephalopod", "cephalopod"
    DECAPOD = "decapod", "decapod"
    OTHER_INVERTEBRATE = "other_invertebrate", "other invertebrate"


class Sex(models.TextChoices):
    """Undetermined: looked and could not tell. Unknown: not looked."""

    FEMALE = "female", "female"
    MALE = "male", "male"
    HERMAPHRODITE = "hermaphrodite", "hermaphrodite"
    UNDETERMINED = "undetermined", "undetermined"
    UNKNOWN = "unknown", "unknown"


class LifeStage(models.TextChoices):
    """Stages of life, from the egg on."""

    EGG = "egg", "egg (in case)"
    EMBRYO = "embryo", "embryo"
    LARVA = "larva", "larva"
    HATCHLING = "hatchling", "hatchling"
    PUP = "pup", "pup"
    JUVENILE = "juvenile", "juvenile"
    SUBADULT = "subadult", "subadult"
    ADULT = "adult", "adult"


class Taxon(models.Model):
    """A kind of animal that the collection keeps or has kept."""

    kind: ClassVar[str] = "taxon"
    searched: ClassVar[tuple[str, ...]] = ("scientific_name",)
    search_taxon: ClassVar[str] = "pk"

    scientific_name = models.CharField(max_length=120, unique=True)
    common_name = models.CharField(max_length=120)
    taxon_class = models.CharField(max_length=30, choices=TaxonClass)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["common_name"]
        verbose_name_plural = "taxa"

    def __str__(self) -> str:
        return self.common_name

    @property
    def searched_by(self) -> str:
        """Both its names."""
        return f"{self.common_name} {self.scientific_name}"

    def get_absolute_url(self) -> str:
        """Give the address of the list of this taxon's animals."""
        return f"/animals/?taxon={self.pk}"


class Enclosure(models.Model):
    """A tank, pool or run where animals live."""

    kind: ClassVar[str] = "enclosure"
    searched: ClassVar[tuple[str, ...]] = ("code",)
    search_keys: ClassVar[tuple[str, ...]] = ("code",)

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    is_on_show = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["code"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Give the address of the enclosure's page."""
        return f"/animals/enclosures/{self.pk}/"


class Intake(models.Model):
    """One file from which many animals and groups were brought in at once."""

    kind: ClassVar[str] = "intake"

    file_name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    animals_brought = models.PositiveIntegerField()
    groups_brought = models.PositiveIntegerField()
    rows_known = models.PositiveIntegerField(help_text="Rows that were in the register already.")
    brought_at = models.DateTimeField(default=timezone.now)
    brought_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="intakes"
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["-brought_at", "-pk"]

    def __str__(self) -> str:
        return self.file_name

    def get_absolute_url(self) -> str:
        """Give the address of the page that says what came in."""
        return f"/animals/imports/{self.pk}/"


class Word(models.TextChoices):
    """What one may say of an animal today, in a word or three."""

    OUT_OF_BOUNDS = "out_of_bounds", "out of bounds"
    IN_USE = "in_use", "in use"
    AT_REST = "at_rest", "at rest"
    LEFT = "left", "left"


def _word(model: "type[Animal | Group]", name: str, day: Any) -> Case:
    """Give the word for each row: barred before used, for what bars comes first."""
    in_force = Restriction.objects.in_force_on(day)
    # Lists that are read once, and not a look at each row.
    barred = Q(pk__in=in_force.filter(**{f"{name}__isnull": False}).values(name)) | Q(
        enclosure__in=in_force.filter(enclosure__isnull=False).values("enclosure")
    )
    used = model.objects.filter(
        pk=OuterRef("pk"), enrolments__state="enrolled", enrolments__from_on__lte=day
    )
    return Case(
        When(state="left", then=Value(Word.LEFT.value)),
        When(barred, then=Value(Word.OUT_OF_BOUNDS.value)),
        When(Exists(used), then=Value(Word.IN_USE.value)),
        default=Value(Word.AT_REST.value),
        output_field=models.CharField(),
    )


class AnimalQuerySet(models.QuerySet["Animal"]):
    """Reads of animals."""

    def with_word(self, day: Any) -> "AnimalQuerySet":
        """Annotate each with `word`: out of bounds, in use, at rest, or left."""
        return self.annotate(word=_word(Animal, "animal", day))


class GroupQuerySet(models.QuerySet["Group"]):
    """Reads of groups."""

    def with_word(self, day: Any) -> "GroupQuerySet":
        """Annotate each with `word`: out of bounds, in use, at rest, or left."""
        return self.annotate(word=_word(Group, "group", day))


class Animal(models.Model):
    """An individual; its place and stage are as the newest event left them."""

    kind: ClassVar[str] = "animal"
    lifecycle: ClassVar[Lifecycle] = ANIMAL
    searched: ClassVar[tuple[str, ...]] = ("code", "taxon__searched_by", "origin", "marks_said")
    search_keys: ClassVar[tuple[str, ...]] = ("code", "marks_said")
    search_taxon: ClassVar[str] = "taxon_id"

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80, blank=True)
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="animals")
    sex = models.CharField(max_length=20, choices=Sex, default=Sex.UNKNOWN)
    life_stage = models.CharField(max_length=20, choices=LifeStage, default=LifeStage.ADULT)
    born_on = models.DateField(null=True, blank=True)
    origin = models.CharField(max_length=200, blank=True)
    owner = models.ForeignKey(
        Institution, on_delete=models.PROTECT, null=True, blank=True, related_name="animals"
    )
    enclosure = models.ForeignKey(
        Enclosure, on_delete=models.PROTECT, null=True, blank=True, related_name="animals"
    )
    intake = models.ForeignKey(
        Intake, on_delete=models.PROTECT, null=True, blank=True, related_name="animals"
    )
    arrived_on = models.DateField()
    left_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=ANIMAL.choices, default=ANIMAL.first)

    objects = AnimalQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["taxon__common_name", "code"]

    def __str__(self) -> str:
        return self.name or self.code

    @property
    def marks_said(self) -> str:
        """Its marks and chips, as words to look for."""
        # Not filtered by a query, so that marks that were fetched for many are used.
        return "\n".join(one.said for one in self.marks.all() if one.ended_on is None)

    def get_absolute_url(self) -> str:
        """Give the address of the animal's page."""
        return f"/animals/{self.pk}/"


class Group(models.Model):
    """Animals that are counted, not told apart: a shoal, a clutch, a colony."""

    kind: ClassVar[str] = "group"
    lifecycle: ClassVar[Lifecycle] = GROUP
    searched: ClassVar[tuple[str, ...]] = ("code", "taxon__searched_by", "sort")
    search_keys: ClassVar[tuple[str, ...]] = ("code",)
    search_taxon: ClassVar[str] = "taxon_id"

    class Sort(models.TextChoices):
        """Kinds of counted group."""

        SHOAL = "shoal", "shoal"
        CLUTCH = "clutch", "clutch"
        COLONY = "colony", "colony"

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    sort = models.CharField(max_length=20, choices=Sort)
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="groups")
    life_stage = models.CharField(max_length=20, choices=LifeStage, default=LifeStage.ADULT)
    owner = models.ForeignKey(
        Institution, on_delete=models.PROTECT, null=True, blank=True, related_name="groups"
    )
    enclosure = models.ForeignKey(
        Enclosure, on_delete=models.PROTECT, null=True, blank=True, related_name="groups"
    )
    intake = models.ForeignKey(
        Intake, on_delete=models.PROTECT, null=True, blank=True, related_name="groups"
    )
    males = models.PositiveIntegerField(default=0)
    females = models.PositiveIntegerField(default=0)
    unknown = models.PositiveIntegerField(default=0)
    arrived_on = models.DateField()
    left_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=GROUP.choices, default=GROUP.first)

    objects = GroupQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["taxon__common_name", "code"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Give the address of the group's page."""
        return f"/animals/groups/{self.pk}/"

    @property
    def number(self) -> int:
        """How many animals it holds now."""
        return self.males + self.females + self.unknown


def one_of(*names: str) -> Q:
    """Give the condition that exactly one of these columns is filled."""
    wanted = Q()
    for chosen in names:
        wanted |= Q(**{f"{name}__isnull": name != chosen for name in names})
    return wanted


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

    def placing(self) -> "EventQuerySet":
        """Standing events that say where the animals lived from then on."""
        return self.standing().filter(sort__in=PLACING, enclosure__isnull=False)


class Event(models.Model):
    """Something that happened to an animal or a group; never edited, reversed by a later one."""

    kind: ClassVar[str] = "event"

    class Sort(models.TextChoices):
        """Kinds of event."""

        ARRIVED = "arrived", "arrived"
        BORN = "born", "born or hatched"
        MOVED = "moved", "moved"
        COUNTED = "counted", "number changed"
        DEPARTED = "departed", "departed"
        DIED = "died", "died"

    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    sort = models.CharField(max_length=20, choices=Sort)
    happened_on = models.DateField()
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="animal_events"
    )
    enclosure = models.ForeignKey(
        Enclosure, on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    males = models.IntegerField(default=0)
    females = models.IntegerField(default=0)
    unknown = models.IntegerField(default=0)
    note = models.TextField(blank=True)
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )

    objects = EventQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["happened_on", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=one_of("animal", "group"), name="event_of_one")
        ]

    def __str__(self) -> str:
        return f"{self.animal or self.group}: {self.get_sort_display()}"


PLACING = (Event.Sort.ARRIVED, Event.Sort.BORN, Event.Sort.MOVED)
"""Events after which an animal lives in the enclosure that they name."""


class Mark(models.Model):
    """How an animal is told apart: a chip, a tag, a natural mark."""

    kind: ClassVar[str] = "mark"

    class Sort(models.TextChoices):
        """Kinds of mark."""

        CHIP = "chip", "chip (ISO 11784)"
        OTHER_CODE = "other_code", "other code"
        TAG = "tag", "tag"
        NATURAL = "natural", "natural mark"

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="marks")
    sort = models.CharField(max_length=20, choices=Sort)
    said = models.CharField("code or description", max_length=200)
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="marks_recorded"
    )
    ended_on = models.DateField(null=True, blank=True)

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


class RestrictionQuerySet(models.QuerySet["Restriction"]):
    """Reads of restrictions."""

    def in_force_on(self, day: Any) -> "RestrictionQuerySet":
        """Restrictions that bar something on this day, whichever day they were recorded.

        The day on which one ends is free again: a veterinary surgeon's word holds at once. One
        that is past its expected end and was not ended still bars.
        """
        return self.filter(began_on__lte=day).filter(Q(ended_on=None) | Q(ended_on__gt=day))

    def barring(self, animals: Any, groups: Any) -> "RestrictionQuerySet":
        """Restrictions on these animals and groups, or on the enclosures in which they live now.

        Each is a query or a list, of rows or of their ids; a restriction comes once.
        """
        animal_ids, group_ids = _ids(animals), _ids(groups)
        lived_in = Q(enclosure__in=_homes(Animal, animal_ids)) | Q(
            enclosure__in=_homes(Group, group_ids)
        )
        return self.filter(Q(animal__in=animal_ids) | Q(group__in=group_ids) | lived_in)

    def barring_on(self, animals: Any, groups: Any, day: Any) -> "RestrictionQuerySet":
        """Restrictions in force on a day, by where these animals and groups lived on that day."""
        animal_ids, group_ids = _ids(animals), _ids(groups)
        lived_in = Q(enclosure__in=_homes_on(Animal, "animal", animal_ids, day)) | Q(
            enclosure__in=_homes_on(Group, "group", group_ids, day)
        )
        return self.in_force_on(day).filter(
            Q(animal__in=animal_ids) | Q(group__in=group_ids) | lived_in
        )


def _ids(rows: Any) -> Any:
    """Give the ids of rows as a sub-select, where they are a query, or else as a list."""
    if isinstance(rows, QuerySet):
        return rows.order_by().values("pk")
    listed: Iterable[Any] = rows
    return [getattr(row, "pk", row) for row in listed]


def _homes(model: "type[Animal | Group]", ids: Any) -> QuerySet[Any]:
    """Give the enclosures of rows as a sub-select: a join would give a restriction twice."""
    return model.objects.filter(pk__in=ids, enclosure__isnull=False).order_by().values("enclosure")


def _homes_on(model: "type[Animal | Group]", name: str, ids: Any, day: Any) -> QuerySet[Any]:
    """Give the enclosures in which rows lived on a day, as their events have it."""
    placed = Event.objects.placing().filter(**{name: OuterRef("pk")}, happened_on__lte=day)
    newest = placed.order_by("-happened_on", "-pk").values("enclosure")[:1]
    rows = model.objects.filter(pk__in=ids).filter(Q(left_on=None) | Q(left_on__gte=day))
    found = rows.order_by().annotate(home=Subquery(newest))
    return found.filter(home__isnull=False).values("home")


class Restriction(models.Model):
    """Keep off: what bars an animal, a group or an enclosure from research, and for how long."""

    kind: ClassVar[str] = "restriction"
    lifecycle: ClassVar[Lifecycle] = RESTRICTION

    class Sort(models.TextChoices):
        """Why one keeps off."""

        QUARANTINE = "quarantine", "quarantine"
        TREATMENT = "treatment", "under treatment"
        GRAVID = "gravid", "gravid or brooding"
        REARING = "rearing", "rearing young"
        MOULT = "moult", "moult"
        ACCLIMATING = "acclimating", "acclimating"
        TRANSFER = "transfer", "in transfer"
        WELFARE = "welfare", "looks wrong"

    class Strength(models.TextChoices):
        """What it bars, and who may end it."""

        BARS_ALL = "bars_all", "bars all research"
        OBSERVATION_ONLY = "observation_only", "observation only"
        VETS_WORD = "vets_word", "bars all; only a veterinary surgeon ends it"

    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="restrictions"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="restrictions"
    )
    enclosure = models.ForeignKey(
        Enclosure, on_delete=models.PROTECT, null=True, blank=True, related_name="restrictions"
    )
    sort = models.CharField(max_length=20, choices=Sort)
    strength = models.CharField(max_length=20, choices=Strength, default=Strength.BARS_ALL)
    note = models.TextField(blank=True)
    began_on = models.DateField(default=timezone.localdate)
    expected_end_on = models.DateField(null=True, blank=True)
    begun_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="restrictions_begun"
    )
    recorded_at = models.DateTimeField(default=timezone.now)
    ended_on = models.DateField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="restrictions_ended",
    )
    end_recorded_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=RESTRICTION.choices, default=RESTRICTION.first)

    objects = RestrictionQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-began_on", "-pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=one_of("animal", "group", "enclosure"), name="restriction_of_one"
            )
        ]

    def __str__(self) -> str:
        return f"{self.subject}: {self.get_sort_display()}"

    @property
    def subject(self) -> Any:
        """What it is on: an animal, a group or an enclosure."""
        return self.animal or self.group or self.enclosure

    def reaches(self, subject: "Animal | Group") -> bool:
        """Say whether it is on this animal or group, or on the enclosure in which it lives now."""
        if self.enclosure_id is not None:
            return self.enclosure_id == subject.enclosure_id
        own = self.animal_id if isinstance(subject, Animal) else self.group_id
        return own == subject.pk

    def is_overdue_on(self, day: Any) -> bool:
        """Say whether it was expected to be over by this day, and was not ended."""
        return bool(self.state == "begun" and self.expected_end_on and self.expected_end_on < day)

    @property
    def bars_contact_only(self) -> bool:
        """Whether watching from outside is still open."""
        return self.strength == self.Strength.OBSERVATION_ONLY

    def get_absolute_url(self) -> str:
        """Give the address of the restriction's page."""
        return f"/animals/restrictions/{self.pk}/"
