"""The yearly return: procedures and animals, counted in the year in which a procedure ended.

Each use of an animal in a programme is one procedure, however many steps it had; each re-use is a
procedure more and no animal more. Late embryos are protected, and kept apart from the totals.

References
----------
Commission Implementing Decision (EU) 2020/569, Annex III (its lists are from memory, and stand as
dated reference data). That procedures are reported in the year in which they end, and that the
published figures of Great Britain leave late embryos out: its statistical bulletins of 2023 and
2024.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from registry.oversight.counting import NON_RECOVERY


@dataclass(frozen=True, slots=True)
class Procedure:
    """One use of an animal, or of so many of a group, in a programme; from first step to last.

    Parameters
    ----------
    species, purpose, origin : str
        As the lists of the return name them.
    severity : int or None
        The actual class, 0 to 3 or 9; None while nobody has classified it.
    is_reuse : bool
        Whether the animal had ended an earlier regulated procedure of another programme.
    ended_on : date or None
        None while it lasts: not reported yet.
    animals : int
        1 or more.
    is_late_embryo : bool
        Whether it is an embryo, or a larva that feeds already.
    """

    species: str
    purpose: str
    origin: str
    severity: int | None
    is_reuse: bool
    ended_on: date | None
    animals: int = 1
    is_late_embryo: bool = False


type Row = tuple[str, str, str, int | None, bool]
"""Species, purpose, origin, severity, and whether it is a re-use."""


@dataclass
class Return:
    """A year's return: how many procedures in each row, with those that are kept apart."""

    year: int
    rows: Counter[Row] = field(default_factory=Counter)
    embryos: Counter[Row] = field(default_factory=Counter)
    elsewhere: int = 0

    @property
    def procedures(self) -> int:
        """Procedures in all, re-uses included, embryos left out."""
        return self.rows.total()

    @property
    def animals(self) -> int:
        """Animals at their first use."""
        return self.procedures - self.reuses

    @property
    def reuses(self) -> int:
        """Procedures with animals that had been used before."""
        return sum(number for row, number in self.rows.items() if row[4])

    @property
    def unclassified(self) -> int:
        """Procedures whose actual severity nobody has given: they keep the return from closing."""
        return sum(number for row, number in self.rows.items() if row[3] is None)

    def by(self, column: int) -> dict[object, int]:
        """Give the procedures by one column of the rows, 0 to 4, in order of name."""
        summed: Counter[object] = Counter()
        for row, number in self.rows.items():
            summed[row[column]] += number
        return dict(sorted(summed.items(), key=lambda pair: str(pair[0])))


def yearly_return(procedures: Iterable[Procedure], year: int) -> Return:
    """Count the return of a year in one pass.

    Parameters
    ----------
    procedures : iterable of Procedure
        Of any years, in any order; it is read once and nothing of it is kept.
    year : int

    Raises
    ------
    ValueError
        When a procedure has no animal, or a class of severity that there is not.

    Examples
    --------
    >>> of = dict(species="Other fish", purpose="animal welfare", origin="wild", severity=1)
    >>> done = Procedure(**of, is_reuse=False, ended_on=date(2025, 3, 1))
    >>> again = Procedure(**of, is_reuse=True, ended_on=date(2025, 9, 1))
    >>> counted = yearly_return([done, again], 2025)
    >>> counted.procedures, counted.animals, counted.reuses
    (2, 1, 1)
    """
    counted = Return(year)
    for one in procedures:
        if one.animals < 1 or one.severity not in {None, 0, 1, 2, 3, NON_RECOVERY}:
            raise ValueError(f"a procedure has 1 or more animals and a known class, not {one}")
        if one.ended_on is None or one.ended_on.year != year:
            counted.elsewhere += one.animals
            continue
        row = (one.species, one.purpose, one.origin, one.severity, one.is_reuse)
        (counted.embryos if one.is_late_embryo else counted.rows)[row] += one.animals
    return counted
