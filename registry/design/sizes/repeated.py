"""The same units measured again: before and after, slopes over time, crossover."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt
from typing import ClassVar

from registry.design import bounds
from registry.design.replication import Caution
from registry.design.sizes.base import Design
from registry.design.tails import t_power


class Follow(StrEnum):
    """How measurements after the treatment are set against those before it."""

    AFTER = "mean after"
    CHANGE = "mean after less mean before"
    COVARIATE = "mean after, with the mean before as covariate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed(Design):
    """Two arms of units, each measured some times before and after the treatment begins.

    Parameters
    ----------
    sd : float
        Standard deviation of one measurement between units, above 0.
    rho : float
        Correlation of two measurements of one unit, the same for every two, 0 to below 1.
    before, after : int
        Measurements of each unit; `before` may be 0 where only those after are compared.
    follow : Follow, default Follow.COVARIATE

    Notes
    -----
    The variance of the compared mean, over sd², is (1 + (r − 1) rho) / r for those after alone;
    less p rho² / (1 + (p − 1) rho) with the covariate; plus (1 + (p − 1) rho) / p − 2 rho for the
    change. The change is worse than nothing below a correlation of one half.

    References
    ----------
    Frison, L. and Pocock, S. J. (1992). Repeated measures in clinical trials. Statistics in
    Medicine 11, 1685–1704.

    Examples
    --------
    >>> Followed(sd=1, rho=0.5, before=1, after=1).variance_factor
    0.75
    """

    sd: float
    rho: float
    before: int = 1
    after: int = 1
    follow: Follow = Follow.COVARIATE

    test: ClassVar[str] = "t test or analysis of covariance of each unit's mean"
    source: ClassVar[str] = "Frison and Pocock (1992)"
    guessed: ClassVar[tuple[str, ...]] = ("sd", "rho")

    def check(self) -> None:
        """Refuse what is out of range."""
        bounds.spread(self.sd)
        if self.rho != 0:
            bounds.between("rho", self.rho, 0, 1, "correlation within a unit")
        bounds.whole("after", self.after, 1, "number of measurements after", most=100_000)
        least = 0 if self.follow is Follow.AFTER else 1
        bounds.whole("before", self.before, least, "number of measurements before")

    @property
    def variance_factor(self) -> float:
        """Variance of what is compared, over sd²."""
        p, r, rho = self.before, self.after, self.rho
        alone = (1 + (r - 1) * rho) / r
        if self.follow is Follow.COVARIATE:
            return alone - p * rho**2 / (1 + (p - 1) * rho)
        if self.follow is Follow.CHANGE:
            return alone + (1 + (p - 1) * rho) / p - 2 * rho
        return alone

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in each arm."""
        shift = effect / (self.sd * sqrt(self.variance_factor)) * sqrt(n / 2)
        df = 2 * n - 2 - (self.follow is Follow.COVARIATE)
        return t_power(shift, df, self.alpha, self.sides)

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Units are independent of each other, and each was randomised by itself.",
            f"Any two measurements of a unit correlate with {self.rho:g}, however far apart.",
            f"One measurement differs between units with a standard deviation of {self.sd:g}.",
            (
                f"{self.before} measurements before and {self.after} after; compared is the "
                f"{self.follow.value}."
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Slopes(Design):
    """Two arms of units, each measured at the same times; compared is how fast the outcome changes.

    Parameters
    ----------
    sd : float
        Standard deviation of one measurement between units, above 0.
    rho : float
        Correlation of two measurements of one unit, 0 to below 1.
    times : sequence of float
        When each unit is measured: two different times or more.
    sd_slopes : float, default 0
        Standard deviation of the units' own true slopes, in the outcome's unit per unit of time.

    Notes
    -----
    A unit's least-squares slope has a variance of (1 − rho) sd² / (n s_x²) + sd_slopes², with s_x²
    the mean squared distance of the times from their mean. The t test of slopes has the degrees of
    freedom of units, so it asks for a little more than the normal formula of the source.

    References
    ----------
    Diggle, P. J., Heagerty, P., Liang, K.-Y. and Zeger, S. L. (2002). Analysis of Longitudinal
    Data, p. 29.

    Examples
    --------
    >>> round(Slopes(sd=10, rho=0.2, times=(0, 2, 5), sides=1).power(313, 0.5), 2)
    0.8
    """

    sd: float
    rho: float
    times: Sequence[float]
    sd_slopes: float = 0.0

    test: ClassVar[str] = "t test of each unit's slope"
    source: ClassVar[str] = "Diggle et al. (2002), p. 29"
    guessed: ClassVar[tuple[str, ...]] = ("sd", "rho")
    meant: ClassVar[str] = "the difference between the slopes, in the outcome's unit per unit time"

    def check(self) -> None:
        """Refuse what is out of range, and times that are all one."""
        bounds.spread(self.sd)
        if self.rho != 0:
            bounds.between("rho", self.rho, 0, 1, "correlation within a unit")
        if self.sd_slopes != 0:
            bounds.spread(self.sd_slopes, "sd_slopes", "standard deviation of slopes")
        for one in self.times:
            bounds.number("times", one, "time")
        if len(set(self.times)) < 2:
            bounds.refuse(
                "times",
                "A slope needs two times.",
                "All measurements were planned for the same time.",
                "Give when each unit is measured, in days or weeks from the start.",
            )

    @property
    def sd_unit_slopes(self) -> float:
        """Standard deviation of a unit's measured slope."""
        middle = sum(self.times) / len(self.times)
        squares = sum((one - middle) ** 2 for one in self.times)
        return sqrt((1 - self.rho) * self.sd**2 / squares + self.sd_slopes**2)

    def scale(self) -> float:
        """Give an effect to search from."""
        return self.sd_unit_slopes

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in each arm."""
        shift = effect / self.sd_unit_slopes * sqrt(n / 2)
        return t_power(shift, 2 * n - 2, self.alpha, self.sides)

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Units are independent of each other, and each was randomised by itself.",
            "The outcome changes along a straight line in each unit.",
            (
                f"Any two measurements of a unit correlate with {self.rho:g}; one differs between "
                f"units with a standard deviation of {self.sd:g}."
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossover(Design):
    """Every unit goes through every treatment, in orders that balance each other.

    Parameters
    ----------
    sd : float
        Standard deviation of one measurement between units, above 0.
    rho : float
        Correlation of two measurements of one unit, 0 to below 1.
    treatments : int, default 2
    carryover : bool, default False
        Whether what is left over from the treatment before is estimated too (three or more).

    Notes
    -----
    The difference of two treatments has a variance of 2 sd² (1 − rho) / N, and the error has
    (N − 2)(k − 1) degrees of freedom, k − 1 fewer with carryover. With two treatments carryover
    cannot be told from the treatment: leave time between.

    References
    ----------
    Senn, S. (2002). Cross-over Trials in Clinical Research, ch. 3 (from memory).
    Williams, E. J. (1949). Australian Journal of Scientific Research A 2, 149–168.

    Examples
    --------
    >>> from registry.design import solve
    >>> solve(Crossover(sd=1, rho=0.6), effect=0.8, power=0.8).n
    13
    """

    sd: float
    rho: float
    treatments: int = 2
    carryover: bool = False

    counted: ClassVar[str] = "units"
    test: ClassVar[str] = "t test within units, with periods taken out"
    source: ClassVar[str] = "Senn (2002)"
    guessed: ClassVar[tuple[str, ...]] = ("sd", "rho")
    lowest: ClassVar[int] = 4
    meant: ClassVar[str] = "the difference between two treatments, in the outcome's own unit"

    def check(self) -> None:
        """Refuse what is out of range, and carryover where it cannot be seen."""
        bounds.spread(self.sd)
        if self.rho != 0:
            bounds.between("rho", self.rho, 0, 1, "correlation within a unit")
        bounds.whole("treatments", self.treatments, 2, "number of treatments", most=26)
        if self.carryover and self.treatments == 2:
            bounds.refuse(
                "carryover",
                "With two treatments carryover cannot be estimated.",
                "It cannot be told from a difference between the two orders.",
                "Leave enough time between the treatments, or take three or more.",
            )

    @property
    def orders(self) -> int:
        """Orders of the treatments that balance: k for an even k, 2k for an odd one."""
        return self.treatments * (1 + self.treatments % 2)

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in all."""
        shift = effect / (self.sd * sqrt(2 * (1 - self.rho) / n))
        df = (n - 2 - self.carryover) * (self.treatments - 1)
        return t_power(shift, df, self.alpha, self.sides)

    def total(self, n: int) -> int:
        """Give all units."""
        return n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            f"Each unit goes through all {self.treatments} treatments, in an order that is drawn.",
            "What a treatment did is gone before the next begins."
            if not self.carryover
            else "Carryover lasts for one period and adds to the treatment after it.",
            (
                f"Two measurements of a unit correlate with {self.rho:g}; one differs between "
                f"units with a standard deviation of {self.sd:g}."
            ),
        )

    def cautions(self, n: int, effect: float) -> tuple[Caution, ...]:
        """Say where the units do not fill the balanced orders evenly."""
        del effect
        if n % self.orders == 0:
            return ()
        full = -(-n // self.orders) * self.orders
        return (
            Caution(
                "orders not filled",
                f"{self.orders} orders balance each other, and {n} units do not fill them evenly: "
                f"take {full}.",
                "Williams (1949), Australian Journal of Scientific Research A 2, 149–168",
            ),
        )
