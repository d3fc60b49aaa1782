"""Shares of independent units: two arms, pairs that change, tables."""

from dataclasses import dataclass, replace
from enum import StrEnum
from math import asin, sqrt
from typing import ClassVar

from registry.design import bounds
from registry.design.replication import Caution
from registry.design.sizes.base import Design
from registry.design.sizes.exact import fisher_p, power_of_region, unconditional_region
from registry.design.solving import least_whole
from registry.design.tails import chi2_power, normal_quantile, z_power


class ShareTest(StrEnum):
    """How two shares are compared."""

    POOLED = "z test of two shares"
    CORRECTED = "z test with continuity correction"
    ARCSINE = "z test of arcsines"
    FISHER = "Fisher's exact test"
    BOSCHLOO = "Boschloo's exact test"


_EXACT = {ShareTest.FISHER: 200, ShareTest.BOSCHLOO: 60}
"""Units in an arm up to which the exact tests are enumerated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoShares(Design):
    """Two arms of independent units that do something or do not.

    Parameters
    ----------
    baseline : float
        Share in the arm without treatment, above 0 and below 1.
    rises : bool, default True
        Whether the share is expected to rise; False where it falls.
    by : ShareTest, default ShareTest.FISHER

    Notes
    -----
    n = (z_a sqrt(2 p q) + z_b sqrt(p1 q1 + p2 q2))² / d² with the mean share p; corrected,
    n / 4 (1 + sqrt(1 + 4 / (n d)))². The exact tests are enumerated over both binomials. Their
    power rises in steps: n is the least from which it does not fall below what was wanted again
    within the next ten.

    References
    ----------
    Fleiss, J. L. (1981). Statistical Methods for Rates and Proportions, ch. 3.
    Casagrande, J. T., Pike, M. C. and Smith, P. G. (1978). Biometrics 34, 483–486.
    Cohen, J. (1988), ch. 6 (arcsines).

    Examples
    --------
    >>> round(TwoShares(baseline=0.5, by=ShareTest.POOLED).power(50, 0.25), 3)
    0.74
    """

    baseline: float
    rises: bool = True
    by: ShareTest = ShareTest.FISHER

    test: ClassVar[str] = "test of two shares"
    source: ClassVar[str] = "Fleiss (1981); Casagrande, Pike and Smith (1978); Cohen (1988)"
    guessed: ClassVar[tuple[str, ...]] = ("baseline",)
    meant: ClassVar[str] = "the difference between the two shares, 0 to 1"

    def check(self) -> None:
        """Refuse a share that is not above 0 and below 1."""
        bounds.between("baseline", self.baseline, 0, 1, "share without treatment")

    def scale(self) -> float:
        """Give an effect to search from."""
        return self.largest() / 2

    def largest(self) -> float:
        """Give the largest difference that can be."""
        return 1 - self.baseline if self.rises else self.baseline

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in each arm; the exact tests round n down."""
        p1 = self.baseline
        p2 = min(1.0, max(0.0, p1 + (effect if self.rises else -effect)))
        if self.by is ShareTest.ARCSINE:
            h = 2 * abs(asin(sqrt(p1)) - asin(sqrt(p2)))
            return z_power(h * sqrt(n / 2), self.alpha, self.sides)
        if self.by in _EXACT:
            return self._exact(int(n), p1, p2)
        if self.by is ShareTest.CORRECTED:
            # The uncorrected n that this corrected one stands for.
            n = max(0.0, sqrt(n) - 1 / (effect * sqrt(n))) ** 2
        middle = (p1 + p2) / 2
        z = normal_quantile(1 - self.alpha / self.sides)
        apart = effect * sqrt(n) - z * sqrt(2 * middle * (1 - middle))
        return z_power(apart / sqrt(p1 * (1 - p1) + p2 * (1 - p2)), 0.5, 1)

    def _exact(self, n: int, p1: float, p2: float) -> float:
        most = _EXACT[self.by]
        if n > most:
            bounds.refuse(
                "by",
                f"{self.by.value} is counted out up to {most} units in an arm.",
                f"{n} would be needed or were given.",
                "Take the z test with continuity correction: with so many the two agree.",
            )
        if self.by is ShareTest.FISHER:
            rejected = fisher_p(n, n, self.sides) <= self.alpha
        else:
            rejected = unconditional_region(n, n, self.alpha, self.sides)
        low, high = sorted((p1, p2))
        return power_of_region(rejected, low, high)

    def holds(self, n: int, effect: float, power: float) -> bool:
        """Say whether a power is reached at n and does not fall below again soon after."""
        last = min(n + 10, _EXACT.get(self.by, n + 10))
        return all(self.power(one, effect) >= power for one in range(n, last + 1))

    def least(self, effect: float, power: float) -> int | None:
        """Give the least n of an exact test, whose power rises in steps; None for the others."""
        if self.by not in _EXACT:
            return None
        # An exact test never needs fewer than the pooled z does, give or take a step.
        pooled = replace(self, by=ShareTest.POOLED)
        n = max(
            self.lowest,
            int(0.8 * least_whole(lambda n: pooled.power(n, effect), power, self.lowest)),
        )
        while not self.holds(n, effect, power):
            n += 1
        return n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Units are independent of each other: eggs of one tank are not, see tanks.",
            f"Without treatment {100 * self.baseline:g} of 100 do it.",
            f"Compared by {self.by.value}.",
        )

    def cautions(self, n: int, effect: float) -> tuple[Caution, ...]:
        """Warn of a normal test of few."""
        del effect
        if self.by in _EXACT or n >= 50:
            return ()
        return (
            Caution(
                "few units",
                "With fewer than 50 in an arm the normal tests promise more than an exact one "
                "keeps: ask Fisher's too.",
                "Mehta and Senchaudhuri (2003)",
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedPairs(Design):
    """Pairs, or units seen twice, that do something or do not: who changed, and which way.

    Parameters
    ----------
    discordant : float
        Share of pairs whose two answers differ, above 0, at most 1.

    Notes
    -----
    n = (z_a sqrt(pd) + z_b sqrt(pd − d²))² / d² for McNemar's test, with d the difference between
    the shares that change in either direction.

    References
    ----------
    Connor, R. J. (1987). Sample size for testing differences in proportions for the paired-sample
    design. Biometrics 43, 207–211.

    Examples
    --------
    >>> from registry.design import solve
    >>> round(solve(ChangedPairs(discordant=0.5), effect=0.4, power=0.8).unrounded, 2)
    22.01
    """

    discordant: float

    counted: ClassVar[str] = "pairs"
    test: ClassVar[str] = "McNemar's test"
    source: ClassVar[str] = "Connor (1987), Biometrics 43, 207–211"
    guessed: ClassVar[tuple[str, ...]] = ("discordant",)
    meant: ClassVar[str] = "the share that changes one way less the share that changes the other"

    def check(self) -> None:
        """Refuse a share of changed pairs that is not above 0."""
        bounds.above_zero("discordant", self.discordant, "share of pairs that differ")
        bounds.between("discordant", self.discordant, 0, 1, "share of pairs that differ", ends=True)

    def scale(self) -> float:
        """Give an effect to search from."""
        return self.discordant / 2

    def largest(self) -> float:
        """Give the largest difference: every changed pair changes the same way."""
        return self.discordant

    def power(self, n: float, effect: float) -> float:
        """Give the power of n pairs."""
        z = normal_quantile(1 - self.alpha / self.sides)
        apart = effect * sqrt(n) - z * sqrt(self.discordant)
        left = self.discordant - effect**2
        if left <= 0:  # every pair differs, and the same way: nothing is left to chance
            return 1.0 if apart >= 0 else 0.0
        return z_power(apart / sqrt(left), 0.5, 1)

    def total(self, n: int) -> int:
        """Give all pairs."""
        return n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Pairs are independent of each other.",
            f"In {100 * self.discordant:g} of 100 pairs the two answers differ.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Table(Design):
    """A table of counts, or one row of them against expected shares, by the chi-square test.

    Parameters
    ----------
    df : int
        Degrees of freedom: (rows − 1)(columns − 1), or classes − 1.

    Notes
    -----
    The effect is Cohen's w: the root of the sum of (p1 − p0)² / p0 over the cells.

    References
    ----------
    Cohen, J. (1988), ch. 7.

    Examples
    --------
    >>> from registry.design import solve
    >>> solve(Table(df=2), effect=0.3, power=0.8).n
    108
    """

    df: int

    counted: ClassVar[str] = "units in all"
    test: ClassVar[str] = "chi-square test"
    source: ClassVar[str] = "Cohen (1988), chapter 7"
    guessed: ClassVar[tuple[str, ...]] = ()
    meant: ClassVar[str] = "w: 0.1 small, 0.3 medium, 0.5 large (Cohen 1988)"

    def check(self) -> None:
        """Refuse degrees of freedom below 1."""
        bounds.whole("df", self.df, 1, "number of degrees of freedom")

    def power(self, n: float, effect: float) -> float:
        """Give the power of n units in all."""
        return chi2_power(n * effect**2, self.df, self.alpha)

    def total(self, n: int) -> int:
        """Give all units."""
        return n

    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""
        return (
            "Each unit is counted once, independently of the others: scans of one animal are not.",
            "No cell is expected to hold fewer than about five.",
        )
