"""Rows as moments of somebody, in numbers: where they stand in a table, and how they are sorted."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from archive.engine.roles import FieldRole, fields_of, role_of

DAY_S = 86_400

type Name = Callable[[str, int], str]
"""Gives the text of a column's number."""


class When(NamedTuple):
    """The columns whose sum is the moment, each with the seconds of its unit.

    A kernel counts a date in days and a time of day in seconds, so a moment may stand in two.
    """

    starts: tuple[tuple[str, int], ...]
    ends: tuple[tuple[str, int], ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Every column once."""
        return tuple(dict.fromkeys(name for name, _ in (*self.starts, *self.ends)))


def when_of(schema: Mapping[str, Any]) -> When | None:
    """Say where a table's moments stand: one datetime or two, else a date with one time or two.

    Examples
    --------
    >>> times = [{"name": "from", "type": "datetime", "x:role": "time"}]
    >>> when_of({"fields": times})
    When(starts=(('from', 1),), ends=())
    """
    told: dict[str, list[str]] = {"datetime": [], "date": [], "time": []}
    for field in fields_of(schema):
        if role_of(field) is FieldRole.TIME and field.get("type") in told:
            told[str(field["type"])].append(str(field["name"]))
    if moments := told["datetime"]:
        return When(((moments[0], 1),), tuple((name, 1) for name in moments[1:2]))
    if not (told["date"] and told["time"]):
        return None
    day = (told["date"][0], DAY_S)
    first, *rest = told["time"]
    return When((day, (first, 1)), (day, (rest[0], 1)) if rest else ())


@dataclass(slots=True)
class Moments:
    """The rows of a table, or of a part of it.

    Parameters
    ----------
    rows : ndarray of int64, shape (n,)
        Their numbers in the file.
    codes : mapping of column to ndarray of int64, shape (n,)
        A number for each different value; 0 where there is none.
    starts, ends : ndarray of float64, shape (n,)
        Seconds since 1970, NaN where none is written; `ends` are the starts where there are none.
    """

    rows: NDArray[np.int64]
    codes: dict[str, NDArray[np.int64]]
    starts: NDArray[np.float64]
    ends: NDArray[np.float64]


def summed(
    parts: Sequence[tuple[str, int]], moments: Mapping[str, NDArray[np.float64]]
) -> NDArray[np.float64]:
    """Give the moments that stand in one column or two."""
    first, *rest = [moments[name] * unit for name, unit in parts]
    return sum(rest, first)


def joined(kept: Sequence[Moments]) -> Moments:
    """Give the parts of a table as one."""
    names = kept[0].codes
    return Moments(
        np.concatenate([one.rows for one in kept]),
        {name: np.concatenate([one.codes[name] for one in kept]) for name in names},
        np.concatenate([one.starts for one in kept]),
        np.concatenate([one.ends for one in kept]),
    )


def folded(count: int, codes: Sequence[NDArray[np.int64]]) -> NDArray[np.uint64]:
    """Give each row one number for all its codes together: unlike codes, unlike numbers.

    Notes
    -----
    64 bits are kept, so two of n different rows are taken for one with a chance of n**2 / 2**65.

    References
    ----------
    Steele, G. L., Lea, D. and Flood, C. H. (2014). Fast splittable pseudorandom number generators,
    for the mixing of 64 bits.
    """
    mixed = np.zeros(count, np.uint64)
    for code in codes:
        mixed = (mixed + code.view(np.uint64) + np.uint64(0x9E3779B97F4A7C15)) * _FIRST
        mixed = (mixed ^ (mixed >> np.uint64(27))) * _SECOND
        mixed ^= mixed >> np.uint64(31)
    return mixed


_FIRST, _SECOND = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)


def in_order(groups: NDArray[np.uint64], starts: NDArray[np.float64]) -> NDArray[np.int64]:
    """Sort rows by group, then by start, then as they stand; tables are mostly in time order."""
    if bool(np.all(starts[1:] >= starts[:-1])):
        return np.argsort(groups, kind="stable")
    return np.lexsort((starts, groups))
