"""What an analysis gives: tables, tests and what could not be computed, all as plain values."""

from dataclasses import dataclass

from archive.analysis.gaps import Gap

type Cell = str | int | float | None


@dataclass(frozen=True, slots=True)
class Table:
    """A table of results.

    Parameters
    ----------
    name : str
        By which figures and scripts know it.
    title : str
    heads : tuple of str
        One for each column, with its unit where it has one.
    rows : tuple of tuple of Cell
        The first cell of a row names it.
    """

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """A test, with its effect.

    Parameters
    ----------
    name : str
        Of the function in `archive.analysis`.
    title : str
    place : {"chosen", "beside"}
    compared : str
        What with what.
    effect, low, high : float or None
        On `scale`.
    scale : str
    figures : tuple of (str, float)
        Statistics by their usual letters.
    p, smallest_p : float or None
        0 to 1; the smallest that the draw could give at all.
    """

    name: str
    title: str
    place: str
    compared: str
    effect: float | None
    low: float | None
    high: float | None
    scale: str
    figures: tuple[tuple[str, float], ...]
    p: float | None
    smallest_p: float | None = None

    @property
    def said(self) -> str:
        """What it gave, in a sentence."""
        p = "p cannot be computed" if self.p is None else f"p = {self.p:.3g}"
        if self.effect is None:
            return f"{self.title}, {self.compared}: {p}."
        known = self.low is not None and self.high is not None
        between = f" ({self.low:.4g} to {self.high:.4g})" if known else ""
        return f"{self.compared}: {self.effect:.4g}{between}, {self.scale}; {p}."


@dataclass(frozen=True, slots=True)
class Choice:
    """Why a test was chosen.

    Parameters
    ----------
    test : str
    proposed : str
        What the program proposes; another was chosen by a person.
    why, assumes : tuple of str
        A sentence each.
    smallest_p : float or None
        That the draw can show; None where it cannot be gone through.
    """

    test: str
    proposed: str
    why: tuple[str, ...]
    assumes: tuple[str, ...]
    smallest_p: float | None


@dataclass(frozen=True, slots=True)
class Found:
    """All that an analysis gives.

    Parameters
    ----------
    said : tuple of str
        What was found, a sentence each.
    tables : tuple of Table
    tests : tuple of Comparison
    choice : Choice or None
    gaps : tuple of Gap
    """

    said: tuple[str, ...]
    tables: tuple[Table, ...]
    tests: tuple[Comparison, ...] = ()
    choice: Choice | None = None
    gaps: tuple[Gap, ...] = ()

    @property
    def numbers(self) -> dict[str, object]:
        """The numbers alone, of which the digest is: words may be put better later."""
        return {
            "tables": {one.name: one.rows for one in self.tables},
            "tests": [
                (one.name, one.effect, one.low, one.high, one.figures, one.p, one.smallest_p)
                for one in self.tests
            ],
        }


def many(arrangements: int) -> float:
    """Give a number of arrangements as far as a number of the machine goes.

    Examples
    --------
    >>> many(70), many(10**400)
    (70.0, 1e+300)
    """
    return float(min(arrangements, 10**300))
