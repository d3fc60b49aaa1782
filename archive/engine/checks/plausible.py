"""Numbers outside what their dictionary, or their unit, says is likely: only to read."""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.roles import PLAUSIBLE, UNIT

SHOWN = 50


class Range(NamedTuple):
    """The least and greatest likely value, both inside, and the reason; None is open."""

    least: float | None
    greatest: float | None
    reason: str


UNIT_RANGES = {
    "%": Range(0, 100, "a share of a hundred"),
    "[pH]": Range(0, 14, "the usual scale of pH in water"),
    "Cel": Range(-273.15, None, "nothing is colder"),
    "K": Range(0, None, "nothing is colder"),
    "h/d": Range(0, 24, "a day has no more hours"),
    "min/h": Range(0, 60, "an hour has no more minutes"),
    "s/min": Range(0, 60, "a minute has no more seconds"),
    "d/wk": Range(0, 7, "a week has no more days"),
}
"""What a unit can hold, by its UCUM code; a count in braces is not below zero.

The codes are those of UCUM, tables 1 to 4. The zero of the Kelvin scale is that of the SI brochure
(BIPM, 9th edition, 2019, section 2.3.1); the rest is common practice, no source.
"""


def likely(field: Mapping[str, Any]) -> Range | None:
    """Give a column's likely range: the dictionary's own word, else what its unit can hold.

    Examples
    --------
    >>> likely({"name": "water", "x:plausible": {"minimum": 8, "reason": "the chiller's setting"}})
    Range(least=8, greatest=None, reason="the chiller's setting")
    >>> likely({"name": "cover", "x:unit": "%"}).greatest
    100
    """
    said, unit = field.get(PLAUSIBLE), str(field.get(UNIT, ""))
    if isinstance(said, Mapping):
        reason = str(said.get("reason") or "so the dictionary says")
        return Range(said.get("minimum"), said.get("maximum"), reason)
    if unit.startswith("{"):
        return Range(0, None, "a count is not below zero")
    return UNIT_RANGES.get(unit)


def unlikely_values(
    table: str, field: Mapping[str, Any], rows: NDArray[np.int64], values: NDArray[np.float64]
) -> Iterator[Finding]:
    """Find values outside the likely range of their column.

    Parameters
    ----------
    table : str
    field : mapping
        Of the descriptor's schema, with its unit and its likely range.
    rows : ndarray of int64, shape (n,)
    values : ndarray of float64, shape (n,)
        NaN where the cell is empty.

    Notes
    -----
    At most 50 are listed, and the last says how many more there are.
    """
    if (span := likely(field)) is None:
        return
    name, outside = str(field["name"]), np.zeros(len(values), dtype=bool)
    if span.least is not None:
        outside |= values < span.least
    if span.greatest is not None:
        outside |= values > span.greatest
    far = np.flatnonzero(outside)
    for count, at in enumerate(far[:SHOWN], start=1):
        row, value = int(rows[at]), float(values[at])
        message = f"{value:g} in row {row:,}, column “{name}”, is {_beyond(value, span)}"
        message = f"{message}: {span.reason}."
        if count == SHOWN and len(far) > SHOWN:
            message = f"{message} {len(far) - SHOWN:,} more like it are not listed."
        yield found("unlikely-value", message, table=table, row=row, field=name, value=f"{value:g}")


def _beyond(value: float, span: Range) -> str:
    if span.least is not None and value < span.least:
        return f"less than {span.least:g}"
    return f"more than {span.greatest:g}"
