"""Who lives here: individuals that are told apart, and groups that are counted."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Case, Exists, OuterRef, Q, Value, When

from registry.animals.lifecycle import ANIMAL, GROUP
from registry.animals.models.places import Enclosure, Intake
from registry.animals.models.restrictions import Restriction
from registry.animals.models.taxa import Taxon
from registry.animals.models.words import LifeStage, Precision, Sex, one_of
from registry.lifecycle import Lifecycle
from registry.people.models import Institution


class Word(models.TextChoices):
    """What one may say of an animal today, in a word or three."""

    OUT_OF_BOUNDS = "out_of_bounds", "out of bounds"
    IN_USE = "in_use", "in use"
    AT_REST = "at_rest", "at rest"
    AWAY = "away", "away, in a partner’s custody"
    LEFT = "left", "left"
    MISTAKEN = "mistaken", "brought in by mistake"

    @property
    def tone(self) -> str:
        """The tone of the word where it is shown."""
        tones = {Word.OUT_OF_BOUNDS: "barred", Word.IN_USE: "part", Word.AT_REST: "past"}
        return tones.get(self, "plain")


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
    away = model.objects.filter(pk=OuterRef("pk"), custodies__state="given")
    return Case(
        When(state="left", then=Value(Word.LEFT.value)),
        When(state="undone", then=Value(Word.MISTAKEN.value)),
        When(Exists(away), then=Value(Word.AWAY.value)),
        When(barred, then=Value(Word.OUT_OF_BOUNDS.value)),
        When(Exists(used), then=Value(Word.IN_USE.value)),
        default=Value(Word.AT_REST.value),
        output_field=models.CharField(),
    )


class AnimalQuerySet(models.QuerySet["Animal"]):
    """Reads of animals."""

    def with_word(self, day: Any) -> "AnimalQuerySet":
        """Annotate each with `word`: out of bounds, in use, at rest, left, or mistaken."""
        return self.annotate(word=_word(Animal, "animal", day))


class GroupQuerySet(models.QuerySet["Group"]):
    """Reads of groups."""

    def with_word(self, day: Any) -> "GroupQuerySet":
        """Annotate each with `word`: away, out of bounds, in use, at rest, or left."""
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
    born_precision = models.CharField(max_length=20, choices=Precision, default=Precision.DAY)
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
    drawn_from = models.ForeignKey(
        "animals.Group", on_delete=models.PROTECT, null=True, blank=True, related_name="drawn"
    )
    arrived_on = models.DateField()
    left_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=ANIMAL.choices, default=ANIMAL.first)

    objects = AnimalQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["taxon__common_name", "code"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["taxon"], condition=Q(left_on=None), name="animals_kept"),
            models.Index(fields=["left_on"], condition=~Q(left_on=None), name="animals_gone"),
        ]

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
        LITTER = "litter", "litter or brood"

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
    is_estimated = models.BooleanField(default=False)
    born_on = models.DateField(null=True, blank=True)
    born_precision = models.CharField(max_length=20, choices=Precision, default=Precision.DAY)
    arrived_on = models.DateField()
    left_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=GROUP.choices, default=GROUP.first)

    objects = GroupQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["taxon__common_name", "code"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["taxon", "males", "females", "unknown"],
                condition=Q(left_on=None),
                name="groups_kept",
            ),
            models.Index(fields=["left_on"], condition=~Q(left_on=None), name="groups_gone"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Give the address of the group's page."""
        return f"/animals/groups/{self.pk}/"

    @property
    def number(self) -> int:
        """How many animals it holds now."""
        return self.males + self.females + self.unknown


class OfOne(models.Model):
    """Something about one animal or one group."""

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, null=True, blank=True)
    group = models.ForeignKey(Group, on_delete=models.PROTECT, null=True, blank=True)

    class Meta:
        abstract = True
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=one_of("animal", "group"), name="%(class)s_of_one")
        ]

    @property
    def subject(self) -> Any:
        """The animal or the group."""
        return self.animal or self.group
