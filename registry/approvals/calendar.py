"""When a body can decide, and when what was approved runs out: days and nothing else.

All days are calendar days at the site.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

_DAY = timedelta(days=1)
WARNED_D = (60, 30, 7)
"""So many days before its last day it is said that an approval runs out: a house rule, no source.
"""


@dataclass(frozen=True, slots=True)
class Sitting:
    """A meeting of a body.

    Parameters
    ----------
    held_on : date
    papers_by : date
        The last day on which papers for it are taken; not after it.
    """

    held_on: date
    papers_by: date


def first_to_decide(sittings: Iterable[Sitting], submitted_on: date) -> Sitting | None:
    """Give the first meeting that can decide what is submitted on a day; None where none is known.

    Parameters
    ----------
    sittings : iterable of Sitting
        In any order; meetings that were called off are left out by the caller.
    submitted_on : date

    Examples
    --------
    >>> may = [Sitting(date(2026, 5, 20), date(2026, 5, 6)), Sitting(date(2026, 6, 17),
    ...        date(2026, 6, 3))]
    >>> first_to_decide(may, date(2026, 5, 7)).held_on.isoformat()
    '2026-06-17'
    """
    in_time = [one for one in sittings if one.papers_by >= submitted_on]
    return min(in_time, key=lambda one: (one.held_on, one.papers_by), default=None)


def is_warned_on(ends_on: date, today: date) -> bool:
    """Say whether a warning begins on this very day: then it is told by letter too.

    Parameters
    ----------
    ends_on : date
        The last day on which the approval is in force.
    today : date

    Examples
    --------
    >>> [n for n in range(90) if is_warned_on(date(2026, 6, 30), date(2026, 6, 30) - n * _DAY)]
    [7, 30, 60]
    """
    return (ends_on - today) // _DAY in WARNED_D
