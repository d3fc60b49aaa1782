"""Ranks, correlation and the time until something happens."""

from dataclasses import dataclass
from enum import StrEnum
from math import atanh, log, sqrt
from typing import ClassVar

from scipy import special

from registry.design import bounds
from registry.design.sizes.base import Design
from registry.design.sizes.counts import ratio_of
from registry.design.tails import z_power


def chance_of_more(effect: float, sd: float) -> float:
    """Give the chance that a unit of one arm has more than one of the other, for normal outcomes.

    Examples
    --------
    >>> round(chance_of_more(0.5, 1), 3)
    0.638
    """
    return float(special.ndtr(effect / (sd * sqrt(2))))


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedGroups(Design):
    """Two arms of independent units, compared by the Wilcoxon–Mann–Whitney rank test.

    Parameters
    ----------
    sd : float
        Standard deviation between units of one arm, in the outcome's own unit, above 0.

    Notes
    -----
    N = (z_a + z_b)² / (12 c (1 − c) (p − 1/2)²), with p the chance that one unit has more than
    another. The sum takes p from a normal outcome: for outcomes with heavy tails the test does
    better. With normal outcomes it needs π / 3 as many units as t.

    References
    ----------
    Noether, G. E. (1987). Sample size determination for some common nonparametric tests. Journal of
    the American Statistical Association 82, 645–647.

    Examples
    --------
    >>> from registry.design import solve
    >>> solve(RankedGroups(sd=1), effect=0.5, power=0.8).n
    69
    """

    sd: float

    test: ClassVar[str] = "Wilcoxon–Mann–Whitney test"
    source: ClassVar[str] = "Noether (1987)"

    def check(self) -> None:
        """Refuse a spread that is not above 0."""
        bounds.spread(self.sd)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in each arm."""
        apart = chance_of_more(effect, self.sd) - 0.5
        return z_power(apart * sqrt(6 * n), self.alpha, self.sides)

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Units are independent of each other, and each was randomised by itself.",
            "The two arms differ by a shift alone.",
            f"Units of one arm differ with a standard deviation of {self.sd:g}.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedPairs(Design):
    """Pairs, compared by the Wilcoxon signed-rank test.

    Parameters
    ----------
    sd : float
        Standard deviation of the differences, above 0.

    Notes
    -----
    n = (z_a + z_b)² / (3 (p − 1/2)²), with p the chance that two differences sum to more than 0.
    With fewer than six pairs no two-sided p is below .05, whatever the outcome.

    References
    ----------
    Noether, G. E. (1987).

    Examples
    --------
    >>> from registry.design import solve
    >>> solve(RankedPairs(sd=1), effect=0.5, power=0.8).n
    39
    """

    sd: float

    counted: ClassVar[str] = "pairs"
    test: ClassVar[str] = "Wilcoxon signed-rank test"
    source: ClassVar[str] = "Noether (1987)"
    lowest: ClassVar[int] = 6
    meant: ClassVar[str] = "the mean difference within a pair, in the outcome's own unit"

    def check(self) -> None:
        """Refuse a spread that is not above 0."""
        bounds.spread(self.sd)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n pairs."""
        apart = float(special.ndtr(sqrt(2) * effect / self.sd)) - 0.5
        return z_power(apart * sqrt(3 * n), self.alpha, self.sides)

    def total(self, n: int) -> int:
        """Give all pairs."""
        return n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Pairs are independent of each other, and differences are about symmetric.",
            f"The differences have a standard deviation of {self.sd:g}.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Correlation(Design):
    """Two outcomes measured on each unit: whether they go together.

    Notes
    -----
    n = ((z_a + z_b) / atanh r)² + 3, by Fisher's z. Printed tables are lower by one where r is
    large. One row for each unit: many sightings of one animal are not many units.

    References
    ----------
    Cohen, J. (1988), ch. 3.

    Examples
    --------
    >>> from registry.design import solve
    >>> round(solve(Correlation(), effect=0.3, power=0.8).unrounded, 1)
    84.9
    """

    counted: ClassVar[str] = "units in all"
    test: ClassVar[str] = "test of a correlation by Fisher's z"
    source: ClassVar[str] = "Cohen (1988), chapter 3"
    guessed: ClassVar[tuple[str, ...]] = ()
    lowest: ClassVar[int] = 4
    meant: ClassVar[str] = "the correlation, above 0 and below 1"

    def check(self) -> None:
        """Nothing but the level and the sides can be wrong."""

    def scale(self) -> float:
        """Give an effect to search from."""
        return 0.5

    def largest(self) -> float:
        """Give the largest correlation that is planned for."""
        return 0.9999

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units."""
        return z_power(atanh(effect) * sqrt(n - 3), self.alpha, self.sides)

    def total(self, n: int) -> int:
        """Give all units."""
        return n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Each unit gives one pair of values, independently of the others.",
            "Both outcomes are about normal, and go together along a straight line.",
        )


class Wait(StrEnum):
    """Which sum of events is taken."""

    SCHOENFELD = "Schoenfeld"
    FREEDMAN = "Freedman"


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting(Design):
    """Two arms of units watched until something happens, compared by the log-rank test.

    Parameters
    ----------
    events : float
        Share of units of the arm without treatment in which it happens before the end, above 0, at
        most 1.
    events_other : float, optional
        The same in the other arm; else what the hazard ratio makes of it.
    rises : bool, default True
        Whether the hazard is expected to rise.
    by : Wait, default Wait.SCHOENFELD

    Notes
    -----
    The effect is the hazard ratio. Events needed: (z_a + z_b)² / (p1 p2 ln² HR) by Schoenfeld, with
    half of the units in each arm; (z_a + z_b)² ((HR + 1) / (HR − 1))² by Freedman. Animals of one
    tank are not independent: take the tanks' own median times instead.

    References
    ----------
    Schoenfeld, D. A. (1983). Sample-size formula for the proportional-hazards regression model.
    Biometrics 39, 499–503.
    Freedman, L. S. (1982). Tables of the number of patients required in clinical trials using the
    logrank test. Statistics in Medicine 1, 121–129.

    Examples
    --------
    >>> from registry.design import solve
    >>> found = solve(Waiting(events=1, events_other=1), effect=2, power=0.8)
    >>> found.total
    66
    """

    events: float
    events_other: float | None = None
    rises: bool = True
    by: Wait = Wait.SCHOENFELD

    test: ClassVar[str] = "log-rank test"
    source: ClassVar[str] = "Schoenfeld (1983); Freedman (1982)"
    guessed: ClassVar[tuple[str, ...]] = ("events",)
    none: ClassVar[float] = 1.0
    meant: ClassVar[str] = "the hazard ratio: 2 is twice as soon at every moment"

    def check(self) -> None:
        """Refuse shares of events that are not above 0."""
        for field, value in (("events", self.events), ("events_other", self.events_other)):
            if value is not None:
                said = "share of units in which it happens"
                bounds.above_zero(field, value, said)
                bounds.between(field, value, 0, 1, said, ends=True)

    def size_of(self, effect: float) -> float:
        """Give the ratio as one above 1."""
        return ratio_of(effect)

    def scale(self) -> float:
        """Give an effect to search from."""
        return 2.0

    def seen(self, n: float, effect: float) -> float:
        """Give how many events n units in each arm are expected to have."""
        other = self.events_other
        if other is None:
            other = 1 - (1 - self.events) ** (effect if self.rises else 1 / effect)
        return n * (self.events + other)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in each arm."""
        root = sqrt(self.seen(n, effect))
        if self.by is Wait.FREEDMAN:
            return z_power(root * (effect - 1) / (effect + 1), self.alpha, self.sides)
        return z_power(root * log(effect) / 2, self.alpha, self.sides)

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Units are independent of each other, and each was randomised by itself.",
            "The hazards of the two arms have the same ratio at every moment.",
            f"It happens in {100 * self.events:g} of 100 units without treatment before the end.",
        )
