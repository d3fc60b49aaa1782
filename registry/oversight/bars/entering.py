"""Why a booked animal may not be enrolled, and every limit that enrolling it is held against."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from registry.approvals.reusing import reuses_of
from registry.approvals.rules.reuse import Reuse, Sort
from registry.oversight.bars.offering import not_here
from registry.oversight.bars.restrictions import restricted_on
from registry.oversight.bars.units import shared_units
from registry.oversight.facts import event_of, needed_by, subject_of
from registry.oversight.limits import EventFacts, uncovered, uncovered_each
from registry.oversight.margins import Limited, Margin, margins
from registry.oversight.models import BookedSubject, Booking, Enrolment
from registry.oversight.used import used_of
from registry.projects.models import Procedure, Project


def barred_from_enrolment(
    booking: Booking,
    subjects: Sequence[BookedSubject],
    from_on: date,
    number: int | None = None,
    *,
    unit: str = "",
    is_together: bool = True,
) -> dict[int, list[str]]:
    """Say why each booked subject may not be enrolled from a day on, by its number.

    Together, subjects are held against the limits in the order given: where places run short, it
    is the last ones that find none; else each as if it came alone. `number` is how many of each
    group; without it, all that are booked.
    """
    project = booking.project
    rows: list[Any] = [one.animal or one.group for one in subjects]
    procedures = planned_of(project)
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
    again = reuses_of(rows, from_on, project)
    shared = shared_units(project, [(row, unit) for row in rows], from_on) if is_contact else {}
    for one, row in zip(subjects, rows, strict=True):
        here = said[one.pk]
        here += shared.get(subject_of(row), [])
        if one.animal_id in live:
            here.append(f"{row} is enrolled in this project already.")
        here += not_here(row, from_on, from_on)
        here += restricted[subject_of(row)]
        here += missing[one.pk]
        here += _against_use_again(row, again)
    _add_group_numbers(said, booking, subjects, numbers)
    return said


def _against_use_again(row: Any, again: Mapping[tuple[str, int], Reuse]) -> list[str]:
    """Say what stands against using an animal again that went through a procedure elsewhere."""
    found = again[str(row.kind), row.pk]
    if found.is_allowed:
        return []
    return [f"{row} went through a procedure in another project. {' '.join(found.against)}"]


def enrolling(one: BookedSubject, number: int | None) -> int:
    """Give how many animals an enrolment of this subject takes."""
    return one.number if number is None or one.group_id is None else number


def planned_of(project: Project) -> list[Procedure]:
    """Give the procedures of a project's plan."""
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
    procedures = planned_of(project)
    needed = needed_by(project, day)
    used = used_of(needed, {one.pk for one in procedures})
    numbers = {one.pk: left for one, left in rest}
    _owners, events = _entering(project, [one for one, _ in rest], day, procedures, numbers)
    return margins(events, needed, used) + _uses_again(project, [one for one, _ in rest], day)


def _uses_again(project: Project, rest: Sequence[BookedSubject], day: date) -> list[Margin]:
    """Give the animals that went through a procedure elsewhere, as the rule on use again has it."""
    rows: list[Any] = [one.animal or one.group for one in rest]
    found = reuses_of(rows, day, project)
    again = [(row, found[str(row.kind), row.pk]) for row in rows]
    return [
        Margin(
            "use again",
            None,
            Limited.AGAIN,
            str(row),
            "consented, and a vet advises" if one.is_allowed else " ".join(one.against),
            one.sort.value,
            None,
            one.is_allowed,
        )
        for row, one in again
        if one.sort != Sort.FIRST
    ]


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
