"""Several arms at once: the randomisation test of any difference between them."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.columns import rows_of
from archive.analysis.comparing.parts import DRAWN, Dealt, Labels, Part, actual_sum, looked_at
from archive.analysis.means import Numbers
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class AmongArms:
    """A test of any difference between several arms.

    Parameters
    ----------
    p : float
        0 to 1.
    arms : tuple of str
    means : tuple of float
        Mean of each arm, in the outcome's own unit; blocks count once each.
    arrangements, drawn : int
        That could have been, and that were looked at where not all were.
    error : float
        Monte Carlo standard error of p.
    smallest_p : float
        The p of the most extreme arrangement of these data.
    """

    p: float
    arms: tuple[str, ...]
    means: tuple[float, ...]
    arrangements: int
    drawn: int
    error: float
    smallest_p: float


def among_arms(
    values: ArrayLike,
    arms: Sequence[Hashable],
    *,
    block: Sequence[Hashable] | None = None,
    seed: int = 1,
    draws: int = DRAWN,
) -> AmongArms:
    """Test whether several arms differ at all, by the draw that was made.

    Parameters
    ----------
    values : array_like of float, shape (units,)
    arms : sequence of hashable
        Arm of each unit.
    block : sequence of hashable, optional
        Block of each unit; every arm stands in each.
    seed : int, default 1
    draws : int, default 99999
        Where there are more than a million arrangements.

    Notes
    -----
    Of the means of arms, squared and added (each times its number of units where there are no
    blocks): as extreme is what is as large. Without blocks that orders arrangements as F does.

    References
    ----------
    Edgington, E. S. and Onghena, P. (2007). Randomization Tests, 4th ed., ch. 4.

    Examples
    --------
    >>> found = among_arms([1, 2, 3, 4, 9, 8], ["a", "a", "b", "b", "c", "c"])
    >>> found.arrangements, round(found.p, 4)
    (90, 0.0667)
    """
    y = np.asarray(values, dtype=float)
    names = list(dict.fromkeys(arms))
    label = np.array([names.index(one) for one in arms])
    if len(y) != len(label) or not np.isfinite(y).all() or len(names) < 2:
        bounds.refuse(
            "arms",
            "These arms cannot be compared.",
            "There are fewer than two, or a value or an arm is missing.",
            "Give a value and an arm for every unit.",
        )
    blocks = [""] * len(y) if block is None else list(block)
    if len(blocks) != len(y):
        bounds.refuse(
            "block", "Each unit needs a block.", "Some have none.", "Give one for every unit."
        )
    parts = _parts(y, label, len(names), blocks)
    weight = np.bincount(label) if block is None else np.ones(len(names))

    def statistic(means: Numbers) -> Numbers:
        return np.asarray((means**2 * weight).sum(axis=1))

    looked = looked_at(parts, seed=seed, draws=draws)
    seen = statistic(looked.statistics)
    actual = statistic(actual_sum(parts)[None, :])[0]
    largest = float(seen.max())
    slack = 1e-10 * max(largest, 1e-300)
    p, smallest = (float((seen >= one - slack).mean()) for one in (actual, largest))
    told = _told(y, label, blocks, len(names))
    return AmongArms(
        p=p,
        arms=tuple(str(one) for one in names),
        means=told,
        arrangements=looked.number,
        drawn=looked.drawn,
        error=looked.error(p),
        smallest_p=smallest,
    )


def among_drawn(
    values: ArrayLike, actual: Labels, labels: Labels, arms: Sequence[str], *, is_all: bool
) -> AmongArms:
    """Test the same against arrangements that are listed, the actual one among them.

    Parameters
    ----------
    values : array_like of float, shape (units,)
    actual : ndarray of int, shape (units,)
        The place of each unit's arm in `arms`, as it was.
    labels : ndarray of int, shape (arrangements, units)
        As it could have been; the actual one is among them.
    arms : sequence of str
    is_all : bool
        Whether these are all, each once; else they were drawn.

    Notes
    -----
    As in `among_arms`; units count alike, whatever their block.
    """
    y = np.asarray(values, dtype=float)
    centred = y - y.mean()

    def statistic(rows: Labels) -> Numbers:
        sums = np.zeros(len(rows))
        for arm in range(len(arms)):
            inside = rows == arm
            sums += (inside @ centred) ** 2 / np.maximum(inside.sum(axis=1), 1)
        return sums

    seen, own = statistic(labels), float(statistic(actual[None, :])[0])
    largest = float(seen.max())
    slack = 1e-10 * max(largest, 1e-300)
    p, smallest = (float((seen >= one - slack).mean()) for one in (own, largest))
    there = [arm for arm in range(len(arms)) if (actual == arm).any()]
    drawn = 0 if is_all else len(labels) - 1
    return AmongArms(
        p=p,
        arms=tuple(arms[arm] for arm in there),
        means=tuple(float(y[actual == arm].mean()) for arm in there),
        arrangements=len(labels),
        drawn=drawn,
        error=sqrt(p * (1 - p) / drawn) if drawn else 0.0,
        smallest_p=smallest,
    )


def _parts(y: Numbers, label: Labels, arms: int, blocks: Sequence[Hashable]) -> list[Part]:
    """Give a part for each block; a column for each arm's mean, the block's own mean taken off."""
    places = rows_of(blocks).values()
    parts: list[Part] = []
    for units in places:
        sizes = np.bincount(label[units], minlength=arms)
        if not sizes.all():
            bounds.refuse(
                "block",
                "Some block has not every arm.",
                "Its units cannot be set against all the others.",
                "Compare two arms at a time, or leave that block out and say so.",
            )
        own = y[units] - y[units].mean()
        values = own[:, None, None] * (np.eye(arms) / sizes)[None, :, :] / len(places)
        parts.append(Dealt(values, label[units]))
    return parts


def _told(y: Numbers, label: Labels, blocks: Sequence[Hashable], arms: int) -> tuple[float, ...]:
    """Give the mean of each arm over blocks."""
    by_block = [
        [y[units][label[units] == arm].mean() for arm in range(arms)]
        for units in rows_of(blocks).values()
    ]
    return tuple(float(one) for one in np.mean(by_block, axis=0))
