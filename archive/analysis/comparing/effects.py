"""Effect sizes in standard deviations, with intervals."""

from math import exp, lgamma, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from archive.analysis.bounded import Bounded
from registry.design import bounds
from registry.design.solving import bisected


def small_sample(df: float) -> float:
    """Give what a standardised difference is multiplied by to be unbiased.

    References
    ----------
    Hedges, L. V. (1981). Journal of Educational Statistics 6, 107–128, eq. 6e (exact).

    Examples
    --------
    >>> round(small_sample(10), 4)
    0.9227
    """
    bounds.above_zero("df", df - 1, "degrees of freedom above 1")
    return exp(lgamma(df / 2) - lgamma((df - 1) / 2)) / sqrt(df / 2)


def hedges_g(treated: ArrayLike, control: ArrayLike, *, confidence: float = 0.95) -> Bounded:
    """Give the difference of two arms of units in standard deviations, unbiased.

    Parameters
    ----------
    treated, control : array_like of float
        One value for each unit, two or more.
    confidence : float, default 0.95

    Examples
    --------
    >>> found = hedges_g([5.0, 6, 7, 8], [3, 4, 4, 5])
    >>> round(found.value, 2), round(found.low, 2), round(found.high, 2)
    (2.01, 0.33, 3.61)
    """
    one, other = np.asarray(treated, dtype=float), np.asarray(control, dtype=float)
    n, m = len(one), len(other)
    if n < 2 or m < 2:
        bounds.refuse(
            "treated",
            "No effect size can be computed.",
            "Two units are needed in each arm to see how much units differ.",
            "Give the difference in the outcome’s own unit.",
        )
    pooled = ((n - 1) * one.var(ddof=1) + (m - 1) * other.var(ddof=1)) / (n + m - 2)
    return g_of(float(one.mean() - other.mean()), sqrt(float(pooled)), n, m, confidence=confidence)


def g_of(
    apart: float, spread: float, treated: int, control: int, *, confidence: float = 0.95
) -> Bounded:
    """Give Hedges' g from a difference, a pooled standard deviation and the numbers of units.

    Notes
    -----
    The interval is exact for normal outcomes: the noncentral t that would give so large a t with
    each tail's chance, in standard deviations, times the same factor.

    References
    ----------
    Hedges (1981). Steiger, J. H. and Fouladi, R. T. (1997), on noncentral intervals.

    Examples
    --------
    >>> round(g_of(3, sqrt(25.25), 50, 50).value, 3)
    0.592
    """
    bounds.spread(spread)
    df = treated + control - 2
    root = sqrt(treated * control / (treated + control))
    t, factor = apart / spread * root, small_sample(df)
    tail = (1 - confidence) / 2
    low, high = (shift / root * factor for shift in _shifts(t, df, tail))
    return Bounded(apart / spread * factor, low, high, confidence, "noncentral t")


def g_variance(d: float, treated: int, control: int) -> float:
    """Give the large-sample variance of Hedges' g, as syntheses take it.

    Parameters
    ----------
    d : float
        The difference in standard deviations, before the correction.

    References
    ----------
    Borenstein, M. et al. (2009). Introduction to Meta-Analysis, eq. 4.20 and 4.24.

    Examples
    --------
    >>> round(g_variance(0.597, 50, 50), 4)
    0.0411
    """
    total = treated + control
    variance = total / (treated * control) + d**2 / (2 * total)
    return variance * small_sample(total - 2) ** 2


def _shifts(t: float, df: float, tail: float) -> tuple[float, float]:
    """Give the noncentralities between which a t lies, by halving."""
    reach = 10 + 10 * abs(t)

    def above(shift: float) -> float:
        return 1 - float(special.nctdtr(df, shift, t))

    low = bisected(above, tail, t - reach, t + reach)
    return low, bisected(above, 1 - tail, t - reach, t + reach)
