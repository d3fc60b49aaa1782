"""Tanks or enclosures as units, with animals or eggs inside: the tank is what is replicated."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, lgamma, sqrt
from typing import ClassVar

from registry.design import bounds
from registry.design.replication import SOURCES, Caution
from registry.design.sizes.base import Design
from registry.design.sizes.means import Spread, deviation_of_means
from registry.design.tails import f_power, t_power

_TANKS = (
    "The treatment is given to whole tanks, each tank randomised by itself.",
    "What is compared is one mean from each tank: animals of a tank are measurements of it.",
)


def typical_size(sizes: Sequence[float]) -> float:
    """Give the number of animals in a tank that stands for unequal ones: the harmonic mean.

    Notes
    -----
    The mean of ICC + (1 − ICC) / m over the tanks is that of the harmonic mean of m, exactly.

    Examples
    --------
    >>> round(typical_size([6, 12, 12]), 6)
    9.0
    """
    for one in sizes:
        bounds.above_zero("per_unit", one, "number of animals in a tank")
    if not sizes:
        bounds.refuse(
            "per_unit",
            "No tank was given.",
            "The list of sizes is empty.",
            "Give the number of animals in each tank.",
        )
    return len(sizes) / sum(1 / one for one in sizes)


def inflation(per_unit: float, icc: float, cv: float = 0.0) -> float:
    """Give how much worse animals in tanks tell than as many alone: the design effect.

    Parameters
    ----------
    per_unit : float
        Mean number of animals in a tank, 1 or more.
    icc : float
        Intraclass correlation, 0 to 1.
    cv : float, default 0
        Coefficient of variation of the tanks' sizes, 0 or above.

    Notes
    -----
    To be read, not to be planned with: the number of animals over it, tested with the animals'
    degrees of freedom, is far too hopeful with few tanks. `TankMeans` gives the right power.

    References
    ----------
    Kish, L. (1965). Survey Sampling. Eldridge, S. M. et al. (2006). Sample size for cluster
    randomized trials. International Journal of Epidemiology 35, 1292–1300 (unequal sizes).

    Examples
    --------
    >>> round(inflation(20, 0.05), 4)
    1.95
    """
    bounds.icc_of(icc)
    bounds.above_zero("per_unit", per_unit, "number of animals in a tank")
    if bounds.number("cv", cv, "coefficient of variation") < 0:
        bounds.above_zero("cv", cv, "coefficient of variation")
    return 1 + ((cv**2 + 1) * per_unit - 1) * icc


def smallest_p(per_arm: int, arms: int = 2) -> float:
    """Give the smallest two-sided p of an exact permutation of tanks over equal arms.

    Examples
    --------
    >>> [round(smallest_p(n), 4) for n in (2, 3, 4, 5)]
    [0.3333, 0.1, 0.0286, 0.0079]
    """
    ways = lgamma(per_arm * arms + 1) - arms * lgamma(per_arm + 1)
    # A statistic that ignores which arm is which has as many best arrangements as arms have orders.
    return exp(lgamma(arms + 1) - ways)


def tank_cautions(n: int, arms: int, animals: float, alpha: float) -> tuple[Caution, ...]:
    """Give what must be weighed with so many tanks an arm and animals in each."""
    found = []
    if animals > 1:
        found.append(
            Caution(
                "units, not animals",
                f"{round(arms * n * animals)} animals in {arms * n} tanks count as {arms * n}: "
                "more animals in a tank help little, more tanks help much.",
                SOURCES,
            )
        )
    if smallest_p(n, arms) > alpha:
        found.append(
            Caution(
                "no exact test",
                f"With {n} tanks in each arm an exact permutation test cannot reach {alpha:g}: its "
                f"smallest p is {smallest_p(n, arms):.3f}. The t test leans on its assumptions.",
                "counted",
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class TankMeans(Design):
    """Two or more arms of tanks with animals inside, compared by the means of the tanks.

    Parameters
    ----------
    sd : float
        Standard deviation between animals of one arm, over tanks, above 0.
    icc : float
        Share of that variance that lies between tanks, 0 to 1.
    per_unit : float
        Animals in a tank; `typical_size` where tanks are unequal.
    arms : int, default 2
    means : Spread, default Spread.EXTREMES
        How the arms' means lie, with more than two.

    Notes
    -----
    A tank's mean has a variance of sd² (ICC + (1 − ICC) / m), and the test has the degrees of
    freedom of tanks. Dividing the number of animals by the design effect and testing with the
    animals' degrees of freedom says .731 where .609 is right (8 tanks of 10, ICC .2, d = 1).

    References
    ----------
    Donner, A. and Klar, N. (2000). Design and Analysis of Cluster Randomization Trials in Health
    Research.

    Examples
    --------
    >>> round(TankMeans(sd=1, icc=0.2, per_unit=10).power(4, 1), 3)
    0.609
    """

    sd: float
    icc: float
    per_unit: float
    arms: int = 2
    means: Spread = Spread.EXTREMES

    counted: ClassVar[str] = "tanks in each arm"
    test: ClassVar[str] = "t test or analysis of variance of tank means"
    source: ClassVar[str] = "Donner and Klar (2000)"
    guessed: ClassVar[tuple[str, ...]] = ("sd", "icc")
    meant: ClassVar[str] = "the largest difference between two arms, in the outcome's own unit"

    def check(self) -> None:
        """Refuse what is out of range, and tanks that do not differ at all in any way."""
        bounds.spread(self.sd)
        bounds.icc_of(self.icc)
        if bounds.number("per_unit", self.per_unit, "number of animals in a tank") < 1:
            bounds.refuse(
                "per_unit",
                "A tank needs at least one animal.",
                f"{self.per_unit:g} was given.",
                "Give the number of animals that are measured in each tank.",
            )
        bounds.whole("arms", self.arms, 2, "number of arms", most=1000)

    @property
    def sd_units(self) -> float:
        """Standard deviation of a tank's mean, in the outcome's own unit."""
        return self.sd * sqrt(self.icc + (1 - self.icc) / self.per_unit)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n tanks in each arm."""
        relative = effect / self.sd_units
        if self.arms == 2:
            return t_power(relative * sqrt(n / 2), 2 * (n - 1), self.alpha, self.sides)
        f = deviation_of_means(self.means, relative, self.arms)
        return f_power(self.arms * n * f**2, self.arms - 1, self.arms * (n - 1), self.alpha)

    def total(self, n: int) -> int:
        """Give the tanks of all arms."""
        return self.arms * n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            *_TANKS,
            (
                f"Animals of one arm differ with a standard deviation of {self.sd:g}; "
                f"{100 * self.icc:.0f} per cent of that variance lies between tanks."
            ),
            f"{self.per_unit:g} animals are measured in each tank.",
        )

    def cautions(self, n: int, effect: float) -> tuple[Caution, ...]:
        """Give what must be weighed."""
        del effect
        return tank_cautions(n, self.arms, self.per_unit, self.alpha)


@dataclass(frozen=True, slots=True, kw_only=True)
class TankShares(Design):
    """Two arms of tanks with eggs or animals that do something or do not: hatch, live, take food.

    Parameters
    ----------
    baseline : float
        Share in the arm without treatment, above 0 and below 1.
    icc : float
        Correlation of two eggs of one tank, 0 to 1.
    per_unit : float
        Eggs in a tank, 1 or more.
    rises : bool, default True
        Whether the share is expected to rise; False where it falls.

    Notes
    -----
    t test of the tanks' shares; a tank's share has a variance of p q (ICC + (1 − ICC) / m). Testing
    the eggs as if each were a unit finds “effects” in a quarter of studies without any.

    References
    ----------
    Donner, A. and Klar, N. (2000).

    Examples
    --------
    >>> from registry.design import solve
    >>> solve(TankShares(baseline=0.6, icc=0.1, per_unit=25), effect=0.2, power=0.8).n
    12
    """

    baseline: float
    icc: float
    per_unit: float
    rises: bool = True

    counted: ClassVar[str] = "tanks in each arm"
    test: ClassVar[str] = "t test of tank shares"
    source: ClassVar[str] = "Donner and Klar (2000)"
    guessed: ClassVar[tuple[str, ...]] = ("baseline", "icc")
    meant: ClassVar[str] = "the difference between the two shares, 0 to 1"

    def check(self) -> None:
        """Refuse what is out of range."""
        bounds.between("baseline", self.baseline, 0, 1, "share without treatment")
        bounds.icc_of(self.icc)
        bounds.whole("per_unit", self.per_unit, 1, "number of eggs in a tank")

    def scale(self) -> float:
        """Give an effect to search from."""
        return self.largest() / 2

    def largest(self) -> float:
        """Give the largest difference that can be."""
        return 1 - self.baseline if self.rises else self.baseline

    def power(self, n: float, effect: float) -> float:
        """Give the power of n tanks in each arm."""
        other = self.baseline + (effect if self.rises else -effect)
        factor = self.icc + (1 - self.icc) / self.per_unit
        variance = factor * sum(p * (1 - p) for p in (self.baseline, other))
        return t_power(effect / sqrt(variance / n), 2 * (n - 1), self.alpha, self.sides)

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            *_TANKS,
            f"Without treatment {100 * self.baseline:.0f} of 100 do it.",
            f"Two eggs of one tank correlate with {self.icc:g}; {self.per_unit:g} are in each.",
            "A share near 0 or 1 is not normal: try the same by simulation.",
        )

    def cautions(self, n: int, effect: float) -> tuple[Caution, ...]:
        """Give what must be weighed."""
        del effect
        return tank_cautions(n, 2, self.per_unit, self.alpha)
