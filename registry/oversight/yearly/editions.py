"""Published returns: each is kept as it was, and a later one of the year revises it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from registry.oversight.yearly.sums import Row


@dataclass(frozen=True, slots=True)
class Edition:
    """A return as it was published; a later edition of the year revises it and erases nothing."""

    year: int
    published_on: date
    procedures: int
    animals: int

    def __post_init__(self) -> None:
        if not 0 <= self.animals <= self.procedures:
            raise ValueError(
                f"{self.animals} animals cannot have had {self.procedures} procedures: each animal "
                "has at least one. Are the two numbers swapped?"
            )


def edition_on(editions: Iterable[Edition], year: int, day: date) -> Edition | None:
    """Give the newest edition of a year that had been published by a day; None before any was."""
    held = [one for one in editions if one.year == year and one.published_on <= day]
    return max(held, key=lambda one: one.published_on, default=None)


def agrees(exact: float, published: float, unit: float) -> bool:
    """Say whether a published figure may be this one, rounded to a unit.

    Parameters
    ----------
    exact, published : float
    unit : float
        What it was rounded to, such as 10,000 for “2.68 million”; above 0.

    Examples
    --------
    >>> agrees(2_681_686, 2.68e6, 10_000), agrees(2_681_686, 2.67e6, 10_000)
    (True, False)
    """
    return abs(exact - published) <= unit / 2


@dataclass(frozen=True, slots=True)
class Difference:
    """A row that two editions give differently."""

    row: Row
    before: int
    after: int


def differences(before: Mapping[Row, int], after: Mapping[Row, int]) -> list[Difference]:
    """Give each row that a later edition gives differently, in order of name.

    Parameters
    ----------
    before, after : mapping of Row to int

    Examples
    --------
    >>> row = ("Other fish", "welfare", "wild", 1, False)
    >>> [(one.before, one.after) for one in differences({row: 3}, {row: 4})]
    [(3, 4)]
    """
    rows = sorted({*before, *after}, key=str)
    told = [Difference(row, before.get(row, 0), after.get(row, 0)) for row in rows]
    return [one for one in told if one.before != one.after]
