"""What every arrival shares: the days that hold together, and the first event of a life here."""

from datetime import date
from typing import Any

from registry.animals.days import not_before, not_to_come
from registry.animals.models import Animal, Event, Group


def check_days(arrived_on: date, born_on: date | None, *, what: str) -> None:
    """Refuse an arrival that is to come, or that lies before the birth.

    Raises
    ------
    Unsound
        With the complaint under the field.
    """
    not_to_come(arrived_on, what=what, field="arrived_on")
    if born_on is not None:
        not_before(arrived_on, born_on, "it was born", what=what, field="arrived_on")


def first_event(subject: Animal | Group, *, by: Any) -> Event:
    """Give the event of an arrival, not yet saved; one born on that day was born here."""
    shared: dict[str, Any] = {
        "happened_on": subject.arrived_on,
        "enclosure": subject.enclosure,
        "recorded_by": by,
    }
    if isinstance(subject, Animal):
        is_birth = subject.born_on == subject.arrived_on
        sort = Event.Sort.BORN if is_birth else Event.Sort.ARRIVED
        return Event(animal=subject, sort=sort, **shared)
    numbers = {"males": subject.males, "females": subject.females, "unknown": subject.unknown}
    return Event(group=subject, sort=Event.Sort.ARRIVED, **numbers, **shared)
