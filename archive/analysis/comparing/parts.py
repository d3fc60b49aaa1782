"""Every arrangement that a draw could have given, as sums over independent parts."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import factorial, prod, sqrt
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from archive.analysis.means import Numbers
from registry.design import bounds
from registry.design.simulating.chance import Chance

type Labels = NDArray[np.intp]

LISTED = 1_000_000
"""Arrangements that are all gone through; of more, some are drawn."""
DRAWN = 99_999
FEW = 5000
AT_ONCE = 4_000_000
"""Numbers that are drawn at once; more would only fill memory."""


class Part(Protocol):
    """One part of a design that was drawn independently of the others: a block, an animal."""

    @property
    def count(self) -> int:
        """How many arrangements it could have had."""

    @property
    def actual(self) -> Numbers:
        """Its share of the statistics as it was drawn: shape (columns,)."""

    def every(self) -> Numbers:
        """Its share of the statistics in every arrangement: shape (count, columns)."""

    def drawn(self, chance: Chance, times: int) -> Numbers:
        """Its share in arrangements drawn at random: shape (times, columns)."""


@dataclass(frozen=True, slots=True, eq=False)
class Dealt:
    """Labels dealt to units: any deal of the same labels was as likely.

    Parameters
    ----------
    values : ndarray of float, shape (units, kinds, columns)
        What a unit adds to each statistic under each kind of label.
    labels : ndarray of int, shape (units,)
        As they were dealt.
    """

    values: Numbers
    labels: Labels

    @property
    def kinds(self) -> list[int]:
        """How often each label was dealt."""
        return np.bincount(self.labels, minlength=self.values.shape[1]).tolist()

    @property
    def count(self) -> int:
        """How many deals there are."""
        return factorial(len(self.labels)) // prod(factorial(one) for one in self.kinds)

    @property
    def actual(self) -> Numbers:
        """The sums as dealt."""
        return np.asarray(self.values[np.arange(len(self.labels)), self.labels].sum(axis=0))

    def every(self) -> Numbers:
        """Give the sums of every deal.

        Notes
        -----
        Unit after unit is added to the sums of all ways to deal to those before it, kept apart by
        the labels that are left; so no deal is ever written out.
        """
        ways = {tuple(self.kinds): np.zeros((1, self.values.shape[2]))}
        for unit in self.values:
            longer: dict[tuple[int, ...], list[Numbers]] = defaultdict(list)
            for left, sums in ways.items():
                for label, number in enumerate(left):
                    if number:
                        rest = (*left[:label], number - 1, *left[label + 1 :])
                        longer[rest].append(sums + unit[label])
            ways = {left: np.concatenate(sums) for left, sums in longer.items()}
        return next(iter(ways.values()))

    def drawn(self, chance: Chance, times: int) -> Numbers:
        """Give the sums of deals drawn at random."""
        if self.count <= FEW:  # a block, a pair: it is quicker to list them
            every = self.every()
            return np.asarray(every[chance.below(len(every), times)])
        units = len(self.labels)
        found = []
        step = max(1, AT_ONCE // max(1, units * self.values.shape[2]))
        for begin in range(0, times, step):
            order = chance.uniform(min(step, times - begin), units).argsort(axis=1)
            found.append(self.values[np.arange(units), self.labels[order]].sum(axis=1))
        return np.concatenate(found)


@dataclass(frozen=True, slots=True, eq=False)
class Listed:
    """A list of all arrangements, each as likely.

    Parameters
    ----------
    values : ndarray of float, shape (count, columns)
    actual : ndarray of float, shape (columns,)
    """

    values: Numbers
    actual: Numbers

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.values)

    def every(self) -> Numbers:
        """Give the statistics of all."""
        return self.values

    def drawn(self, chance: Chance, times: int) -> Numbers:
        """Give the statistics of some drawn at random."""
        return np.asarray(self.values[chance.below(self.count, times)])


def every_sum(parts: Sequence[Part]) -> Numbers:
    """Give the statistics of every arrangement of all parts: shape (number, columns)."""
    total = np.zeros((1, len(parts[0].actual)))
    for one in parts:
        values = one.every()
        total = (total[:, None, :] + values[None, :, :]).reshape(-1, values.shape[1])
    return total


def actual_sum(parts: Sequence[Part]) -> Numbers:
    """Give the statistics as it was drawn: shape (columns,)."""
    return np.asarray(np.sum([one.actual for one in parts], axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """The arrangements that a test looked at.

    Parameters
    ----------
    statistics : ndarray of float, shape (looked at, columns)
    number : int
        That could have been drawn.
    drawn : int
        How many of them were drawn, 0 where all were gone through.
    """

    statistics: Numbers
    number: int
    drawn: int

    def error(self, p: float) -> float:
        """Give the Monte Carlo standard error of a p; 0 where all were gone through."""
        return sqrt(p * (1 - p) / self.drawn) if self.drawn else 0.0


def looked_at(parts: Sequence[Part], *, seed: int = 1, draws: int = DRAWN) -> Seen:
    """Go through all arrangements, or draw some; the actual one is then among them.

    Parameters
    ----------
    parts : sequence of Part
    seed : int, default 1
    draws : int, default 99999
        At least 100.

    References
    ----------
    Phipson, B. and Smyth, G. K. (2010). Statistical Applications in Genetics and Molecular Biology
    9, 39: why p is never 0.
    """
    number = prod(one.count for one in parts)
    if number <= LISTED:
        return Seen(every_sum(parts), number, 0)
    bounds.whole("draws", draws, 100, "number of drawn arrangements")
    total, chance = np.zeros((draws, len(parts[0].actual))), Chance(seed)
    for one in parts:
        total += one.drawn(chance, draws)
    return Seen(np.vstack([total, actual_sum(parts)]), number, draws)
