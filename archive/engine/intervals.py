"""Days held against coded intervals, many rows at a time and exactly, open ends included."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

Days = NDArray[np.datetime64]
Flags = NDArray[np.bool_]

# Python's days run from year 1 to 9999: 719,162 before 1970 and 2,932,896 after it.
_HALF = 4_000_000
_SPAN = 2 * _HALF


def days_of(values: Iterable[Any]) -> Days:
    """Give the calendar days of dates and datetimes as written; anything else is NaT.

    Returns
    -------
    ndarray of datetime64[D]

    Notes
    -----
    The day of a time with a zone is the day that was written, in that zone.

    Examples
    --------
    >>> str(days_of([date(2026, 5, 31), None])[0])
    '2026-05-31'
    """
    plain = [
        value.date() if isinstance(value, datetime) else value if isinstance(value, date) else None
        for value in values
    ]
    return np.array(plain, dtype="datetime64[D]")


def codes_of(values: Iterable[Any]) -> list[str]:
    """Give codes as text without outer spaces; an empty cell is ""."""
    return ["" if value is None else str(value).strip() for value in values]


class CodedDays:
    """Disjoint day intervals for each code, asked for whole columns at once.

    Parameters
    ----------
    items : iterable of (code, since, until)
        First and last day are both inside; None is open. Intervals of one code may overlap.

    Notes
    -----
    Intervals of one code are merged and laid on one line, code after code, so that one binary
    search answers for all rows: O(n log k) for n rows and k intervals.

    Examples
    --------
    >>> enrolled = CodedDays([("CE-07", date(2026, 3, 1), date(2026, 3, 9))])
    >>> ids = enrolled.number(["CE-07", "CE-07", "CE-99"])
    >>> enrolled.covers(ids, days_of([date(2026, 3, 9), date(2026, 3, 10), date(2026, 3, 9)]))
    array([ True, False, False])
    """

    def __init__(self, items: Iterable[tuple[str, date | None, date | None]]) -> None:
        by_code: dict[str, list[tuple[int, int]]] = {}
        for code, since, until in items:
            span = (_number(since, 1 - _HALF), _number(until, _HALF - 1))
            by_code.setdefault(code, []).append(span)
        self.codes = {code: number for number, code in enumerate(by_code)}
        starts: list[int] = []
        ends: list[int] = []
        for code, spans in by_code.items():
            offset = self.codes[code] * _SPAN + _HALF
            for first, last in _merged(spans):
                starts.append(first + offset)
                ends.append(last + offset)
        self._starts = np.array(starts, dtype=np.int64)
        self._ends = np.array(ends, dtype=np.int64)

    def number(self, codes: Sequence[str]) -> NDArray[np.int64]:
        """Give each code's number, -1 where it is not known."""
        lookup = self.codes
        return np.array([lookup.get(code, -1) for code in codes], dtype=np.int64)

    def covers(self, numbers: NDArray[np.int64], days: Days) -> Flags:
        """Whether each code holds its day; a row without a day is held by any interval.

        Parameters
        ----------
        numbers : ndarray of int64, shape (n,)
            From `number`.
        days : ndarray of datetime64[D], shape (n,)

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        known = numbers >= 0
        if not self._starts.size:
            return np.zeros(len(numbers), dtype=bool)
        dated = ~np.isnat(days)
        line = np.where(dated, days.astype(np.int64), 0) + numbers * _SPAN + _HALF
        at = np.searchsorted(self._starts, line, side="right") - 1
        inside = (at >= 0) & (line <= self._ends[np.maximum(at, 0)])
        return known & (inside | ~dated)


def _number(day: date | None, otherwise: int) -> int:
    return otherwise if day is None else (day - date(1970, 1, 1)).days


def _merged(spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    merged: list[tuple[int, int]] = []
    for first, last in sorted(span for span in spans if span[0] <= span[1]):
        if merged and first <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(last, merged[-1][1]))
        else:
            merged.append((first, last))
    return merged
