"""What is simulated: tanks or single units in arms, measured, doing something, or counted."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import sqrt
from typing import Self

import numpy as np
from scipy import special

from registry.design import bounds
from registry.design.simulating.chance import Chance, Numbers


class Outcome(StrEnum):
    """What is observed of an animal or a tank."""

    MEASURE = "measured on each animal"
    SHARE = "each animal does it or not"
    COUNT = "events counted in each tank"


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """A study that can be drawn as often as one likes.

    Parameters
    ----------
    means : sequence of float
        What is expected in each arm, two arms or more: a mean in the outcome's own unit, a share
        above 0 and below 1, or a count above 0.
    units : int
        Tanks, or animals that are units, in each arm, two or more.
    per_unit : int, default 1
        Animals or eggs in each unit.
    outcome : Outcome, default Outcome.MEASURE
    sd : float, default 1
        Standard deviation between animals of one arm, of a measure.
    icc : float, default 0
        Share of that variance that lies between units, of a measure.
    sd_units : float, default 0
        Standard deviation between units on the scale of the logit (share) or logarithm (count).
    sd_blocks : float, default 0
        Standard deviation between blocks, on the same scale as the units'; the first unit of each
        arm stands in the first block, and so on.

    Raises
    ------
    Unsound
        On anything out of range.

    Examples
    --------
    >>> Study(means=[0, 1], units=4, per_unit=10, icc=0.2).drawn(Chance(1), 5).shape
    (5, 2, 4, 10)
    """

    means: Sequence[float]
    units: int
    per_unit: int = 1
    outcome: Outcome = Outcome.MEASURE
    sd: float = 1.0
    icc: float = 0.0
    sd_units: float = 0.0
    sd_blocks: float = 0.0

    def __post_init__(self) -> None:
        bounds.whole("means", len(self.means), 2, "number of arms")
        for one in self.means:
            bounds.number("means", one, "mean of an arm")
            if self.outcome is Outcome.SHARE:
                bounds.between("means", one, 0, 1, "share of an arm")
            if self.outcome is Outcome.COUNT:
                bounds.above_zero("means", one, "count of an arm")
        bounds.whole("units", self.units, 2, "number of units in each arm")
        bounds.whole("per_unit", self.per_unit, 1, "number of animals in a unit")
        bounds.spread(self.sd)
        bounds.icc_of(self.icc)
        for field, value in (("sd_units", self.sd_units), ("sd_blocks", self.sd_blocks)):
            if value != 0:
                bounds.spread(value, field)

    def without_effect(self) -> Self:
        """Give the same study in which every arm is like the first."""
        return replace(self, means=[self.means[0]] * len(self.means))

    def of_unit_means(self) -> Self:
        """Give the study of the units' means alone, which is exact where a measure is normal."""
        if self.outcome is not Outcome.MEASURE:
            return self
        spread = self.sd * sqrt(self.icc + (1 - self.icc) / self.per_unit)
        return replace(self, sd=spread, icc=0.0, per_unit=1)

    @property
    def values(self) -> int:
        """How many numbers one study draws."""
        return len(self.means) * self.units * self.per_unit

    def drawn(self, chance: Chance, runs: int) -> Numbers:
        """Draw studies.

        Returns
        -------
        array of float, shape (runs, arms, units, animals)
            Counts have one animal a unit.
        """
        arms = len(self.means)
        shape = (runs, arms, self.units, self.per_unit)
        means = np.asarray(self.means, dtype=float)[None, :, None]
        if self.outcome is Outcome.MEASURE:
            spread = self.sd * sqrt(self.icc)
            own = means + self._between(chance, runs, spread)
            # In place: these are the largest arrays of all.
            found = chance.normal(*shape)
            found *= self.sd * sqrt(1 - self.icc)
            found += own[..., None]
            return found
        own = self._between(chance, runs, self.sd_units)
        if self.outcome is Outcome.SHARE:
            shares = special.expit(special.logit(means) + own)
            return np.asarray((chance.uniform(*shape) < shares[..., None]).astype(float))
        # A logarithm's spread raises the mean; this keeps it where it was asked.
        lowered = np.exp(own - (self.sd_units**2 + self.sd_blocks**2) / 2)
        return chance.poisson(means * lowered)[..., None]

    def _between(self, chance: Chance, runs: int, spread: float) -> Numbers:
        """Draw what units and blocks add."""
        own = np.zeros((runs, len(self.means), self.units))
        if spread:
            own += spread * chance.normal(*own.shape)
        if self.sd_blocks:
            own += self.sd_blocks * chance.normal(runs, 1, self.units)
        return own


def logit_spread(share: float, icc: float) -> float:
    """Give about the spread between units on the logit's scale that makes such an ICC of a share.

    Parameters
    ----------
    share : float
        Above 0 and below 1.
    icc : float
        Correlation of two animals of a unit, 0 to below 1.

    Notes
    -----
    First order: Var(p) = ICC p q, and dp = p q d(logit).

    Examples
    --------
    >>> round(logit_spread(0.5, 0.05), 2)
    0.45
    """
    bounds.between("share", share, 0, 1, "share")
    bounds.icc_of(icc)
    return sqrt(icc / (share * (1 - share)))
