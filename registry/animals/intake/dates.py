"""Days as people write them in a sheet: ISO, or day and month in an order that must be known."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Order(StrEnum):
    """Which number comes first in 04/05/2026."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"


_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_NUMBERS = re.compile(r"(\d{1,2})([/.-])(\d{1,2})\2(\d{4})")
_WORDS = re.compile(r"(\d{1,2})[ -]([A-Za-z]{3,9})\.?[ -](\d{4})")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_LAST_MONTH = 12


@dataclass(frozen=True)
class Reading:
    """How the days of one column are to be read.

    Parameters
    ----------
    order : Order or None
        Which number comes first; None where no day of the column is written so, or where it
        must be asked.
    is_asked : bool
        Whether a person must say which.
    shown_by : tuple of (int, str) or None
        The row and the day that show the order.
    """

    order: Order | None = None
    is_asked: bool = False
    shown_by: tuple[int, str] | None = None


def reading_of(days: Iterable[tuple[int, str]], chosen: Order | None = None) -> Reading:
    """Find out how the days of a column are to be read.

    Parameters
    ----------
    days : iterable of (int, str)
        Row numbers with what stands there.
    chosen : Order, optional
        What a person said; it is taken only where the column itself does not show it.

    Examples
    --------
    >>> reading_of([(2, "04/05/2026"), (3, "24/11/2026")]).order
    <Order.DAY_FIRST: 'day_first'>
    >>> reading_of([(2, "04/05/2026")]).is_asked
    True
    >>> reading_of([(2, "05/05/2026"), (3, "2026-05-04")]).is_asked
    False
    """
    is_open = False
    for row, text in days:
        found = _NUMBERS.fullmatch(text)
        if found is None:
            continue
        first, second = int(found[1]), int(found[3])
        if first > _LAST_MONTH:
            return Reading(Order.DAY_FIRST, shown_by=(row, text))
        if second > _LAST_MONTH:
            return Reading(Order.MONTH_FIRST, shown_by=(row, text))
        is_open = is_open or first != second
    if not is_open:
        return Reading(Order.DAY_FIRST)
    return Reading(chosen) if chosen is not None else Reading(is_asked=True)


def read_day(text: str, order: Order | None) -> date | None:
    """Read one day; None where it is none.

    Examples
    --------
    >>> read_day("24/11/2026", Order.DAY_FIRST)
    datetime.date(2026, 11, 24)
    >>> read_day("24 Nov 2026", None)
    datetime.date(2026, 11, 24)
    >>> read_day("45987", Order.DAY_FIRST) is None
    True
    """
    parts: tuple[int, int, int] | None = None
    if found := _ISO.fullmatch(text):
        parts = int(found[1]), int(found[2]), int(found[3])
    elif (found := _NUMBERS.fullmatch(text)) and order is not None:
        day, month = int(found[1]), int(found[3])
        if order is Order.MONTH_FIRST:
            day, month = month, day
        parts = int(found[4]), month, day
    elif (found := _WORDS.fullmatch(text)) and found[2][:3].lower() in _MONTHS:
        parts = int(found[3]), _MONTHS.index(found[2][:3].lower()) + 1, int(found[1])
    if parts is None:
        return None
    try:
        return date(*parts)
    except ValueError:
        return None
