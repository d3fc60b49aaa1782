"""Several observers: Fleiss' kappa and Krippendorff's alpha, with intervals over units."""

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.bounded import Bounded, jackknifed
from archive.analysis.columns import Flags
from archive.analysis.means import Numbers
from registry.design import bounds


def fleiss_kappa(counts: ArrayLike, *, confidence: float = 0.95) -> Bounded:
    """Give Fleiss' kappa: as many observers for each moment, not always the same ones.

    Parameters
    ----------
    counts : array_like of int, shape (moments, codes)
        How many observers gave each code; every row adds up to the same number, 2 or more.
    confidence : float, default 0.95

    Raises
    ------
    Unsound
        Where rows differ in their sum, or one code alone was used.

    References
    ----------
    Fleiss, J. L. (1971). Psychological Bulletin 76, 378–382.

    Examples
    --------
    >>> round(fleiss_kappa([[3, 0], [0, 3], [2, 1], [3, 0]]).value, 3)
    0.625
    """
    table = np.asarray(counts, dtype=float)
    if table.ndim != 2 or not len(table) or table[0].sum() < 2 or np.ptp(table.sum(axis=1)) > 0:
        bounds.refuse(
            "counts",
            "Fleiss’ kappa needs as many observers for each moment.",
            "Some moments have more than others, or fewer than two.",
            "Take Krippendorff’s alpha, which bears gaps.",
        )
    value = _fleiss(table.sum(axis=0), float(_pairs_alike(table).sum()), len(table), table[0].sum())
    if np.isnan(value):
        bounds.refuse(
            "counts",
            "Fleiss’ kappa cannot be computed.",
            "One code alone was used, so chance explains all agreement.",
            "Test on moments in which more than one behaviour occurs.",
        )
    without = _fleiss(
        table.sum(axis=0) - table,
        _pairs_alike(table).sum() - _pairs_alike(table),
        len(table) - 1,
        table[0].sum(),
    )
    return jackknifed(
        float(value), without, of="moments", confidence=confidence, least=-1.0, most=1.0
    )


def _pairs_alike(table: Numbers) -> Numbers:
    n = table[0].sum()
    return np.asarray((table * (table - 1)).sum(axis=1) / (n * (n - 1)))


def _fleiss(totals: Numbers, alike: Numbers | float, moments: int, observers: float) -> Numbers:
    share = totals / max(1.0, moments * observers)
    chance = (share**2).sum(axis=-1)
    left = np.where(1 - chance > 1e-12, 1 - chance, np.nan)
    return np.asarray((alike / max(1, moments) - chance) / left)


class Scale(StrEnum):
    """How far two codes are apart."""

    NOMINAL = "nominal"
    ORDINAL = "ordinal"
    INTERVAL = "interval"
    RATIO = "ratio"


def krippendorff_alpha(
    values: ArrayLike, scale: Scale = Scale.NOMINAL, *, confidence: float = 0.95
) -> Bounded:
    """Give Krippendorff's alpha: any number of observers, gaps allowed.

    Parameters
    ----------
    values : array_like of float, shape (observers, units)
        Numbers, or numbers that stand for codes; NaN where an observer gave none.
    scale : Scale
        A ratio scale takes no value below 0.
    confidence : float, default 0.95
        Of the interval from leaving out each unit in turn.

    Raises
    ------
    Unsound
        Where no unit has two values, or all values are the same.

    References
    ----------
    Krippendorff, K. (2011). Computing Krippendorff's alpha-reliability. University of
    Pennsylvania.

    Examples
    --------
    >>> round(krippendorff_alpha([[1, 2, 3, 3], [1, 2, 3, 4]]).value, 3)
    0.696
    """
    given = np.atleast_2d(np.asarray(values, dtype=float))
    there = np.isfinite(given)
    pairable = there.sum(axis=0) >= 2
    if not pairable.any():
        bounds.refuse(
            "values",
            "Alpha cannot be computed.",
            "No unit was judged by two observers.",
            "Let observers judge the same units.",
        )
    kept, there = given[:, pairable], there[:, pairable]
    levels, place = np.unique(np.where(there, kept, np.inf), return_inverse=True)
    levels = levels[np.isfinite(levels)]
    if len(levels) < 2:
        bounds.refuse(
            "values",
            "Alpha cannot be computed.",
            "All values are the same, so nothing could have been told apart.",
            "Test on units that differ.",
        )
    if scale == Scale.RATIO and levels[0] < 0:
        bounds.refuse(
            "values",
            "A ratio scale has no value below 0.",
            f"One is {levels[0]:g}.",
            "Take the interval scale.",
        )
    if scale == Scale.INTERVAL:
        value, without = _of_numbers(kept, there)
        return jackknifed(value, without, of="units", confidence=confidence, least=-1.0, most=1.0)
    place = place.reshape(kept.shape)
    counts = np.stack([((place == one) & there).sum(axis=0) for one in range(len(levels))], axis=1)
    by_unit = _coincidences(counts.astype(float))
    whole = by_unit.sum(axis=0)
    value = float(_alpha(whole, levels, scale))
    without = np.array([float(_alpha(whole - one, levels, scale)) for one in by_unit])
    return jackknifed(value, without, of="units", confidence=confidence, least=-1.0, most=1.0)


def _of_numbers(values: Numbers, there: Flags) -> tuple[float, Numbers]:
    """Give alpha of numbers, and that without each unit, by sums of squares.

    Measures hardly ever agree to the last digit: a table of all pairs of levels would not fit.
    """
    x = np.where(there, values - values[there].mean(), 0.0)
    sizes, sums, squares = (one.sum(axis=0) for one in (there.astype(float), x, x**2))
    within = 2 * (sizes * squares - sums**2) / (sizes - 1)
    n, total, square = sizes.sum(), sums.sum(), squares.sum()

    def alpha(seen: Numbers, n: Numbers, total: Numbers, square: Numbers) -> Numbers:
        chance = 2 * (n * square - total**2) / np.maximum(n - 1, 1)
        return np.asarray(1 - seen / np.where(chance > 1e-15, chance, np.nan))

    whole = alpha(within.sum(), n, total, square)
    return float(whole), alpha(within.sum() - within, n - sizes, total - sums, square - squares)


def _coincidences(counts: Numbers) -> Numbers:
    """Give the pairs of values within each unit: shape (units, levels, levels)."""
    pairs = counts[:, :, None] * counts[:, None, :]
    pairs -= counts[:, :, None] * np.eye(counts.shape[1])
    return np.asarray(pairs / (counts.sum(axis=1) - 1)[:, None, None])


def _alpha(coincidences: Numbers, levels: Numbers, scale: Scale) -> float:
    totals = coincidences.sum(axis=1)
    n = totals.sum()
    apart = _apart(totals, levels, scale)
    chance = (np.outer(totals, totals) - np.diag(totals)) / (n - 1) if n > 1 else coincidences
    expected = float((apart * chance).sum())
    if expected <= 1e-15:
        return float("nan")
    return 1 - float((apart * coincidences).sum()) / expected


def _apart(totals: Numbers, levels: Numbers, scale: Scale) -> Numbers:
    """Give the squared distances of levels."""
    if scale == Scale.NOMINAL:
        return 1 - np.eye(len(levels))
    if scale == Scale.ORDINAL:
        ranks = np.cumsum(totals) - totals / 2
        return np.asarray(np.subtract.outer(ranks, ranks) ** 2)
    apart = np.subtract.outer(levels, levels)
    if scale == Scale.INTERVAL:
        return np.asarray(apart**2)
    total = np.add.outer(levels, levels)
    return np.asarray((apart / np.where(total > 0, total, 1.0)) ** 2)
