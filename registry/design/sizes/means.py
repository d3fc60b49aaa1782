"""Means: two groups, one group, pairs, several groups, factorial."""

from dataclasses import dataclass
from enum import StrEnum
from math import ceil, prod, sqrt
from typing import ClassVar

from registry.design import bounds
from registry.design.sizes.base import Design
from registry.design.tails import f_power, t_power

_NORMAL = "The outcome of a unit is about normal, with the same spread in every arm."
_ALONE = "Units are independent of each other, and each was randomised by itself."


def _spread_said(sd: float) -> str:
    return f"Units of one arm differ with a standard deviation of {sd:g}."


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoGroups(Design):
    """Two groups of independent units, compared by Student's t test.

    Parameters
    ----------
    sd : float
        Standard deviation between units of one arm, in the outcome's own unit, above 0.
    ratio : float, default 1
        Units of the second arm for each of the first, 1 to 10.
    alpha, sides
        As in `Design`.

    Notes
    -----
    Noncentral t with a noncentrality of d sqrt(n1 n2 / (n1 + n2)); exact under its assumptions.

    References
    ----------
    Cohen, J. (1988). Statistical Power Analysis for the Behavioral Sciences, ch. 2.

    Examples
    --------
    >>> round(TwoGroups(sd=1).power(64, 0.5), 4)
    0.8015
    """

    sd: float
    ratio: float = 1.0

    test: ClassVar[str] = "Student's t test"
    source: ClassVar[str] = "Cohen (1988), chapter 2"

    def check(self) -> None:
        """Refuse a spread that is not above 0, and a ratio below 1 or above 10."""
        bounds.spread(self.sd)
        bounds.between("ratio", self.ratio, 1, 10, "ratio of the larger arm", ends=True)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in the first arm."""
        other = n * self.ratio
        shift = effect / self.sd * sqrt(n * other / (n + other))
        return t_power(shift, n + other - 2, self.alpha, self.sides)

    def total(self, n: int) -> int:
        """Give the units of both arms."""
        return n + ceil(n * self.ratio)

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (_ALONE, _NORMAL, _spread_said(self.sd))


@dataclass(frozen=True, slots=True, kw_only=True)
class OneGroup(Design):
    """One group of units held against a value, or the differences of pairs against 0.

    Parameters
    ----------
    sd : float
        Standard deviation of what is measured on a unit: of the differences, where pairs are meant.

    References
    ----------
    Cohen, J. (1988), ch. 2.

    Examples
    --------
    >>> from registry.design import solve
    >>> round(solve(OneGroup(sd=1), effect=0.5, power=0.8).unrounded, 3)
    33.367
    """

    sd: float

    counted: ClassVar[str] = "units"
    test: ClassVar[str] = "one-sample t test"
    source: ClassVar[str] = "Cohen (1988), chapter 2"
    meant: ClassVar[str] = "the distance of the mean from the value, in the outcome's own unit"

    def check(self) -> None:
        """Refuse a spread that is not above 0."""
        bounds.spread(self.sd)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units."""
        return t_power(effect / self.sd * sqrt(n), n - 1, self.alpha, self.sides)

    def total(self, n: int) -> int:
        """Give all units."""
        return n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Units are independent of each other.",
            "What is measured on a unit is about normal.",
            _spread_said(self.sd).replace(" of one arm", ""),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs(Design):
    """Pairs of like units, or each unit under both treatments, compared by the paired t test.

    Parameters
    ----------
    sd : float
        Standard deviation of one measurement between units, above 0.
    rho : float
        Correlation of the two measurements of a pair, above −1 and below 1.

    Notes
    -----
    The differences have a standard deviation of sd sqrt(2 (1 − rho)).

    Examples
    --------
    >>> from registry.design import solve
    >>> solve(Pairs(sd=1, rho=0.5), effect=1, power=0.8).n
    10
    """

    sd: float
    rho: float

    counted: ClassVar[str] = "pairs"
    test: ClassVar[str] = "paired t test"
    source: ClassVar[str] = "Cohen (1988), chapter 2"
    guessed: ClassVar[tuple[str, ...]] = ("sd", "rho")
    meant: ClassVar[str] = "the mean difference within a pair, in the outcome's own unit"

    def check(self) -> None:
        """Refuse what is out of range."""
        bounds.spread(self.sd)
        bounds.correlation_of(self.rho, said="correlation within a pair")

    @property
    def sd_differences(self) -> float:
        """Standard deviation of the differences, in the outcome's own unit."""
        return self.sd * sqrt(2 * (1 - self.rho))

    def power(self, n: float, effect: float) -> float:
        """Give the power of n pairs."""
        return t_power(effect / self.sd_differences * sqrt(n), n - 1, self.alpha, self.sides)

    def total(self, n: int) -> int:
        """Give the pairs; one animal seen twice is one unit."""
        return n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Which of the two comes first, or gets which treatment, is randomised in each pair.",
            "The differences are about normal, and pairs are independent of each other.",
            f"The two measurements of a pair correlate with {self.rho:g}.",
            _spread_said(self.sd),
        )


class Spread(StrEnum):
    """How several means lie between the smallest and the largest of them."""

    EXTREMES = "all others in the middle"
    EVEN = "evenly between"
    HALVES = "half at either end"
    DEVIATION = "the effect is the standard deviation of the means"


def deviation_of_means(spread_of: Spread, effect: float, groups: int) -> float:
    """Give the standard deviation of several means from the range of them.

    Parameters
    ----------
    spread_of : Spread
    effect : float
        Largest mean less the smallest, in the outcome's own unit.
    groups : int
        Two or more.

    References
    ----------
    Cohen, J. (1988), section 8.2.1, patterns 1 to 3.

    Examples
    --------
    >>> deviation_of_means(Spread.EXTREMES, 1.0, 2)
    0.5
    """
    if spread_of is Spread.EXTREMES:
        return effect * sqrt(1 / (2 * groups))
    if spread_of is Spread.EVEN:
        return effect / 2 * sqrt((groups + 1) / (3 * (groups - 1)))
    if spread_of is Spread.HALVES:
        odd = groups % 2
        return effect / 2 * (sqrt(groups**2 - 1) / groups if odd else 1.0)
    return effect


@dataclass(frozen=True, slots=True, kw_only=True)
class SeveralGroups(Design):
    """Several groups of independent units, compared by the one-way analysis of variance.

    Parameters
    ----------
    groups : int
        Two or more.
    sd : float
        Standard deviation between units of one group, above 0.
    means : Spread, default Spread.EXTREMES
        How the means lie; the usual one needs the most units.

    Notes
    -----
    Noncentral F with a noncentrality of N f², f the deviation of the means over sd. It says whether
    any group differs; comparing pairs of groups afterwards needs more units.

    References
    ----------
    Cohen, J. (1988), ch. 8.

    Examples
    --------
    >>> design = SeveralGroups(groups=4, sd=1, means=Spread.DEVIATION)
    >>> round(design.power(45, 0.25), 3)
    0.804
    """

    groups: int
    sd: float
    means: Spread = Spread.EXTREMES

    counted: ClassVar[str] = "units in each group"
    test: ClassVar[str] = "one-way analysis of variance"
    source: ClassVar[str] = "Cohen (1988), chapter 8"
    meant: ClassVar[str] = "the largest mean less the smallest, in the outcome's own unit"

    def check(self) -> None:
        """Refuse what is out of range."""
        bounds.whole("groups", self.groups, 2, "number of groups", most=1000)
        bounds.spread(self.sd)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in each group."""
        f = deviation_of_means(self.means, effect, self.groups) / self.sd
        df_error = self.groups * (n - 1)
        return f_power(self.groups * n * f**2, self.groups - 1, df_error, self.alpha)

    def total(self, n: int) -> int:
        """Give the units of all groups."""
        return self.groups * n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (_ALONE, _NORMAL, _spread_said(self.sd), f"The means lie so: {self.means.value}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Factorial(Design):
    """Two or more treatments crossed, every combination a cell with the same number of units.

    Parameters
    ----------
    levels : tuple of int, default (2, 2)
        Levels of each factor, each two or more.
    of : tuple of int, default (0,)
        Which effect is looked for: one factor's place for its main effect, several for their
        interaction.
    sd : float
        Standard deviation between units of one cell, above 0.

    Notes
    -----
    Where every factor of the effect has two levels, the effect is a difference: of the two marginal
    means for a main effect, of two differences for an interaction of two; f is then the effect over
    2^m sd for m factors. Otherwise it is the standard deviation of the effects. An interaction of
    the size of a main effect needs four times as many units.

    References
    ----------
    Cohen, J. (1988), sections 8.3.3 and 8.4.

    Examples
    --------
    >>> main, both = Factorial(sd=1), Factorial(sd=1, of=(0, 1))
    >>> round(main.power(16, 0.72), 3) == round(both.power(16, 1.44), 3)
    True
    """

    levels: tuple[int, ...] = (2, 2)
    of: tuple[int, ...] = (0,)
    sd: float

    counted: ClassVar[str] = "units in each cell"
    test: ClassVar[str] = "factorial analysis of variance"
    source: ClassVar[str] = "Cohen (1988), chapter 8"
    meant: ClassVar[str] = (
        "the difference of two marginal means, or for an interaction the difference of two "
        "differences, in the outcome's own unit"
    )

    def check(self) -> None:
        """Refuse factors of one level and effects of factors that are not there."""
        for one in self.levels:
            bounds.whole("levels", one, 2, "number of levels of a factor", most=100)
        bounds.whole("levels", len(self.levels), 2, "number of factors", most=6)
        named = set(self.of)
        if not named or len(named) != len(self.of) or not named <= set(range(len(self.levels))):
            bounds.refuse(
                "of",
                "There is no such effect in this design.",
                f"It has the factors 0 to {len(self.levels) - 1}, and {self.of} was asked.",
                "Name one factor for its main effect, or several, each once, for an interaction.",
            )
        bounds.spread(self.sd)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in each cell."""
        cells = prod(self.levels)
        chosen = [self.levels[one] for one in self.of]
        f = effect / self.sd / (2 ** len(chosen) if set(chosen) == {2} else 1)
        df = prod(one - 1 for one in chosen)
        return f_power(cells * n * f**2, df, cells * (n - 1), self.alpha)

    def total(self, n: int) -> int:
        """Give the units of all cells."""
        return prod(self.levels) * n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            _ALONE,
            _NORMAL.replace("arm", "cell"),
            _spread_said(self.sd).replace("arm", "cell"),
        )
