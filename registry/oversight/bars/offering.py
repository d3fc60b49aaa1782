"""Why an animal, a group or a place may not be offered to a project within some days."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Group, Restriction
from registry.oversight.bars.restrictions import (
    Bars,
    biting,
    no_bars,
    overlapping,
    restriction_said,
)
from registry.oversight.facts import is_watching_only, subject_of
from registry.oversight.limits import day_said
from registry.oversight.models import BookedSubject, Booking
from registry.projects.models import Plan, Project


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a booking offers, or would offer; without a project, what any might ask for."""

    project: Project | None
    animals: Sequence[Animal]
    groups: Sequence[tuple[Group, int]]
    places: Sequence[Enclosure]
    starts_on: date
    ends_on: date
    booking: int | None = None

    @property
    def is_contact(self) -> bool:
        """Whether hands-on work is meant; one query."""
        return self.project is None or not is_watching_only(self.project)

    @property
    def subjects(self) -> list[Animal | Group]:
        """Animals and groups together."""
        return [*self.animals, *(group for group, _ in self.groups)]


def wanted_of(booking: Booking) -> Wanted:
    """Give what a booking offers."""
    subjects = list(booking.subjects.select_related("animal__taxon", "group__taxon").order_by("pk"))
    return Wanted(
        booking.project,
        [one.animal for one in subjects if one.animal],
        [(one.group, one.number) for one in subjects if one.group],
        list(booking.places.all()),
        booking.starts_on,
        booking.ends_on,
        booking.pk,
    )


def barred_from_offer(wanted: Wanted) -> Bars:
    """Say why each subject may not be offered within the dates; an empty list is no bar."""
    bars = barred_between(wanted, is_contact=wanted.is_contact)
    for group, number in wanted.groups:
        if not 1 <= number <= group.number:
            bars[subject_of(group)].append(
                f"{group} holds {group.number} animals; {number} were asked of it."
            )
    return bars


def barred_between(wanted: Wanted, *, is_contact: bool) -> Bars:
    """Say what keeps each subject from work within the dates, a few queries for all of them."""
    bars = no_bars(wanted.subjects)
    for one in wanted.subjects:
        bars[subject_of(one)] += not_here(one, wanted.starts_on, wanted.ends_on)
    _add_custodies(bars, wanted)
    _add_restrictions(bars, wanted, is_contact=is_contact)
    _add_bookings(bars, wanted, is_contact=is_contact)
    return bars


def _away(first: date) -> Q:
    """Say which are in a partner’s custody, and not expected back before a day."""
    today = timezone.localdate()
    late = Q(custodies__expected_end_on__gte=first) | Q(custodies__expected_end_on__lt=today)
    return Q(custodies__state="given") & late


def _add_custodies(bars: Bars, wanted: Wanted) -> None:
    """Add what a partner keeps for anything but the project that asks; a query for each kind."""
    for model in (Animal, Group):
        held = {one.pk: one for one in wanted.subjects if isinstance(one, model)}
        away = model._default_manager.filter(_away(wanted.starts_on), pk__in=held).order_by()
        columns = ("pk", "custodies__project", "custodies__holder__name")
        for pk, project, holder, until in away.values_list(*columns, "custodies__expected_end_on"):
            if wanted.project is None or project != wanted.project.pk:
                bars[subject_of(held[pk])].append(
                    f"{held[pk]} is in the custody of {holder}, expected back {day_said(until)}."
                )


def free_between[M: Animal | Group](
    rows: QuerySet[M], first: date, last: date, *, is_contact: bool
) -> QuerySet[M]:
    """Give the animals, or the groups, that `barred_between` would find nothing against."""
    name = str(rows.model.kind)
    bites = Restriction.objects.filter(overlapping(first, last))
    if not is_contact:
        bites = bites.exclude(strength=Restriction.Strength.OBSERVATION_ONLY)
    taken = _taken(first, last)
    if not is_contact:
        taken = taken.exclude(booking__project__in=watching())
    here = rows.filter(arrived_on__lte=first).filter(Q(left_on=None) | Q(left_on__gt=last))
    away = rows.model._default_manager.filter(_away(first)).order_by()
    here = here.exclude(pk__in=away.values("pk"))
    for barring in (bites, taken):
        of_it = barring.filter(**{f"{name}__isnull": False}).order_by()
        here = here.exclude(pk__in=of_it.values(name))
    around = bites.filter(enclosure__isnull=False).order_by().values("enclosure")
    return here.exclude(enclosure__isnull=False, enclosure__in=around)


def barred_places(wanted: Wanted) -> list[str]:
    """Say which of the places are themselves under a restriction within the dates."""
    found = Restriction.objects.filter(
        overlapping(wanted.starts_on, wanted.ends_on), enclosure__in=wanted.places
    ).select_related("enclosure")
    bites = biting(found, wanted.project, is_contact=wanted.is_contact)
    return [restriction_said(one) for one in bites]


def not_here(subject: Animal | Group, first: date, last: date) -> list[str]:
    """Say that a subject is not in the collection all through these days."""
    if subject.left_on is not None and subject.left_on <= last:
        return [f"{subject} left the collection on {day_said(subject.left_on)}."]
    if subject.arrived_on > first:
        return [f"{subject} came to the collection on {day_said(subject.arrived_on)} only."]
    return []


def _add_restrictions(bars: Bars, wanted: Wanted, *, is_contact: bool) -> None:
    """Add the restrictions on the subjects, or on where they live now."""
    found = (
        Restriction.objects.filter(overlapping(wanted.starts_on, wanted.ends_on))
        .barring(wanted.animals, [group for group, _ in wanted.groups])
        .select_related("animal", "group", "enclosure")
    )
    for restriction in biting(found, wanted.project, is_contact=is_contact):
        for one in wanted.subjects:
            held = restriction.animal_id if isinstance(one, Animal) else restriction.group_id
            lives_in = restriction.enclosure_id is not None and (
                restriction.enclosure_id == one.enclosure_id
            )
            if held == one.pk or lives_in:
                bars[subject_of(one)].append(restriction_said(restriction))


def _taken(first: date, last: date) -> QuerySet[BookedSubject]:
    """Give what projects hold within these days."""
    return BookedSubject.objects.filter(
        booking__state__in=["offered", "confirmed"],
        booking__starts_on__lte=last,
        booking__ends_on__gte=first,
    )


def watching() -> QuerySet[Any]:
    """Give the projects that only watch: their plans name procedures, and none is hands-on."""
    plans = Plan.objects.order_by()
    hands_on = plans.filter(procedures__is_contact=True).values("project")
    return plans.filter(procedures__isnull=False).exclude(project__in=hands_on).values("project")


def _add_bookings(bars: Bars, wanted: Wanted, *, is_contact: bool) -> None:
    """Add what other projects hold in these days, where either does more than watch.

    Members of a group are not told apart, so a group that two projects would handle is as much in
    question as an animal is.
    """
    taken = (
        _taken(wanted.starts_on, wanted.ends_on)
        .filter(Q(animal__in=wanted.animals) | Q(group__in=[group for group, _ in wanted.groups]))
        .select_related("booking__project__study", "animal", "group")
        .order_by("pk")
    )
    if wanted.project is not None:
        taken = taken.exclude(booking__project=wanted.project)
    if not is_contact:
        taken = taken.exclude(booking__project__in=watching())
    for one in taken:
        project = one.booking.project
        subject: Any = one.animal or one.group
        span = f"{day_said(one.booking.starts_on)} to {day_said(one.booking.ends_on)}"
        bars[subject_of(subject)].append(
            f"{subject} is {one.booking.state} to “{project}” from {span}."
        )
