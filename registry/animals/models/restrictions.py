"""Keep off: what bars an animal, a group or an enclosure from research, and for how long."""

from collections.abc import Iterable
from typing import Any, ClassVar

from django.apps import apps
from django.conf import settings
from django.db import models
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from registry.animals.lifecycle import RESTRICTION
from registry.animals.models.events import Event
from registry.animals.models.words import one_of
from registry.lifecycle import Lifecycle


class RestrictionQuerySet(models.QuerySet["Restriction"]):
    """Reads of restrictions."""

    def in_force_on(self, day: Any, known_by: Any = None) -> "RestrictionQuerySet":
        """Restrictions that bar something on this day, by what was recorded up to a moment.

        The day on which one ends is free again: a veterinary surgeon's word holds at once. One
        that is past its expected end and was not ended still bars. Without a moment all that is
        recorded counts, whichever day that was.
        """
        lasting = Q(ended_on=None) | Q(ended_on__gt=day)
        if known_by is None:
            return self.filter(lasting, began_on__lte=day)
        lasting |= Q(end_recorded_at__gt=known_by)
        return self.filter(lasting, began_on__lte=day, recorded_at__lte=known_by)

    def barring(self, animals: Any, groups: Any) -> "RestrictionQuerySet":
        """Restrictions on these animals and groups, or on the enclosures in which they live now.

        Each is a query or a list, of rows or of their ids; a restriction comes once.
        """
        animal_ids, group_ids = _ids(animals), _ids(groups)
        lived_in = Q(enclosure__in=_homes("animal", animal_ids)) | Q(
            enclosure__in=_homes("group", group_ids)
        )
        return self.filter(Q(animal__in=animal_ids) | Q(group__in=group_ids) | lived_in)

    def barring_on(self, animals: Any, groups: Any, day: Any) -> "RestrictionQuerySet":
        """Restrictions in force on a day, by where these animals and groups lived on that day."""
        animal_ids, group_ids = _ids(animals), _ids(groups)
        lived_in = Q(enclosure__in=_homes_on("animal", animal_ids, day)) | Q(
            enclosure__in=_homes_on("group", group_ids, day)
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


def _all(name: str) -> QuerySet[Any]:
    """Give all animals or all groups; their models stand above this file."""
    rows: QuerySet[Any] = apps.get_model("animals", name)._default_manager.order_by()
    return rows


def _homes(name: str, ids: Any) -> QuerySet[Any]:
    """Give the enclosures of rows as a sub-select: a join would give a restriction twice."""
    return _all(name).filter(pk__in=ids, enclosure__isnull=False).values("enclosure")


def _homes_on(name: str, ids: Any, day: Any) -> QuerySet[Any]:
    """Give the enclosures in which rows lived on a day, as their events have it."""
    placed = Event.objects.placing().filter(**{name: OuterRef("pk")}, happened_on__lte=day)
    newest = placed.order_by("-happened_on", "-pk").values("enclosure")[:1]
    rows = _all(name).filter(pk__in=ids).filter(Q(left_on=None) | Q(left_on__gte=day))
    found: QuerySet[Any] = rows.annotate(home=Subquery(newest)).filter(home__isnull=False)
    return found.values("home")


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
        RESTING = "resting", "resting between uses"
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
        "animals.Animal",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="restrictions",
    )
    group = models.ForeignKey(
        "animals.Group",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="restrictions",
    )
    enclosure = models.ForeignKey(
        "animals.Enclosure",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="restrictions",
    )
    sort = models.CharField(max_length=20, choices=Sort)
    strength = models.CharField(max_length=20, choices=Strength, default=Strength.BARS_ALL)
    note = models.TextField(blank=True)
    began_on = models.DateField(default=timezone.localdate)
    expected_end_on = models.DateField(null=True, blank=True)
    earliest_end_on = models.DateField(
        null=True, blank=True, help_text="It may not be ended before this day."
    )
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
    inherited_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="heirs",
        help_text="That of an animal or a group from which this one cannot be told apart.",
    )  # fmt: skip
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

    @classmethod
    def usual(cls, sort: str) -> str:
        """Give the strength that is usual for a sort; the house's own rule, no source."""
        return str(_USUAL.get(cls.Sort(sort), cls.Strength.BARS_ALL))

    @property
    def subject(self) -> Any:
        """What it is on: an animal, a group or an enclosure."""
        return self.animal or self.group or self.enclosure

    def reaches(self, subject: Any) -> bool:
        """Say whether it is on this animal or group, or on the enclosure in which it lives now."""
        if self.enclosure_id is not None:
            return bool(self.enclosure_id == subject.enclosure_id)
        own = self.animal_id if subject.kind == "animal" else self.group_id
        return bool(own == subject.pk)

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


_USUAL = {
    Restriction.Sort.GRAVID: Restriction.Strength.OBSERVATION_ONLY,
    Restriction.Sort.REARING: Restriction.Strength.OBSERVATION_ONLY,
    Restriction.Sort.RESTING: Restriction.Strength.OBSERVATION_ONLY,
    Restriction.Sort.TREATMENT: Restriction.Strength.VETS_WORD,
}
"""Strengths that differ from “bars all” by what the restriction is for."""
