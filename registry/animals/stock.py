"""Counts of animals by sex, and the line that a year's stock list must balance.

References
----------
The notation males.females.unknown is that of the trade. Columns b to h of the annual stock list
of zoo licensing in Great Britain: from memory; read the standards in force before relying on
them.
"""

import re
from dataclasses import dataclass
from datetime import date

from registry.errors import Unsound

EARLY_DEATH_DAYS = 30
"""A death so many days after birth or hatching, or fewer, is an early one (column e)."""

_COUNT = re.compile(r"\s*([0-9]{1,9})\.([0-9]{1,9})\.([0-9]{1,9})\s*")
_COLUMNS = ("males", "females", "unknown")


@dataclass(frozen=True, order=False)
class Count:
    """A number of animals: males, females, and those whose sex is not known.

    Parameters
    ----------
    males, females, unknown : int
        Animals, 0 or more each.

    Raises
    ------
    Unsound
        When one of them is negative.

    Examples
    --------
    >>> str(Count(2, 3, 4) + Count(0, 0, 5))
    '2.3.9'
    """

    males: int = 0
    females: int = 0
    unknown: int = 0

    def __post_init__(self) -> None:
        for column in _COLUMNS:
            if getattr(self, column) < 0:
                raise Unsound(
                    f"There cannot be {getattr(self, column)} {_shown(column)}.",
                    "More animals leave the group than are in it.",
                    "Check the counts; a birth or an arrival may not be recorded yet.",
                    fields={column: "would be negative"},
                )

    @property
    def total(self) -> int:
        """All animals together."""
        return self.males + self.females + self.unknown

    @property
    def share_male(self) -> float | None:
        """Share of males among those whose sex is known, 0-1; None where none is known."""
        sexed = self.males + self.females
        return self.males / sexed if sexed else None

    def __add__(self, other: "Count") -> "Count":
        return Count(
            self.males + other.males,
            self.females + other.females,
            self.unknown + other.unknown,
        )

    def __sub__(self, other: "Count") -> "Count":
        return Count(
            self.males - other.males,
            self.females - other.females,
            self.unknown - other.unknown,
        )

    def sexed(self, *, males: int = 0, females: int = 0) -> "Count":
        """Give the count after some of unknown sex were found to be males and females.

        Raises
        ------
        Unsound
            When more are sexed than there are of unknown sex.

        Examples
        --------
        >>> str(Count(2, 3, 9).sexed(males=1, females=1))
        '3.4.7'
        """
        if males < 0 or females < 0:
            raise ValueError("animals are sexed in whole numbers, 0 or more")
        return Count(self.males + males, self.females + females, self.unknown - males - females)

    def __str__(self) -> str:
        return f"{self.males}.{self.females}.{self.unknown}"


def parse(text: str) -> Count:
    """Read a count in the trade's notation.

    Parameters
    ----------
    text : str
        "2.6.0": two males, six females, none of unknown sex.

    Raises
    ------
    Unsound
        With the complaint under the field "count".

    Examples
    --------
    >>> parse("2.6.0").total
    8
    """
    match = _COUNT.fullmatch(text)
    if match is None:
        raise Unsound(
            f"{text!r} is no count of animals.",
            "It must be three whole numbers with dots: males, females, unknown.",
            "Write 2.6.0 for two males, six females and none of unknown sex.",
            fields={"count": "is not like 2.6.0"},
        )
    return Count(*map(int, match.groups()))


@dataclass(frozen=True)
class StockLine:
    """One kind of animal through one year, by the columns of the stock list.

    Parameters
    ----------
    held_at_start : Count
        Column b, in the group on 1 January.
    arrived : Count
        Column c.
    bred : Count
        Column d, born or hatched in the group.
    died_early : Count
        Column e, died within 30 days of birth.
    died : Count
        Column f, other deaths.
    departed : Count
        Column g.
    sexed : Count
        Animals of unknown sex that were found to be males and females in the year; its own
        unknown is 0.
    """

    held_at_start: Count
    arrived: Count = Count()
    bred: Count = Count()
    died_early: Count = Count()
    died: Count = Count()
    departed: Count = Count()
    sexed: Count = Count()

    @property
    def held_at_end(self) -> Count:
        """Column h, in the group on 31 December: h = b + c + d - e - f - g, each sex by itself.

        Raises
        ------
        Unsound
            When a column would fall below 0.

        Notes
        -----
        Animals that are sexed move from unknown to their column and leave the total as it is.
        """
        if self.sexed.unknown:
            raise ValueError("an animal is not sexed into the unknown")
        gained = self.held_at_start + self.arrived + self.bred
        # Sexed before any leaves: a male that was hatched this year may die as a male.
        known = gained.sexed(males=self.sexed.males, females=self.sexed.females)
        return known - (self.died_early + self.died + self.departed)


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


def _shown(column: str) -> str:
    return "of unknown sex" if column == "unknown" else column
