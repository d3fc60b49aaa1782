"""A checked column drawn small: how its values are spread, as bars and as rows of a table."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from archive.engine.counted import moment_of
from registry.drawings import bars
from registry.saying import number_said

_WIDE, _TALL = 112, 30


def spread_said(column: Mapping[str, Any]) -> str:
    """Say from where to where a column goes, or its few values, or how many there are."""
    if column["least"] and column["least"] == column["greatest"]:
        return str(column["least"])
    if column["least"] or column["greatest"]:
        return f"{column['least']} to {column['greatest']}"
    if not column["distinct"]:
        return "nothing that could be read"
    count = f"{number_said(column['distinct'])}{' or more' if column['is_capped'] else ''}"
    if 0 < len(column["values"]) <= 4:
        return ", ".join(value for value, _ in _counted(column))
    return f"{count} different"


def _counted(column: Mapping[str, Any]) -> list[tuple[str, int]]:
    """Give each value with its count: days and times in their order, others by how many."""
    counted = [(str(value), count) for value, count in column["values"]]
    if column["type"] == "boolean":
        counted = [(value.lower(), count) for value, count in counted]
    return sorted(counted) if column["least"] else counted


def spark(column: Mapping[str, Any], told: Sequence[str]) -> str:
    """Draw how a column is spread; bars in which a value stands that was told are full."""
    said = spread_said(column)
    if column["bins"]:
        marked = {place for value in told if (place := _bin_of(column, value)) is not None}
        return bars(column["bins"], said, marked=marked, width=_WIDE, height=_TALL)
    counted = _counted(column)
    if counted and column["distinct"] == len(counted):
        marked = {at for at, (value, _) in enumerate(counted) if value in told}
        counts = [count for _, count in counted]
        return bars(counts, said, marked=marked, width=_WIDE, height=_TALL)
    return ""


def _bin_of(column: Mapping[str, Any], value: str) -> int | None:
    """Give the bar in which a value stands."""
    ends = (value, column["least"], column["greatest"])
    try:
        number, least, most = (_measure(column, one) for one in ends)
    except ValueError:
        return None
    if not least <= number <= most or most <= least:
        return None
    return min(
        int((number - least) / (most - least) * len(column["bins"])), len(column["bins"]) - 1
    )


def steps(column: Mapping[str, Any]) -> Iterator[tuple[str, int]]:
    """Give what the bars show, as rows: each step or value with its count, empty steps left out."""
    bins = column["bins"]
    if not bins:
        if column["distinct"] == len(column["values"]):
            yield from _counted(column)
        return
    least, most = (_measure(column, column[one]) for one in ("least", "greatest"))
    width = (most - least) / len(bins)
    for at, count in enumerate(bins):
        if count:
            start, end = least + at * width, least + (at + 1) * width
            if column["type"] == "date":
                # A step holds the days that begin in it; the last one its end too.
                start, end = math.ceil(start), math.ceil(end) - (at + 1 < len(bins))
            said = [_measured(column, one) for one in ((start, end) if end > start else (start,))]
            yield " to ".join(said), count


_READERS: dict[str, Callable[[str], date | time]] = {
    "date": date.fromisoformat,
    "datetime": datetime.fromisoformat,
    "time": time.fromisoformat,
}


def _measure(column: Mapping[str, Any], text: str) -> float:
    """Give a number, a day, a moment or a time of day as a number.

    Raises
    ------
    ValueError
    """
    read = _READERS.get(column["type"])
    return float(text) if read is None else moment_of(read(text))


def _measured(column: Mapping[str, Any], number: float) -> str:
    """Write what `_measure` gave as a person does; a moment by the clock of the first."""
    if column["type"] not in _READERS:
        return f"{number:.6g}"
    since = number - _measure(column, column["least"])
    if column["type"] == "date":
        return (date.fromisoformat(column["least"]) + timedelta(days=since)).isoformat()
    if column["type"] == "time":
        return f"{int(number) // 3_600:02}:{int(number) // 60 % 60:02}"
    first = datetime.fromisoformat(column["least"])
    return f"{first + timedelta(seconds=since):%Y-%m-%d %H:%M}"
