"""A schedule asked in plain facts, as a plan keeps them."""

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from typing import Any

from registry.design.draws import Stream, seed_from
from registry.design.schedules.sessions import Busy, Schedule, Slot, schedule


def scheduled(given: Mapping[str, Any]) -> Schedule:
    """Draw a schedule from plain facts.

    Parameters
    ----------
    given : mapping
        `animals`, `days` (ISO), `slots` (start as HH:MM, and crowding), `length_min`, `seed` (64
        hexadecimal digits); optionally `per_day`, `watched`, and `busy` (begins, ends, what and
        animals of each).

    Raises
    ------
    Unsound
        As `schedule`.

    Examples
    --------
    >>> asked = {"animals": ["Moss"], "days": ["2026-05-04"], "slots": [["10:00", ""]]}
    >>> len(scheduled({**asked, "length_min": 30, "seed": "00" * 32}).sessions)
    1
    """
    return schedule(
        given["animals"],
        [date.fromisoformat(one) for one in given["days"]],
        [Slot(time.fromisoformat(start), crowding) for start, crowding in given["slots"]],
        Stream(seed_from(given["seed"])),
        busy=[_busy(one) for one in given.get("busy", [])],
        length=timedelta(minutes=given["length_min"]),
        **{name: given[name] for name in ("per_day", "watched") if given.get(name)},
    )


def _busy(given: Mapping[str, Any]) -> Busy:
    return Busy(
        datetime.fromisoformat(given["begins"]),
        datetime.fromisoformat(given["ends"]),
        given["what"],
        frozenset(given.get("animals", [])),
    )
