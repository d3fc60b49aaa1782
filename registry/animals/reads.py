"""Who was here on any day, and where: asked of the database, a few queries whatever the number."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db.models import F, Q, Sum
from django.utils import timezone

from registry.animals.models import PLACING, Animal, Enclosure, Event, Group
from registry.animals.state import State, as_of

_OF_ANIMALS = Q(animal__isnull=False) | (Q(group__isnull=False) & ~Q(group__sort=Group.Sort.CLUTCH))


def told(known_by: datetime | None = None) -> Any:
    """Give the events that stand, or that stood by what was recorded up to a moment."""
    events = Event.objects.all()
    return events.known_by(known_by) if known_by is not None else events.standing()


def numbers_on(day: date, known_by: datetime | None = None) -> int:
    """Give how many animals were in the collection at the end of a day, eggs left out."""
    found = told(known_by).filter(_OF_ANIMALS, happened_on__lte=day).order_by()
    number = found.aggregate(number=Sum(F("males") + F("females") + F("unknown")))["number"]
    return int(number or 0)


def states_on(
    subjects: Iterable[Animal | Group], day: date, known_by: datetime | None = None
) -> dict[tuple[str, int], State]:
    """Give the state of many records at the end of a day; one query for animals, one for groups."""
    found: dict[tuple[str, int], State] = {}
    keys: dict[str, list[int]] = defaultdict(list)
    for one in subjects:
        keys[str(one.kind)].append(one.pk)
    for kind, pks in keys.items():
        rows = told(known_by).filter(**{f"{kind}__in": pks}, happened_on__lte=day)
        by_row: dict[int, list[Event]] = defaultdict(list)
        for event in rows:
            by_row[getattr(event, f"{kind}_id")].append(event)
        found |= {(kind, pk): as_of(by_row[pk]) for pk in pks}
    return found


def lived_in(
    enclosure: Enclosure, day: date, known_by: datetime | None = None
) -> list[tuple[Animal | Group, State]]:
    """Give who lived in an enclosure at the end of a day, with the state of each; four queries."""
    came = told(known_by).filter(sort__in=PLACING, enclosure=enclosure, happened_on__lte=day)
    animals = Animal.objects.filter(pk__in=came.filter(animal__isnull=False).values("animal"))
    groups = Group.objects.filter(pk__in=came.filter(group__isnull=False).values("group"))
    rows: list[Animal | Group] = [
        *animals.select_related("taxon"),
        *groups.select_related("taxon"),
    ]
    states = states_on(rows, day, known_by)
    return [
        (row, state)
        for row in rows
        if (state := states[str(row.kind), row.pk]).is_here and state.enclosure == enclosure.pk
    ]


def end_of(day: date) -> datetime:
    """Give the last moment of a day in local time: what was known by then."""
    return timezone.make_aware(datetime.combine(day, datetime.max.time()))
