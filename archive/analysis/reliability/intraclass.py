"""Measures that observers take: the intraclass correlation in its six forms."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from archive.analysis.bounded import Bounded
from archive.analysis.means import Numbers
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Intraclass:
    """The six forms, each −1 to 1, named as Shrout and Fleiss did.

    Parameters
    ----------
    one_way, one_way_mean : Bounded
        (1,1) and (1,k): each target was measured by observers of its own.
    random, random_mean : Bounded
        (2,1) and (2,k): observers stand for all observers, and their levels must agree.
    fixed, fixed_mean : Bounded
        (3,1) and (3,k): these observers alone, and their levels may differ.
    targets, observers : int
    """

    one_way: Bounded
    random: Bounded
    fixed: Bounded
    one_way_mean: Bounded
    random_mean: Bounded
    fixed_mean: Bounded
    targets: int
    observers: int


def intraclass(values: ArrayLike, *, confidence: float = 0.95) -> Intraclass:
    """Give the intraclass correlation of targets that each observer measured once.

    Parameters
    ----------
    values : array_like of float, shape (targets, observers)
        In one unit; no gaps.
    confidence : float, default 0.95

    Raises
    ------
    Unsound
        Where values are missing, or there are fewer than two targets or observers, or nothing
        varies.

    References
    ----------
    Shrout, P. E. and Fleiss, J. L. (1979). Intraclass correlations: uses in assessing rater
    reliability. Psychological Bulletin 86, 420–428.

    Examples
    --------
    >>> judged = ["9258", "6132", "8468", "7126"]
    >>> judged = [[int(one) for one in row] for row in judged] + [[10, 5, 6, 9], [6, 2, 4, 7]]
    >>> found = intraclass(judged)
    >>> round(found.one_way.value, 2), round(found.random.value, 2), round(found.fixed.value, 2)
    (0.17, 0.29, 0.71)
    """
    y = np.asarray(values, dtype=float)
    if y.ndim != 2 or min(y.shape) < 2 or not np.isfinite(y).all():
        bounds.refuse(
            "values",
            "The intraclass correlation cannot be computed.",
            "It needs two targets and two observers at the least, and no gaps.",
            "Leave out targets that not every observer measured.",
        )
    if np.ptp(y) == 0:
        bounds.refuse(
            "values",
            "The intraclass correlation cannot be computed.",
            "Nothing varies.",
            "Measure targets that differ.",
        )
    n, k = y.shape
    between, within, observers, error = _mean_squares(y)
    one = _by_f(between, within, n - 1, n * (k - 1), k, confidence)
    fixed = _by_f(between, error, n - 1, (n - 1) * (k - 1), k, confidence)
    random = _random(between, observers, error, n, k, confidence)
    means = [_of_mean(form, k) for form in (one, random, fixed)]
    return Intraclass(one, random, fixed, means[0], means[1], means[2], n, k)


def _mean_squares(y: Numbers) -> tuple[float, float, float, float]:
    """Give the mean squares between targets, within them, between observers and of error."""
    n, k = y.shape
    targets, judges, middle = y.mean(axis=1), y.mean(axis=0), y.mean()
    between = k * float(((targets - middle) ** 2).sum()) / (n - 1)
    within = float(((y - targets[:, None]) ** 2).sum())
    observers = n * float(((judges - middle) ** 2).sum())
    error = max(0.0, within - observers) / ((n - 1) * (k - 1))
    return between, within / (n * (k - 1)), observers / (k - 1), error


def _by_f(
    between: float, error: float, df: float, df_error: float, k: int, confidence: float
) -> Bounded:
    """Give (MSB − MSE) / (MSB + (k − 1) MSE) with its exact interval."""
    upper = (1 + confidence) / 2

    def form(ratio: float) -> float:
        return (ratio - 1) / (ratio + k - 1)

    if error <= 0:
        return Bounded(1.0, None, None, confidence, "observers do not differ at all")
    ratio = between / error
    low = form(ratio / float(special.fdtri(df, df_error, upper)))
    high = form(ratio * float(special.fdtri(df_error, df, upper)))
    return Bounded(form(ratio), low, high, confidence, "F")


def _random(
    between: float, observers: float, error: float, n: int, k: int, confidence: float
) -> Bounded:
    """Give the form for random observers, its interval by Shrout and Fleiss's approximation."""
    value = (between - error) / (between + (k - 1) * error + k * (observers - error) / n)
    if error <= 0:
        return Bounded(value, None, None, confidence, "observers differ by a constant alone")
    upper = (1 + confidence) / 2
    ratio = observers / error
    rest = n * (1 + (k - 1) * value) - k * value
    above = (k - 1) * (n - 1) * (k * value * ratio + rest) ** 2
    v = above / ((n - 1) * k**2 * value**2 * ratio**2 + rest**2)
    high_f, low_f = (float(special.fdtri(*df, upper)) for df in ((n - 1, v), (v, n - 1)))
    base = k * observers + (k * n - k - n) * error
    low = n * (between - high_f * error) / (high_f * base + n * between)
    high = n * (low_f * between - error) / (base + n * low_f * between)
    return Bounded(value, low, high, confidence, "F, approximate")


def _of_mean(form: Bounded, k: int) -> Bounded:
    """Give the reliability of the mean of k observers."""

    def up(one: float | None) -> float | None:
        return None if one is None else k * one / (1 + (k - 1) * one)

    value = up(form.value)
    assert value is not None
    return Bounded(value, up(form.low), up(form.high), form.confidence, form.how)
