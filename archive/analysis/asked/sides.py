"""Units in their arms, as an analysis compares them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from archive.analysis.asked.found import Table
from archive.analysis.comparing.proposing import Outcome
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers, mean_of
from registry.design.allocation.base import Allocation, Place

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Units and what is to be compared.

    Parameters
    ----------
    outcome : Outcome
    said : str
        The outcome in words, with its unit.
    names, arms : tuple of str
        Of each unit; of units that went through all arms, one of each for every arm.
    values : ndarray of float, shape (units,)
    reference : str
        The arm that the others are compared with.
    counts : tuple of ndarray, optional
        Of shares: how many, and out of how many, in each unit.
    is_within : bool, default False
        Whether every unit went through all arms.
    allocation : Allocation, optional
        As the register recorded it and as it was revealed.
    seed : int, default 1
    drawn_from : mapping, optional
        What the allocation was drawn from, where the register told it.
    """

    outcome: Outcome
    said: str
    names: tuple[str, ...]
    arms: tuple[str, ...]
    values: Numbers
    reference: str
    counts: tuple[Numbers, Numbers] | None = None
    is_within: bool = False
    allocation: Allocation | None = None
    seed: int = 1
    drawn_from: Mapping[str, Any] | None = None

    @property
    def order(self) -> list[str]:
        """The arms, the reference first."""
        return [self.reference, *(one for one in sorted(set(self.arms)) if one != self.reference)]

    def place(self, arm: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Which units are in an arm."""
        return np.array([one == arm for one in self.arms], dtype=bool)

    def of(self, arm: str) -> Numbers:
        """The values of an arm; units in the order of their names where each went through all."""
        found = self.values[self.place(arm)]
        if not self.is_within:
            return found
        names = [name for name, one in zip(self.names, self.arms, strict=True) if one == arm]
        return np.asarray(found[np.argsort(np.array(names))])

    @property
    def sequences(self) -> dict[str, tuple[str, ...]]:
        """The drawn order of the arms of each unit that went through just those."""
        places = self.allocation.places if self.allocation and self.is_within else ()
        return {
            one.unit: one.sequence
            for one in places
            if one.unit in self.names and sorted(one.sequence) == sorted(self.order)
        }

    @property
    def units(self) -> dict[str, int]:
        """How many units each arm has."""
        return {arm: int(self.place(arm).sum()) for arm in self.order}


def allocation_from(told: Mapping[str, Any] | None) -> Allocation | None:
    """Make an allocation of what the register told: method, places and commitment."""
    if not told:
        return None
    places = tuple(
        Place(unit, arm, block, tuple(sequence)) for unit, arm, block, sequence in told["places"]
    )
    return Allocation(told["method"], places, told["commitment"], ())


def reference_of(arms: Sequence[str], asked: str, gaps: list[Gap]) -> str:
    """Give the arm that others are compared with: the one asked for, or the first by its name."""
    known = sorted(set(arms))
    if asked and asked not in known:
        gaps.append(
            Gap(f"“{asked}” is not compared with.", f"The arms are {few_named(known, most=9)}.")
        )
    return asked if asked in known else known[0]


def arms_table(sides: Sides) -> Table:
    """Give the mean of each arm over its units."""
    rows = []
    for arm in sides.order:
        found = mean_of(sides.of(arm), confidence=CONFIDENCE)
        rows.append((arm, found.n, found.mean, found.sd, found.low, found.high))
    return Table(
        "arms",
        f"{sides.said} by arm, over units",
        ("arm", "units", "mean", "standard deviation", "from", "to"),
        tuple(rows),
    )
