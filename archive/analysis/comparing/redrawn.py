"""Drawn anew by its own rule: what minimisation or a Latin square could have given as well."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import isqrt
from typing import Any

import numpy as np

from archive.analysis.columns import Flags
from archive.analysis.comparing.parts import Labels
from registry.design import bounds
from registry.design.allocation.base import Allocation
from registry.design.simulating.chance import Chance

DRAWS = 9_999
ANEW = {"minimisation", "Latin square"}
"""Methods of which what else they could have given is drawn, not gone through."""
_PARTS = 1000


@dataclass(frozen=True, slots=True, eq=False)
class Redrawn:
    """What a rule gave, and what it could have given.

    Parameters
    ----------
    arms : tuple of str
    labels : ndarray of int, shape (arrangements, units)
        The place of each unit's arm in `arms`; the actual arrangement first.
    is_all : bool
        Whether every arrangement stands there once; else each was drawn, and may stand there often.
    """

    arms: tuple[str, ...]
    labels: Labels
    is_all: bool

    def treated(self, treatment: str) -> Flags:
        """Which units have one of two arms, in each arrangement in which both stand."""
        found = self.labels == self.arms.index(treatment)
        return np.asarray(found[found.any(axis=1) & ~found.all(axis=1)])


def redrawn(
    allocation: Allocation,
    given: Mapping[str, Any] | None,
    *,
    seed: int = 1,
    draws: int = DRAWS,
) -> Redrawn:
    """Draw an allocation anew by the rule by which it was drawn.

    Parameters
    ----------
    allocation : Allocation
        By minimisation or by a Latin square, as the register recorded it.
    given : mapping or None
        What it was drawn from: of minimisation `levels` (unit to factor to level), `arms` where one
        may have got no unit and, where it was said, `share`.
    seed : int, default 1
    draws : int, default 9999

    Raises
    ------
    Unsound
        Where the factors are not known, or the rule left nothing to chance.

    Notes
    -----
    Minimisation: units in the order in which they arrived, with their levels as they were; each
    goes by the same biased draw. Latin square: rows, columns and treatments of the square that was
    drawn are shuffled, as they were when it was drawn, so that each is as likely as the actual one.
    Of the actual one and so many drawn by the same rule none stands out but by the treatment.

    References
    ----------
    Simon, R. (1979). Restricted randomization designs in clinical trials. Biometrics 35, 503–512
    (re-randomisation after minimisation; from memory). Edgington, E. S. and Onghena, P. (2007).
    Randomization Tests, 4th ed. Fisher, R. A. (1935). The Design of Experiments, ch. 5 (squares).

    Examples
    --------
    >>> from registry.design import Stream, latin
    >>> days, shelves = ["Mon", "Tue", "Wed"], ["top", "mid", "low"]
    >>> redrawn(latin(shelves, days, ["x", "y", "z"], Stream(bytes(32))), None).labels.shape
    (12, 9)
    """
    seen = dict.fromkeys(one.arm for one in allocation.places)
    arms = tuple(dict.fromkeys([*(given or {}).get("arms", ()), *seen]))
    actual = np.array([arms.index(one.arm) for one in allocation.places], dtype=np.intp)
    labels = _RULES[allocation.method](allocation, given or {}, actual, arms, Chance(seed), draws)
    every = np.unique(labels, axis=0)
    if allocation.method == "Latin square" and len(every) * 20 < draws:
        return Redrawn(arms, every, is_all=True)
    return Redrawn(arms, labels, is_all=False)


type _Rule = Callable[[Allocation, Mapping[str, Any], Labels, tuple[str, ...], Chance, int], Labels]


def _square(
    allocation: Allocation,
    given: Mapping[str, Any],
    actual: Labels,
    arms: tuple[str, ...],
    chance: Chance,
    draws: int,
) -> Labels:
    del given
    order = isqrt(len(actual))
    square = actual.reshape(order, order)
    rows, columns, symbols = (_shuffles(chance, draws, order) for _ in range(3))
    moved = square[rows[:, :, None], columns[:, None, :]].reshape(draws, -1)
    return np.vstack([actual, np.take_along_axis(symbols, moved, axis=1)])


def _shuffles(chance: Chance, times: int, size: int) -> Labels:
    return np.asarray(np.argsort(chance.uniform(times, size), axis=1), dtype=np.intp)


def _minimised(
    allocation: Allocation,
    given: Mapping[str, Any],
    actual: Labels,
    arms: tuple[str, ...],
    chance: Chance,
    draws: int,
) -> Labels:
    units = [one.unit for one in allocation.places]
    levels: Mapping[str, Mapping[str, str]] = given.get("levels") or {}
    share = float(given.get("share") or 0.8)
    if share >= 1 or not set(units) <= set(levels):
        bounds.refuse(
            "allocation",
            "This minimisation cannot be drawn anew.",
            "It always took the best treatment, so that it left next to nothing to chance."
            if share >= 1
            else "The factors and levels of some unit are not known.",
            "Take the t test or the analysis of variance with its factors, and say that it leans "
            "on its assumptions.",
        )
    labels = np.empty((draws, len(units)), dtype=np.intp)
    counts: dict[tuple[str, str], Labels] = {}
    for place, unit in enumerate(units):
        held = [
            counts.setdefault(one, np.zeros((draws, len(arms)), dtype=np.intp))
            for one in levels[unit].items()
        ]
        labels[:, place] = chosen = _taken(held, share, chance)
        for one in held:
            one[np.arange(draws), chosen] += 1
    return np.vstack([actual, labels])


def _taken(held: Sequence[Labels], share: float, chance: Chance) -> Labels:
    """Draw the treatment of one unit in every draw at once, as `minimised` draws it in one."""
    draws, arms = held[0].shape
    imbalance = np.zeros((draws, arms), dtype=np.intp)
    for counts in held:
        for candidate in range(arms):
            after = counts + (np.arange(arms) == candidate)
            imbalance[:, candidate] += after.max(axis=1) - after.min(axis=1)
    best = imbalance == imbalance.min(axis=1)[:, None]
    leans = best.all(axis=1) | (chance.below(_PARTS, draws) < round(_PARTS * share))
    among = np.where(leans[:, None], best, ~best)
    return np.asarray(np.where(among, chance.uniform(draws, arms), 0.0).argmax(axis=1))


_RULES: dict[str, _Rule] = {"minimisation": _minimised, "Latin square": _square}
