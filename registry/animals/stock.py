"""Counts of animals by sex, in the trade's notation males.females.unknown."""

import re
from dataclasses import dataclass

from registry.errors import Unsound

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


def _shown(column: str) -> str:
    return "of unknown sex" if column == "unknown" else column
