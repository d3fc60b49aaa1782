"""Which restrictions bar work with an animal on a day, or within days."""

from collections.abc import Iterable, Sequence
from datetime import date

from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Animal, Group, Restriction
from registry.oversight.counting import Subject
from registry.oversight.facts import is_of_quarantine, subject_of
from registry.oversight.limits import day_said
from registry.projects.models import Project

type Bars = dict[Subject, list[str]]


def no_bars(subjects: Iterable[Animal | Group]) -> Bars:
    """Give an empty list for each subject."""
    return {subject_of(one): [] for one in subjects}


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


def biting(
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
    bars = no_bars(subjects)
    animals = [one for one in subjects if isinstance(one, Animal)]
    groups = [one for one in subjects if isinstance(one, Group)]
    found = Restriction.objects.barring_on(animals, groups, day)
    rows = found.select_related("animal", "group", "enclosure")
    for restriction in biting(rows, project, is_contact=is_contact):
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


def overlapping(first: date, last: date) -> Q:
    """Give restrictions in force within these days: open-ended ones, and those expected to last."""
    today = timezone.localdate()
    still = Q(ended_on=None) & (
        Q(expected_end_on=None) | Q(expected_end_on__gte=first) | Q(expected_end_on__lt=today)
    )
    return Q(began_on__lte=last) & (still | Q(ended_on__gt=first))
