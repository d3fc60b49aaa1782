"""Warmth: degree-days of development, and how rates change with temperature."""

from math import log

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.bounded import Bounded, around
from archive.analysis.means import Numbers
from registry.design import bounds


def degree_days(lowest_c: ArrayLike, highest_c: ArrayLike, base_c: float) -> Numbers:
    """Give the degree-days of each day above a base, by a single sine between two extremes.

    Parameters
    ----------
    lowest_c, highest_c : array_like of float, shape (days,)
        Lowest and highest temperature of each day, in °C.
    base_c : float
        Temperature in °C below which nothing develops.

    Returns
    -------
    ndarray of float, shape (days,)
        In °C days; add them up.

    References
    ----------
    Baskerville, G. L. and Emin, P. (1969). Rapid estimation of heat accumulation from maximum and
    minimum temperatures. Ecology 50, 514–517.

    Examples
    --------
    >>> degree_days([10, 13, 5], [24, 20, 9], 12).round(3).tolist()
    [5.326, 4.5, 0.0]
    """
    low, high = np.broadcast_arrays(
        np.asarray(lowest_c, dtype=float), np.asarray(highest_c, dtype=float)
    )
    if not np.isfinite(low).all() or not np.isfinite(high).all() or (low > high).any():
        bounds.refuse(
            "lowest_c",
            "Degree-days cannot be counted.",
            "A temperature is missing, or a day’s lowest is above its highest.",
            "Mend the log, or leave out the days and say how many.",
        )
    mean, half = (low + high) / 2, (high - low) / 2
    crossing = (low < base_c) & (high > base_c)
    at = np.arcsin(np.where(crossing, (base_c - mean) / np.where(half > 0, half, 1.0), 0.0))
    within = ((mean - base_c) * (np.pi / 2 - at) + half * np.cos(at)) / np.pi
    return np.asarray(np.where(crossing, within, np.maximum(0.0, mean - base_c)))


def thermal_sum(mean_c: ArrayLike) -> float:
    """Give the plain sum of daily mean temperatures, in °C days: base 0.

    Examples
    --------
    >>> thermal_sum([10, 11, 12])
    33.0
    """
    found = np.asarray(mean_c, dtype=float)
    if not np.isfinite(found).all():
        bounds.refuse(
            "mean_c",
            "Degree-days cannot be counted.",
            f"{int((~np.isfinite(found)).sum())} of {found.size} days have no temperature.",
            "Mend the log, or leave out the days and say how many.",
        )
    return float(found.sum())


def q10(first_rate: float, first_c: float, second_rate: float, second_c: float) -> float:
    """Give by how much a rate grows over ten degrees.

    Parameters
    ----------
    first_rate, second_rate : float
        Above 0, in one unit.
    first_c, second_c : float
        Two different temperatures in °C.

    References
    ----------
    van ’t Hoff, J. H. (1884). Études de dynamique chimique (from memory).

    Examples
    --------
    >>> q10(2, 15, 5, 25)
    2.5
    """
    bounds.above_zero("first_rate", first_rate, "rate")
    bounds.above_zero("second_rate", second_rate, "rate")
    if first_c == second_c:
        bounds.refuse(
            "second_c",
            "Two temperatures are needed.",
            "They are the same.",
            "Give two that differ.",
        )
    return float((second_rate / first_rate) ** (10 / (second_c - first_c)))


def fitted_q10(
    rates: ArrayLike,
    temperatures_c: ArrayLike,
    groups: ArrayLike | None = None,
    *,
    confidence: float = 0.95,
) -> Bounded:
    """Give Q10 from rates at many temperatures, by the line through their logarithms.

    Parameters
    ----------
    rates : array_like of float, shape (units,)
        Above 0, one for each unit.
    temperatures_c : array_like of float, shape (units,)
    groups : array_like, shape (units,), optional
        Species or clutches, each with a level of its own and one slope for all.
    confidence : float, default 0.95

    Examples
    --------
    >>> found = fitted_q10([1, 2.1, 3.9, 8.2], [10, 20, 30, 40])
    >>> round(found.value, 2), found.low < 2 < found.high
    (2.0, True)
    """
    y, t = np.asarray(rates, dtype=float), np.asarray(temperatures_c, dtype=float)
    names = np.zeros(len(y)) if groups is None else np.asarray(groups)
    _, place = np.unique(names, return_inverse=True)
    df = len(y) - place.max(initial=0) - 2
    if len(t) != len(y) or not (y > 0).all() or not np.isfinite(t).all() or df < 1:
        bounds.refuse(
            "rates",
            "Q10 cannot be fitted.",
            "Rates above 0 at known temperatures are needed, two more than there are groups.",
            "Measure at more temperatures.",
        )
    sizes = np.bincount(place)
    x, z = (one - (np.bincount(place, one) / sizes)[place] for one in (t, np.log(y)))
    sxx = float(x @ x)
    if sxx <= 0:
        bounds.refuse(
            "temperatures_c",
            "Q10 cannot be fitted.",
            "All temperatures of a group are the same.",
            "Measure at more temperatures.",
        )
    slope = float(x @ z) / sxx
    error = float(((z - slope * x) ** 2).sum() / df / sxx) ** 0.5
    from_t = around(slope, error, df=float(df), confidence=confidence, how="t, logarithms")
    assert from_t.low is not None
    assert from_t.high is not None
    value, low, high = np.exp(10 * np.array([slope, from_t.low, from_t.high])).tolist()
    return Bounded(value, low, high, confidence, from_t.how)


def rate_at(rate: float, at_c: float, to_c: float, times: float) -> float:
    """Give a rate at another temperature, where it grows so many times over ten degrees.

    Examples
    --------
    >>> rate_at(2, 15, 25, 2.5)
    5.0
    """
    bounds.above_zero("times", times, "Q10")
    return rate * float(np.exp(log(times) * (to_c - at_c) / 10))
