"""Time budgets: shares of visible time by animal, with visibility and what hides behind it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Mean, Numbers, mean_of
from registry.design import bounds
from registry.design.recording import Summary
from registry.design.simulating.chance import Chance

type Places = NDArray[np.intp]

DRAWN = 2000
"""Resamples of sessions; a percentile then has a Monte Carlo error of some .005 in its level."""
FEW_SESSIONS = 20


@dataclass(frozen=True, slots=True)
class Share:
    """How much of the time one behaviour took.

    Parameters
    ----------
    behaviour : str
    of_visible : Mean
        Mean over animals of the share of visible time, 0 to 1, with its interval over animals.
    of_all : Mean
        The same with all time below it: the lower bound, where the animal out of sight never did
        it.
    at_most : Mean
        The upper bound, where the animal out of sight did nothing else.
    by_animal : tuple of float
        Share of visible time of each animal, in the order of `Budget.animals`; NaN where it was
        never visible.
    these_animals : tuple of (float, float) or None
        Percentile interval from drawing sessions again within each animal: it speaks of these
        animals only. None where no animal has two sessions.
    """

    behaviour: str
    of_visible: Mean
    of_all: Mean
    at_most: Mean
    by_animal: tuple[float, ...]
    these_animals: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Budget:
    """A time budget over animals.

    Parameters
    ----------
    gives : Summary
        What the shares are shares of: time, sample points or intervals.
    animals : tuple of str
    sessions : int
        Sessions of an animal, added over animals.
    visible : Mean
        Mean over animals of the visible share of all time, 0 to 1.
    shares : tuple of Share
    gaps : tuple of Gap
    """

    gives: Summary
    animals: tuple[str, ...]
    sessions: int
    visible: Mean
    shares: tuple[Share, ...]
    gaps: tuple[Gap, ...]

    def of(self, behaviour: str) -> Share:
        """Give the share of one behaviour."""
        for one in self.shares:
            if one.behaviour == behaviour:
                return one
        return bounds.refuse(
            "behaviour",
            f"“{behaviour}” is not in this budget.",
            f"It holds {few_named([one.behaviour for one in self.shares])}.",
            "Ask for one of these.",
        )


@dataclass(frozen=True, slots=True, eq=False)
class Amounts:
    """Time or counts of each behaviour in each session of each animal.

    Parameters
    ----------
    behaviours : tuple of str
    amounts : ndarray of float, shape (sessions, behaviours)
        Visible seconds, scans or intervals.
    total, unseen : ndarray of float, shape (sessions,)
        All, and those out of sight.
    animal : ndarray of int, shape (sessions,)
        Place in `animals`.
    animals : tuple of str
    """

    behaviours: tuple[str, ...]
    amounts: Numbers
    total: Numbers
    unseen: Numbers
    animal: Places
    animals: tuple[str, ...]

    def only(self, keep: NDArray[np.bool_]) -> "Amounts":
        """Give some sessions alone; an animal without any stays by its name."""
        return Amounts(
            self.behaviours,
            self.amounts[keep],
            self.total[keep],
            self.unseen[keep],
            self.animal[keep],
            self.animals,
        )

    def by_animal(self) -> tuple[Numbers, Numbers, Numbers]:
        """Add sessions up: amounts (animals, behaviours), all and unseen (animals,)."""
        n = len(self.animals)
        amounts = np.zeros((n, len(self.behaviours)))
        np.add.at(amounts, self.animal, self.amounts)
        total = np.bincount(self.animal, self.total, minlength=n)
        return amounts, total, np.bincount(self.animal, self.unseen, minlength=n)


def budget_of(
    found: Amounts,
    gives: Summary,
    *,
    least_visible: float = 0.0,
    confidence: float = 0.95,
    these_animals: bool = False,
    seed: int = 1,
    gaps: Sequence[Gap] = (),
) -> Budget:
    """Make a budget of amounts.

    Parameters
    ----------
    found : Amounts
    gives : Summary
    least_visible : float, default 0
        Sessions visible for a smaller share than this, 0 to 1, are left out.
    confidence : float, default 0.95
    these_animals : bool, default False
        Whether to draw sessions again within animals, for an interval that speaks of these alone.
    seed : int, default 1
        Of those draws.
    gaps : sequence of Gap
        What was already left out.
    """
    bounds.between("least_visible", least_visible, 0, 1, "least visible share", ends=True)
    told = list(gaps)
    found = _visible_enough(found, least_visible, told)
    amounts, total, unseen = found.by_animal()
    visible = total - unseen
    _say_who_lacks(found.animals, total, visible, told)
    with np.errstate(invalid="ignore", divide="ignore"):
        of_visible = amounts / np.where(visible > 0, visible, np.nan)[:, None]
        of_all = amounts / np.where(total > 0, total, np.nan)[:, None]
        hidden = unseen / np.where(total > 0, total, np.nan)
    again = _drawn_again(found, confidence, seed, told) if these_animals else None

    def over(values: Numbers) -> Mean:
        return mean_of(values, confidence=confidence, least=0.0, most=1.0)

    shares = tuple(
        Share(
            name,
            over(of_visible[:, place]),
            over(of_all[:, place]),
            over(of_all[:, place] + hidden),
            tuple(float(one) for one in of_visible[:, place]),
            None if again is None else (float(again[0, place]), float(again[1, place])),
        )
        for place, name in enumerate(found.behaviours)
    )
    return Budget(gives, found.animals, len(found.total), over(1 - hidden), shares, tuple(told))


def _visible_enough(found: Amounts, least: float, told: list[Gap]) -> Amounts:
    keep = (found.total - found.unseen) >= least * found.total
    if not keep.all():
        told.append(
            Gap(
                f"{int((~keep).sum())} of {len(keep)} sessions of an animal are left out.",
                f"The animal was visible for less than {100 * least:g} per cent of each.",
            )
        )
        found = found.only(keep)
    return found


def _say_who_lacks(
    animals: tuple[str, ...], total: Numbers, visible: Numbers, told: list[Gap]
) -> None:
    gone = [name for name, all_ in zip(animals, total, strict=True) if all_ <= 0]
    if gone:
        told.append(Gap(f"No shares of {few_named(gone)}.", "No session of theirs is left."))
    hidden = [
        name
        for name, all_, seen in zip(animals, total, visible, strict=True)
        if all_ > 0 and seen <= 0
    ]
    if hidden:
        told.append(
            Gap(
                f"No shares of visible time of {few_named(hidden)}.",
                "They were never visible; they stand in the bounds alone.",
            )
        )
    if int((visible > 0).sum()) == 1:
        told.append(
            Gap(
                "No interval over animals can be computed.",
                "One animal shows how it behaves, not how much animals differ.",
            )
        )


def _drawn_again(found: Amounts, confidence: float, seed: int, told: list[Gap]) -> Numbers | None:
    """Draw sessions again within each animal; give both ends for each behaviour."""
    seen = found.total - found.unseen
    kept = found.only(seen > 0)
    sessions = np.bincount(kept.animal, minlength=len(found.animals))
    if sessions.max(initial=0) < 2:
        return None
    fewest = int(sessions[sessions > 0].min())
    if fewest < FEW_SESSIONS:
        told.append(
            Gap(
                "The interval for these animals only is somewhat too narrow.",
                f"It draws sessions again, and some animal has {fewest}; below {FEW_SESSIONS} it "
                "covers less often than it says.",
            )
        )
    chance = Chance(seed)
    means = np.zeros((DRAWN, len(found.behaviours)))
    for animal in np.flatnonzero(sessions):
        own = kept.only(kept.animal == animal)
        weights = _weights(chance, len(own.total))
        means += (weights @ own.amounts) / (weights @ (own.total - own.unseen))[:, None]
    means /= int((sessions > 0).sum())
    ends = [(1 - confidence) / 2, (1 + confidence) / 2]
    return np.asarray(np.quantile(means, ends, axis=0))


def _weights(chance: Chance, sessions: int) -> Numbers:
    """Give how often each session is drawn, in each of the resamples."""
    picked = chance.below(sessions, DRAWN, sessions) + sessions * np.arange(DRAWN)[:, None]
    counts = np.bincount(picked.ravel(), minlength=DRAWN * sessions)
    return counts.reshape(DRAWN, sessions).astype(float)
