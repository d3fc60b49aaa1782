"""Say why an animal may not be offered to a project, enrolled in it or used: one list of sentences.

The pages show these sentences before anything is sent, and the deeds refuse with the same ones.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Group, Restriction
from registry.oversight.counting import Subject
from registry.oversight.facts import (
    event_of,
    is_of_quarantine,
    is_watching_only,
    needed_by,
    subject_of,
    used_of,
)
from registry.oversight.limits import EventFacts, day_said, uncovered, uncovered_each
from registry.oversight.margins import Margin, margins
from registry.oversight.models import BookedSubject, Booking, Enrolment
from registry.projects.models import Plan, Procedure, Project

type Bars = dict[Subject, list[str]]


def _bars(subjects: Iterable[Animal | Group]) -> Bars:
    return {subject_of(one): [] for one in subjects}


# ------------------------------------------------------------------------------------ restrictions


def restriction_said(restriction: Restriction) -> str:
    """Give a restriction as a sentence that a bar can end with."""
    until = (
        f", expected to end {day_said(restriction.expected_end_on)}"
        if (restriction.expected_end_on and restriction.ended_on is None)
        else ""
    )
    return (
        f"{restriction.subject} is under a restriction since {day_said(restriction.began_on)} "
        f"({restriction.get_sort_display()}: {restriction.get_strength_display()}{until})."
    )


def is_passed(restriction: Restriction) -> bool:
    """Say whether a declared study of quarantine may pass a restriction by: quarantine alone."""
    return (
        restriction.sort == Restriction.Sort.QUARANTINE
        and restriction.strength != Restriction.Strength.VETS_WORD
    )


def _biting(
    found: Iterable[Restriction], project: Project | None, *, is_contact: bool
) -> list[Restriction]:
    """Give those that bar this work: watching may pass some by, a quarantine study others."""
    passes = is_of_quarantine(project)
    return [
        one
        for one in found
        if (is_contact or not one.bars_contact_only) and not (passes and is_passed(one))
    ]


def restricted_on(
    subjects: Sequence[Animal | Group],
    day: date,
    *,
    is_contact: bool,
    project: Project | None = None,
) -> Bars:
    """Give the restrictions that bar these subjects on a day, by where they lived on that day."""
    bars = _bars(subjects)
    animals = [one for one in subjects if isinstance(one, Animal)]
    groups = [one for one in subjects if isinstance(one, Group)]
    found = Restriction.objects.barring_on(animals, groups, day)
    rows = found.select_related("animal", "group", "enclosure")
    for restriction in _biting(rows, project, is_contact=is_contact):
        for one in subjects:
            if _is_on(restriction, one, day):
                bars[subject_of(one)].append(restriction_said(restriction))
    return bars


def _is_on(restriction: Restriction, subject: Animal | Group, day: date) -> bool:
    if restriction.enclosure_id is None:
        held = restriction.animal_id if isinstance(subject, Animal) else restriction.group_id
        return held == subject.pk
    # Few restrictions are on enclosures, and where a subject lived on a day takes its events.
    here = ([subject], []) if isinstance(subject, Animal) else ([], [subject])
    return Restriction.objects.barring_on(*here, day).filter(pk=restriction.pk).exists()


def _overlapping(first: date, last: date) -> Q:
    """Restrictions in force within these days: open-ended ones, and those expected to last."""
    today = timezone.localdate()
    still = Q(ended_on=None) & (
        Q(expected_end_on=None) | Q(expected_end_on__gte=first) | Q(expected_end_on__lt=today)
    )
    return Q(began_on__lte=last) & (still | Q(ended_on__gt=first))


# --------------------------------------------------------------------------------------- offering


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
    bars = _bars(wanted.subjects)
    for one in wanted.subjects:
        bars[subject_of(one)] += _not_here(one, wanted.starts_on, wanted.ends_on)
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
    biting = Restriction.objects.filter(_overlapping(first, last))
    if not is_contact:
        biting = biting.exclude(strength=Restriction.Strength.OBSERVATION_ONLY)
    taken = _taken(first, last)
    if not is_contact:
        taken = taken.exclude(booking__project__in=_watching())
    here = rows.filter(arrived_on__lte=first).filter(Q(left_on=None) | Q(left_on__gt=last))
    away = rows.model._default_manager.filter(_away(first)).order_by()
    here = here.exclude(pk__in=away.values("pk"))
    for barring in (biting, taken):
        of_it = barring.filter(**{f"{name}__isnull": False}).order_by()
        here = here.exclude(pk__in=of_it.values(name))
    around = biting.filter(enclosure__isnull=False).order_by().values("enclosure")
    return here.exclude(enclosure__isnull=False, enclosure__in=around)


def barred_places(wanted: Wanted) -> list[str]:
    """Say which of the places are themselves under a restriction within the dates."""
    found = Restriction.objects.filter(
        _overlapping(wanted.starts_on, wanted.ends_on), enclosure__in=wanted.places
    ).select_related("enclosure")
    biting = _biting(found, wanted.project, is_contact=wanted.is_contact)
    return [restriction_said(one) for one in biting]


def _not_here(subject: Animal | Group, first: date, last: date) -> list[str]:
    if subject.left_on is not None and subject.left_on <= last:
        return [f"{subject} left the collection on {day_said(subject.left_on)}."]
    if subject.arrived_on > first:
        return [f"{subject} came to the collection on {day_said(subject.arrived_on)} only."]
    return []


def _add_restrictions(bars: Bars, wanted: Wanted, *, is_contact: bool) -> None:
    """Add the restrictions on the subjects, or on where they live now."""
    found = (
        Restriction.objects.filter(_overlapping(wanted.starts_on, wanted.ends_on))
        .barring(wanted.animals, [group for group, _ in wanted.groups])
        .select_related("animal", "group", "enclosure")
    )
    for restriction in _biting(found, wanted.project, is_contact=is_contact):
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


def _watching() -> QuerySet[Any]:
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
        taken = taken.exclude(booking__project__in=_watching())
    for one in taken:
        project = one.booking.project
        subject: Any = one.animal or one.group
        span = f"{day_said(one.booking.starts_on)} to {day_said(one.booking.ends_on)}"
        bars[subject_of(subject)].append(
            f"{subject} is {one.booking.state} to “{project}” from {span}."
        )


# -------------------------------------------------------------------------------------- enrolling


def barred_from_enrolment(
    booking: Booking,
    subjects: Sequence[BookedSubject],
    from_on: date,
    number: int | None = None,
    *,
    is_together: bool = True,
) -> dict[int, list[str]]:
    """Say why each booked subject may not be enrolled from a day on, by its number.

    Together, subjects are held against the limits in the order given: where places run short, it
    is the last ones that find none; else each as if it came alone. `number` is how many of each
    group; without it, all that are booked.
    """
    project = booking.project
    rows: list[Any] = [one.animal or one.group for one in subjects]
    procedures = _planned(project)
    is_contact = not procedures or any(one.is_contact for one in procedures)
    said: dict[int, list[str]] = {one.pk: [] for one in subjects}
    restricted = restricted_on(rows, from_on, is_contact=is_contact, project=project)
    live = set(
        Enrolment.objects.filter(
            project=project, state="enrolled", animal__isnull=False
        ).values_list("animal_id", flat=True)
    )
    numbers = {one.pk: enrolling(one, number) for one in subjects}
    missing = _missing_permissions(
        project, subjects, from_on, procedures, numbers, is_together=is_together
    )
    for one, row in zip(subjects, rows, strict=True):
        here = said[one.pk]
        if one.animal_id in live:
            here.append(f"{row} is enrolled in this project already.")
        here += _not_here(row, from_on, from_on)
        here += restricted[subject_of(row)]
        here += missing[one.pk]
    _add_group_numbers(said, booking, subjects, numbers)
    return said


def enrolling(one: BookedSubject, number: int | None) -> int:
    """Give how many animals an enrolment of this subject takes."""
    return one.number if number is None or one.group_id is None else number


def _planned(project: Project) -> list[Procedure]:
    return list(Procedure.objects.filter(plans__project=project).order_by("pk"))


def _missing_permissions(
    project: Project,
    subjects: Sequence[BookedSubject],
    day: date,
    procedures: Sequence[Procedure],
    numbers: dict[int, int],
    *,
    is_together: bool,
) -> dict[int, list[str]]:
    """Hold each subject with each planned procedure against every needed permission."""
    needed = needed_by(project, day)
    used = used_of(needed, {one.pk for one in procedures})
    owners, events = _entering(project, subjects, day, procedures, numbers)
    said: dict[int, list[str]] = {one.pk: [] for one in subjects}
    judged = (
        uncovered_each(events, needed, used)
        if is_together
        else [uncovered(event, needed, used) for event in events]
    )
    for owner, found in zip(owners, judged, strict=True):
        said[owner] += [short.said for short in found if short.said not in said[owner]]
    if not procedures:
        for words in said.values():
            words.append("The plan names no procedure, so no limit can cover it.")
    return said


def _entering(
    project: Project,
    subjects: Sequence[BookedSubject],
    day: date,
    procedures: Sequence[Procedure],
    numbers: dict[int, int],
) -> tuple[list[int], list[EventFacts]]:
    """Give each subject with each planned procedure as an event, and whose it is."""
    severity = project.plan.max_severity
    events, owners = [], []
    planned: list[Procedure | None] = [*procedures] or [None]
    for one in subjects:
        row: Any = one.animal or one.group
        for procedure in planned:
            expected = severity if procedure is None else max(severity, procedure.severity)
            events.append(
                event_of(
                    row,
                    project=project,
                    day=day,
                    procedure=procedure,
                    place=row.enclosure,
                    severity=expected,
                    animals=numbers[one.pk],
                    contacts=0,
                )
            )
            owners.append(one.pk)
    return owners, events


def margins_of(booking: Booking, day: date) -> list[Margin]:
    """Give every limit that enrolling the rest of a booking on a day would be held against.

    What is enrolled already asks for nothing more. An empty list: nothing is left to enrol.
    """
    project = booking.project
    rest = _unenrolled(booking)
    if not rest:
        return []
    procedures = _planned(project)
    needed = needed_by(project, day)
    used = used_of(needed, {one.pk for one in procedures})
    numbers = {one.pk: left for one, left in rest}
    _owners, events = _entering(project, [one for one, _ in rest], day, procedures, numbers)
    return margins(events, needed, used)


def _unenrolled(booking: Booking) -> list[tuple[BookedSubject, int]]:
    """Give the booked animals that are not enrolled, and how many of each group are not."""
    enrolled: dict[tuple[int | None, int | None], int] = {}
    for one in booking.enrolments.filter(state="enrolled"):
        key = (one.animal_id, one.group_id)
        enrolled[key] = enrolled.get(key, 0) + one.number
    rows = booking.subjects.select_related(
        "animal__taxon", "animal__enclosure", "group__taxon", "group__enclosure"
    )
    left = [(one, one.number - enrolled.get((one.animal_id, one.group_id), 0)) for one in rows]
    return [pair for pair in left if pair[1] > 0]


def _add_group_numbers(
    said: dict[int, list[str]],
    booking: Booking,
    subjects: Sequence[BookedSubject],
    numbers: dict[int, int],
) -> None:
    """Add the groups of which more would be enrolled than were booked."""
    before: dict[int | None, int] = {}
    for group, number in Enrolment.objects.filter(
        booking=booking, state="enrolled", group__isnull=False
    ).values_list("group_id", "number"):
        before[group] = before.get(group, 0) + number
    for one in subjects:
        enrolled = before.get(one.group_id, 0)
        if one.group_id is not None and not 1 <= numbers[one.pk] <= one.number - enrolled:
            said[one.pk].append(
                f"{one.number} of {one.group} are booked and {enrolled} of them enrolled; "
                f"{numbers[one.pk]} more were asked for."
            )
