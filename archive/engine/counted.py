"""A day, a moment and a time of day as one number, without a library of numbers."""

from datetime import date, datetime, time
from typing import Any

_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - times without a zone are compared as they are
_FIRST_DAY = date(1970, 1, 1).toordinal()


def moment_of(value: Any) -> float:
    """Give a datetime's seconds, a date's days or a time's seconds; NaN for anything else.

    >>> moment_of(date(1970, 1, 2)), moment_of(time(0, 1, 30))
    (1.0, 90.0)
    """
    if isinstance(value, datetime):
        if value.tzinfo is not None:
            return value.timestamp()
        return (value - _EPOCH).total_seconds()
    if isinstance(value, date):
        return float(value.toordinal() - _FIRST_DAY)
    if isinstance(value, time):
        return value.hour * 3_600 + value.minute * 60 + value.second + value.microsecond / 1e6
    return float("nan")
