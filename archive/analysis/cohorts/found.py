"""What one cohort found: an effect with its variance, on a scale that cohorts share."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, log

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.comparing.drawing import Arms
from archive.analysis.comparing.effects import g_variance, small_sample
from archive.analysis.comparing.randomised import Randomised, Side, randomisation
from archive.analysis.comparing.units import unit_t
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Cohort:
    """What one cohort found.

    Parameters
    ----------
    name : str
    effect : float
        Treatment less control.
    variance : float
        Of the effect, above 0.
    scale : str
        What the effect is in: an outcome with its unit, "standard deviations", "log odds ratio",
        "log ratio"; only equal scales are pooled.
    units : int
        Animals or tanks in it.
    """

    name: str
    effect: float
    variance: float
    scale: str
    units: int

    def __post_init__(self) -> None:
        if not (isfinite(self.effect) and isfinite(self.variance) and self.variance > 0):
            bounds.refuse(
                "variance",
                f"The cohort “{self.name}” cannot be pooled.",
                "Its effect or its variance is missing, or the variance is 0.",
                "Leave it out, and show what it found beside the rest.",
            )


def difference(name: str, treated: ArrayLike, control: ArrayLike, outcome: str) -> Cohort:
    """Give a cohort's difference of means of units.

    Parameters
    ----------
    name : str
    treated, control : array_like of float
        One value for each unit, two or more.
    outcome : str
        With its unit, as "mass in g".

    Examples
    --------
    >>> found = difference("2025", [5.0, 6, 7, 8], [3, 4, 4, 5], "mass in g")
    >>> found.effect, round(found.variance, 4)
    (2.5, 0.5833)
    """
    found = unit_t(treated, control)
    variance = (found.effect / found.t) ** 2 if found.effect else _spread_of(treated, control)
    return Cohort(name, found.effect, variance, outcome, sum(found.units))


def _spread_of(treated: ArrayLike, control: ArrayLike) -> float:
    """Give the variance of a difference of 0, of which t tells nothing."""
    one, other = np.asarray(treated, dtype=float), np.asarray(control, dtype=float)
    n, m = len(one), len(other)
    pooled = ((n - 1) * one.var(ddof=1) + (m - 1) * other.var(ddof=1)) / (n + m - 2)
    return float(pooled) * (1 / n + 1 / m)


def standardised(name: str, treated: ArrayLike, control: ArrayLike) -> Cohort:
    """Give a cohort's Hedges' g, for cohorts that measured on different scales.

    References
    ----------
    Borenstein et al. (2009), ch. 4.

    Examples
    --------
    >>> round(standardised("2025", [5.0, 6, 7, 8], [3, 4, 4, 5]).effect, 2)
    2.01
    """
    one, other = np.asarray(treated, dtype=float), np.asarray(control, dtype=float)
    found = difference(name, one, other, "")
    n, m = len(one), len(other)
    d = found.effect / (found.variance / (1 / n + 1 / m)) ** 0.5
    g = d * small_sample(n + m - 2)
    return Cohort(name, g, g_variance(d, n, m), "standard deviations", n + m)


def log_ratio(name: str, seen: int, of: int, control_seen: int, control_of: int) -> Cohort:
    """Give a cohort's log ratio of two shares; half a count is lent where one is 0.

    Parameters
    ----------
    name : str
    seen, of, control_seen, control_of : int
        Counts of independent animals. Where they live in tanks take `logit_t` for the cohort.

    Examples
    --------
    >>> found = log_ratio("1", 4, 123, 11, 139)
    >>> round(found.effect, 4), round(found.variance, 4)
    (-0.8893, 0.3256)
    """
    for field, part, whole in (("seen", seen, of), ("control_seen", control_seen, control_of)):
        bounds.whole(field, whole, 1, "number of animals")
        bounds.between(field, part, 0, whole, "number that was counted", ends=True)
    lent = 0.5 if 0 in {seen, control_seen} else 0.0
    a, n, c, m = seen + lent, of + 2 * lent, control_seen + lent, control_of + 2 * lent
    variance = 1 / a - 1 / n + 1 / c - 1 / m
    return Cohort(name, log(a / n) - log(c / m), variance, "log ratio", of + control_of)


def by_stratum(
    values: ArrayLike,
    treated: ArrayLike,
    cohort: Sequence[str],
    *,
    side: Side = Side.BOTH,
    seed: int = 1,
) -> Randomised:
    """Test the treatment with each cohort as a stratum: units are dealt anew within cohorts alone.

    Parameters
    ----------
    values : array_like of float, shape (units,)
    treated : array_like of bool, shape (units,)
    cohort : sequence of str
        Of each unit; each cohort counts once.
    side, seed
        As in `randomisation`.

    Examples
    --------
    >>> found = by_stratum([5, 6, 1, 2, 9, 9, 5, 6], [1, 1, 0, 0] * 2, ["a"] * 4 + ["b"] * 4)
    >>> found.arrangements, found.effect
    (36, 3.75)
    """
    return randomisation(Arms(treated, list(cohort)), values, side=side, seed=seed)
