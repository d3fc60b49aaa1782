"""The analyses that a plan may name, each done on all simulated studies at once.

Each takes an array of shape (runs, arms, units, animals) and a level, and gives for every run
whether it rejects. Those that take animals for units are here to show what becomes of it.
"""

from collections.abc import Callable
from enum import StrEnum
from functools import lru_cache
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray
from scipy import special

from registry.design import bounds
from registry.design.simulating.chance import Chance, Numbers

type Flags = NDArray[np.bool_]

LISTED = 3000
"""Arrangements that are all gone through; of more, as many are drawn."""


class Analysis(StrEnum):
    """The analysis that the plan names."""

    UNIT_T = "t test of unit means"
    UNIT_WELCH = "Welch's t test of unit means"
    UNIT_F = "analysis of variance of unit means"
    UNIT_PERMUTATION = "exact permutation of units"
    UNIT_RANKS = "Wilcoxon–Mann–Whitney test of unit means"
    BLOCK_T = "paired t test within blocks"
    BLOCK_SIGNS = "exact change of signs within blocks"
    LOGIT_T = "t test of empirical logits of units"
    QUASI_T = "quasi-binomial t test"
    ANIMAL_T = "t test of animals as if each were a unit"
    ANIMAL_Z = "z test of shares as if each animal were a unit"
    COUNT_Z = "z test of counts as if units did not differ"


PSEUDO = frozenset({Analysis.ANIMAL_T, Analysis.ANIMAL_Z, Analysis.COUNT_Z})
"""Analyses that take something for the unit that is none."""


def _two(studies: Numbers) -> tuple[Numbers, Numbers]:
    if studies.shape[1] != 2:
        bounds.refuse(
            "analysis",
            "This analysis compares two arms.",
            f"The study has {studies.shape[1]}.",
            "Take the analysis of variance of unit means.",
        )
    return studies[:, 0], studies[:, 1]


def _t_rejects(one: Numbers, other: Numbers, alpha: float) -> Flags:
    """Compare two arrays of shape (runs, values) by Student's t."""
    n = one.shape[1]
    squares = one.var(axis=1) + other.var(axis=1)
    apart = one.mean(axis=1) - other.mean(axis=1)
    df = 2 * n - 2
    critical = special.stdtrit(df, 1 - alpha / 2)
    # |t| > c without a division: where nothing varies, any difference at all rejects.
    return np.asarray(apart**2 * df > critical**2 * 2 * squares)


def _unit_t(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    one, other = _two(_means(studies))
    return _t_rejects(one, other, alpha)


def _means(studies: Numbers) -> Numbers:
    # A product with ones is several times faster than a mean over a short last axis.
    width = studies.shape[-1]
    return np.asarray(studies @ np.full(width, 1 / width))


def _animal_t(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    one, other = _two(studies.reshape(*studies.shape[:2], -1))
    return _t_rejects(one, other, alpha)


def _welch(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    one, other = _two(_means(studies))
    n = one.shape[1]
    v1, v2 = one.var(axis=1, ddof=1) / n, other.var(axis=1, ddof=1) / n
    apart = np.abs(one.mean(axis=1) - other.mean(axis=1))
    total = v1 + v2
    squares = np.maximum(v1**2 + v2**2, np.finfo(float).tiny)
    df = np.clip(total**2 * (n - 1) / squares, n - 1, 2 * n - 2)
    return np.asarray(apart > special.stdtrit(df, 1 - alpha / 2) * np.sqrt(total))


def _unit_f(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    means = _means(studies)
    arms, n = means.shape[1:]
    between = n * means.mean(axis=2).var(axis=1, ddof=1)
    within = means.var(axis=2, ddof=1).mean(axis=1)
    return np.asarray(between > special.fdtri(arms - 1, arms * (n - 1), 1 - alpha) * within)


@lru_cache(maxsize=16)
def _halves(n: int) -> Numbers:
    """Give every division of 2n units into halves, as rows of +1 and −1; the drawn one first."""
    rows = -np.ones((comb(2 * n, n), 2 * n))
    for row, chosen in enumerate(combinations(range(2 * n), n)):
        rows[row, list(chosen)] = 1
    return rows


@lru_cache(maxsize=16)
def _signs(n: int) -> Numbers:
    """Give every change of signs of n differences; none changed first."""
    return np.asarray(1.0 - 2.0 * ((np.arange(2**n)[:, None] >> np.arange(n)) & 1))


def _arrangements(n: int, count: int, listed: Callable[[int], Numbers], chance: Chance) -> Numbers:
    """List every arrangement, or draw some with the one that was drawn among them."""
    if count <= LISTED:
        return listed(n)
    if listed is _signs:
        drawn = np.where(chance.uniform(LISTED, n) < 0.5, 1.0, -1.0)
        drawn[0] = 1.0
        return drawn
    order = chance.uniform(LISTED, 2 * n).argsort(axis=1)
    drawn = np.where(order < n, 1.0, -1.0)
    drawn[0] = np.repeat([1.0, -1.0], n)
    return drawn


def _permuted(values: Numbers, arrangements: Numbers, alpha: float) -> Flags:
    """Count arrangements as extreme as the first, for values of shape (runs, units)."""
    apart = np.abs(values @ arrangements.T)
    limit = apart[:, :1] * (1 - 1e-9)
    return np.asarray((apart >= limit).mean(axis=1) <= alpha + 1e-12)


def _unit_permutation(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    one, other = _two(_means(studies))
    n = one.shape[1]
    rows = _arrangements(n, comb(2 * n, n), _halves, chance)
    return _permuted(np.hstack([one, other]), rows, alpha)


def _unit_ranks(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    one, other = _two(_means(studies))
    n = one.shape[1]
    together = np.hstack([one, other])
    # Mid-ranks, so that ties (shares, counts) are held alike.
    ordered = np.sort(together, axis=1)
    below = (ordered[:, None, :] < together[:, :, None]).sum(axis=2)
    ties = (ordered[:, None, :] == together[:, :, None]).sum(axis=2)
    ranks = below + (ties - 1) / 2 - (2 * n - 1) / 2
    return _permuted(ranks, _arrangements(n, comb(2 * n, n), _halves, chance), alpha)


def _block_t(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    one, other = _two(_means(studies))
    apart = one - other
    n = apart.shape[1]
    critical = special.stdtrit(n - 1, 1 - alpha / 2)
    return np.asarray(apart.mean(axis=1) ** 2 * n > critical**2 * apart.var(axis=1, ddof=1))


def _block_signs(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    one, other = _two(_means(studies))
    n = one.shape[1]
    return _permuted(one - other, _arrangements(n, 2**n, _signs, chance), alpha)


def _logit_t(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    seen, m = studies.sum(axis=3), studies.shape[3]
    one, other = _two(np.log((seen + 0.5) / (m - seen + 0.5)))
    return _t_rejects(one, other, alpha)


def _arm_shares(studies: Numbers) -> tuple[Numbers, Numbers, int]:
    """Give each unit's share, each arm's, kept off 0 and 1, and the animals of an arm."""
    shares = _means(studies)
    _two(shares)
    size = studies.shape[2] * studies.shape[3]
    arm = np.clip(shares.mean(axis=2), 0.5 / size, 1 - 0.5 / size)
    return shares, arm, size


def _animal_z(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    _, arm, size = _arm_shares(studies)
    variance = (1 / (size * arm * (1 - arm))).sum(axis=1)
    apart = special.logit(arm[:, 0]) - special.logit(arm[:, 1])
    return np.asarray(np.abs(apart) > special.ndtri(1 - alpha / 2) * np.sqrt(variance))


def _quasi_t(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    shares, arm, size = _arm_shares(studies)
    n, m = studies.shape[2:]
    pearson = m * (shares - arm[:, :, None]) ** 2 / (arm * (1 - arm))[:, :, None]
    phi = np.maximum(1.0, pearson.sum(axis=(1, 2)) / (2 * n - 2))
    variance = phi * (1 / (size * arm * (1 - arm))).sum(axis=1)
    apart = special.logit(arm[:, 0]) - special.logit(arm[:, 1])
    critical = special.stdtrit(2 * n - 2, 1 - alpha / 2)
    return np.asarray(np.abs(apart) > critical * np.sqrt(variance))


def _count_z(studies: Numbers, alpha: float, chance: Chance) -> Flags:
    del chance
    one, other = _two(studies.sum(axis=(2, 3))[..., None])
    total = (one + other)[:, 0]
    apart = np.abs(one - other)[:, 0]
    return np.asarray(apart > special.ndtri(1 - alpha / 2) * np.sqrt(total))


_DONE: dict[Analysis, Callable[[Numbers, float, Chance], Flags]] = {
    Analysis.UNIT_T: _unit_t,
    Analysis.UNIT_WELCH: _welch,
    Analysis.UNIT_F: _unit_f,
    Analysis.UNIT_PERMUTATION: _unit_permutation,
    Analysis.UNIT_RANKS: _unit_ranks,
    Analysis.BLOCK_T: _block_t,
    Analysis.BLOCK_SIGNS: _block_signs,
    Analysis.LOGIT_T: _logit_t,
    Analysis.QUASI_T: _quasi_t,
    Analysis.ANIMAL_T: _animal_t,
    Analysis.ANIMAL_Z: _animal_z,
    Analysis.COUNT_Z: _count_z,
}


def rejects(studies: Numbers, analysis: Analysis, alpha: float, chance: Chance) -> Flags:
    """Say of every study whether the analysis rejects.

    Parameters
    ----------
    studies : array of float, shape (runs, arms, units, animals)
    analysis : Analysis
    alpha : float
        Level, two-sided.
    chance : Chance
        For arrangements that are too many to list.

    Returns
    -------
    array of bool, shape (runs,)

    Examples
    --------
    >>> from registry.design.simulating.studies import Study
    >>> studies = Study(means=[0, 9], units=4).drawn(Chance(1), 3)
    >>> rejects(studies, Analysis.UNIT_T, 0.05, Chance(2)).tolist()
    [True, True, True]
    """
    return _DONE[analysis](studies, alpha, chance)
