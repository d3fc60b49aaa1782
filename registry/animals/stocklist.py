"""The lines of a year's stock list, which must balance.

References
----------
Columns b to h of the annual stock list of zoo licensing in Great Britain: from memory; read the
standards in force before relying on them. The columns of sexing and of recounts are the house's
own, so that a line balances by sex and says what was corrected.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import NamedTuple

EARLY_DEATH_DAYS = 30
"""A death so many days after birth or hatching, or fewer, is an early one (column e)."""


class Change(NamedTuple):
    """By how many there are more males, females and animals of unknown sex; losses are negative.

    Examples
    --------
    >>> print(Change(2, 2, -4), Change(2, 2, -4).total)
    2.2.−4 0
    """

    males: int = 0
    females: int = 0
    unknown: int = 0

    @property
    def total(self) -> int:
        """All together."""
        return sum(self)

    @property
    def is_any(self) -> bool:
        """Whether one of the three is not nought."""
        return any(self)

    def plus(self, other: "Change", times: int = 1) -> "Change":
        """Add another, so many times."""
        return Change(*(one + times * more for one, more in zip(self, other, strict=True)))

    def __str__(self) -> str:
        return ".".join(str(one).replace("-", "−") for one in self)


NOUGHT = Change()


class Column(StrEnum):
    """What changes a number between two 1 Januaries."""

    ARRIVED = "arrived"
    BRED = "bred"
    DIED_EARLY = "died_early"
    DIED = "died"
    DEPARTED = "departed"
    SEXED = "sexed"
    RECOUNTED = "recounted"


LOSSES = frozenset({Column.DIED_EARLY, Column.DIED, Column.DEPARTED})


@dataclass(frozen=True)
class StockLine:
    """One kind of animal through one year.

    Parameters
    ----------
    held_at_start : Change
        Column b, in the collection when 1 January began.
    changes : mapping of Column to Change
        Columns c to g, sexing and recounts, each with the sign that it has in the sum: a death is
        negative. Sexing moves animals between the three and leaves the total as it is.
    """

    held_at_start: Change = NOUGHT
    changes: Mapping[Column, Change] = field(default_factory=dict)

    def shown(self, column: Column) -> Change:
        """Give a column as the list prints it: losses as plain counts."""
        change = self.changes.get(column, NOUGHT)
        return NOUGHT.plus(change, -1) if column in LOSSES else change

    @property
    def held_at_end(self) -> Change:
        """Column h, when 31 December ended: all the others added, each sex by itself."""
        held = self.held_at_start
        for change in self.changes.values():
            held = held.plus(change)
        return held

    @property
    def is_sound(self) -> bool:
        """Whether sexing made and lost nobody, and no column ends below nought."""
        return not self.changes.get(Column.SEXED, NOUGHT).total and min(self.held_at_end) >= 0

    @property
    def is_empty(self) -> bool:
        """Whether none was here, came or went."""
        return not any(one.is_any for one in (self.held_at_start, *self.changes.values()))

    def plus(self, other: "StockLine") -> "StockLine":
        """Add another line, column by column."""
        columns = {*self.changes, *other.changes}
        return StockLine(
            self.held_at_start.plus(other.held_at_start),
            {
                column: self.changes.get(column, NOUGHT).plus(other.changes.get(column, NOUGHT))
                for column in columns
            },
        )


class Happening(NamedTuple):
    """One thing, or several of a kind in sum, that changed the number of a kind of animal."""

    key: Hashable
    column: Column
    change: Change


def stock_lines(
    opening: Mapping[Hashable, Change], year: Iterable[Happening]
) -> dict[Hashable, StockLine]:
    """Add up a year, key by key.

    Parameters
    ----------
    opening : mapping of key to Change
        What was held when the year began; what is missing had none.
    year : iterable of Happening
        All that changed a number in the year, in any order.

    Returns
    -------
    dict of key to StockLine
        A line for each key of either; those of which none was here all year are left out.
    """
    changes: dict[Hashable, dict[Column, Change]] = {key: {} for key in opening}
    for key, column, change in year:
        held = changes.setdefault(key, {})
        held[column] = held.get(column, NOUGHT).plus(change)
    lines = {
        key: StockLine(Change(*opening.get(key, NOUGHT)), held) for key, held in changes.items()
    }
    return {key: line for key, line in lines.items() if not line.is_empty}


def is_early_death(born_on: date, died_on: date) -> bool:
    """Whether a death belongs in column e, and not in f.

    Parameters
    ----------
    born_on, died_on : date
        Days of birth or hatching and of death. The birth counts in its own year and the death
        in its own, also when a year ends between them: our reading, no source.

    Raises
    ------
    ValueError
        When the death lies before the birth.
    """
    days = (died_on - born_on).days
    if days < 0:
        raise ValueError("an animal cannot die before it is born")
    return days <= EARLY_DEATH_DAYS
