"""Counts and rates, in units alone and in tanks followed for a time."""

from dataclasses import dataclass
from math import inf, log, sqrt
from typing import ClassVar

from registry.design import bounds
from registry.design.sizes.base import Design
from registry.design.tails import t_power, z_power


def ratio_of(effect: float, field: str = "effect") -> float:
    """Give a ratio as one above 1; refuse 1, which is no effect, and what is not above 0.

    Examples
    --------
    >>> ratio_of(0.5)
    2.0
    """
    bounds.above_zero(field, effect, "ratio", "A ratio of 2 is twice as many, 0.5 half as many.")
    if effect == 1:
        bounds.refuse(
            field,
            "A ratio of 1 cannot be planned for.",
            "It says that the two arms are the same.",
            "Give the smallest ratio that would change what the keepers do.",
        )
    return max(effect, 1 / effect)


def rate_ratio_power(
    rate1: float,
    rate2: float,
    n: float,
    *,
    exposure: float = 1.0,
    margin: float = 1.0,
    alpha: float = 0.05,
    sides: int = 2,
    overdispersion: float = 0.0,
) -> float:
    """Give the power of a test of the ratio of two rates, by the normal on its logarithm.

    Parameters
    ----------
    rate1, rate2 : float
        Events per unit and unit of time, above 0.
    n : float
        Units in each arm.
    exposure : float
        Time that each unit is watched, above 0.
    margin : float, default 1
        The ratio that is held against; another than 1 for “at most so much worse”.
    overdispersion : float, default 0
        Squared coefficient of variation of the units' own rates; 0 is Poisson.

    References
    ----------
    Zhu, H. and Lakkis, H. (2014). Sample size calculation for comparing two negative binomial
    rates. Statistics in Medicine 33, 376–387.
    Zhu, H. (2017). Sample size calculation for comparing two Poisson or negative binomial rates in
    noninferiority or equivalence trials. Statistics in Biopharmaceutical Research 9, 107–115.

    Examples
    --------
    >>> found = rate_ratio_power(1.8, 2.2, 29, exposure=2.5, margin=1.2, alpha=0.025, sides=1)
    >>> round(found, 4)
    0.9006
    """
    variance = (1 / rate1 + 1 / rate2) / exposure + 2 * overdispersion
    return z_power(abs(log(rate1 / rate2 / margin)) * sqrt(n / variance), alpha, sides)


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoRates(Design):
    """Two arms of independent units in which events are counted.

    Parameters
    ----------
    baseline : float
        Events per unit and unit of time without treatment, above 0.
    exposure : float, default 1
        Time that each unit is watched, above 0.
    overdispersion : float, default 0
        Squared coefficient of variation of the units' own rates, 0 or above; 0 is Poisson.
    rises : bool, default True

    Notes
    -----
    The effect is the ratio of the two rates. See `rate_ratio_power`.

    Examples
    --------
    >>> from registry.design import solve
    >>> solve(TwoRates(baseline=2, exposure=3), effect=1.5, power=0.8).n
    14
    """

    baseline: float
    exposure: float = 1.0
    overdispersion: float = 0.0
    rises: bool = True

    test: ClassVar[str] = "test of the ratio of two rates"
    source: ClassVar[str] = "Zhu and Lakkis (2014); Zhu (2017)"
    guessed: ClassVar[tuple[str, ...]] = ("baseline", "overdispersion")
    none: ClassVar[float] = 1.0
    meant: ClassVar[str] = "the ratio of the two rates: 2 is twice as many, 0.5 half as many"

    def check(self) -> None:
        """Refuse what is out of range."""
        bounds.above_zero("baseline", self.baseline, "rate without treatment")
        bounds.above_zero("exposure", self.exposure, "time that a unit is watched")
        if self.overdispersion != 0:
            bounds.above_zero("overdispersion", self.overdispersion, "overdispersion")

    def size_of(self, effect: float) -> float:
        """Give the ratio as one above 1."""
        return ratio_of(effect)

    def scale(self) -> float:
        """Give an effect to search from."""
        return 2.0

    def largest(self) -> float:
        """Give the largest ratio: below an eighth the events are too few for a logarithm."""
        return inf if self.rises else 8.0

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in each arm."""
        return rate_ratio_power(
            self.baseline * (effect if self.rises else 1 / effect),
            self.baseline,
            n,
            exposure=self.exposure,
            alpha=self.alpha,
            sides=self.sides,
            overdispersion=self.overdispersion,
        )

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Units are independent of each other, and events come singly.",
            f"Without treatment {self.baseline:g} events are expected in a unit of time.",
            f"Each unit is watched for {self.exposure:g} units of time.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TankRates(Design):
    """Two arms of tanks in which events are counted among the animals.

    Parameters
    ----------
    baseline : float
        Events per animal and unit of time without treatment, above 0.
    watched : float
        Animals times time in each tank, above 0.
    variation : float
        Coefficient of variation of the tanks' own rates within an arm, 0 or above.
    rises : bool, default True

    Notes
    -----
    c = 1 + z² ((l0 + l1) / y + k² (l0² + l1²)) / (l0 − l1)². Here the same variance is tested by t
    with the degrees of freedom of tanks; the added one of the source stands for that.

    References
    ----------
    Hayes, R. J. and Bennett, S. (1999). Simple sample size calculation for cluster-randomized
    trials. International Journal of Epidemiology 28, 319–326.

    Examples
    --------
    >>> from registry.design import solve
    >>> solve(TankRates(baseline=0.1, watched=100, variation=0.25), effect=0.5, power=0.8).n
    9
    """

    baseline: float
    watched: float
    variation: float
    rises: bool = False

    counted: ClassVar[str] = "tanks in each arm"
    test: ClassVar[str] = "t test of tank rates"
    source: ClassVar[str] = "Hayes and Bennett (1999)"
    guessed: ClassVar[tuple[str, ...]] = ("baseline", "variation")
    none: ClassVar[float] = 1.0
    meant: ClassVar[str] = "the ratio of the two rates: 2 is twice as many, 0.5 half as many"

    def check(self) -> None:
        """Refuse what is out of range."""
        bounds.above_zero("baseline", self.baseline, "rate without treatment")
        bounds.above_zero("watched", self.watched, "animals times time in a tank")
        if self.variation != 0:
            bounds.above_zero("variation", self.variation, "coefficient of variation")

    def size_of(self, effect: float) -> float:
        """Give the ratio as one above 1."""
        return ratio_of(effect)

    def scale(self) -> float:
        """Give an effect to search from."""
        return 2.0

    def power(self, n: float, effect: float) -> float:
        """Give the power of n tanks in each arm."""
        one, other = self.baseline, self.baseline * (effect if self.rises else 1 / effect)
        variance = (one + other) / self.watched + self.variation**2 * (one**2 + other**2)
        shift = abs(one - other) / sqrt(variance / n)
        return t_power(shift, 2 * (n - 1), self.alpha, self.sides)

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "The treatment is given to whole tanks, each tank randomised by itself.",
            (
                f"Without treatment {self.baseline:g} events are expected for each animal and unit "
                f"of time; a tank has {self.watched:g} of those."
            ),
            f"The rates of tanks of one arm vary with a coefficient of {self.variation:g}.",
        )
