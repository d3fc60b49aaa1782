"""Many comparisons: p-values adjusted, and every pair of arms by Tukey's range."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import studentized_range

from archive.analysis.comparing.units import unit_f
from archive.analysis.means import Numbers
from registry.design import bounds


class Rule(StrEnum):
    """How p-values are adjusted for their number."""

    BONFERRONI = "Bonferroni"
    HOLM = "Holm"
    FALSE_DISCOVERY = "Benjamini–Hochberg"


def adjusted(p_values: ArrayLike, rule: Rule = Rule.HOLM) -> Numbers:
    """Give p-values adjusted for their number: compare each with the level as it is.

    Parameters
    ----------
    p_values : array_like of float
        0 to 1, of all comparisons that were made, significant or not.
    rule : Rule, default HOLM
        Bonferroni and Holm bound the chance of any false finding, Benjamini and Hochberg the
        expected share of false ones among findings.

    References
    ----------
    Holm, S. (1979). Scandinavian Journal of Statistics 6, 65–70. Benjamini, Y. and Hochberg, Y.
    (1995). Journal of the Royal Statistical Society B 57, 289–300.

    Examples
    --------
    >>> adjusted([0.01, 0.02, 0.04]).round(3).tolist()
    [0.03, 0.04, 0.04]
    """
    p = np.asarray(p_values, dtype=float)
    if not p.size or not ((p >= 0) & (p <= 1)).all():
        bounds.refuse(
            "p_values",
            "These cannot be adjusted.",
            "A p-value lies from 0 to 1, and there is one at the least.",
            "Leave out tests that gave none, and say how many they were.",
        )
    m = len(p)
    if rule == Rule.BONFERRONI:
        return np.asarray(np.minimum(1.0, p * m))
    order = np.argsort(p)
    ranked = p[order]
    if rule == Rule.HOLM:
        steps = np.maximum.accumulate(ranked * (m - np.arange(m)))
    else:
        steps = np.minimum.accumulate((ranked * m / np.arange(1, m + 1))[::-1])[::-1]
    found = np.empty(m)
    found[order] = np.minimum(1.0, steps)
    return found


@dataclass(frozen=True, slots=True)
class Pair:
    """Two arms of several.

    Parameters
    ----------
    first, second : str
    effect, low, high : float
        First less second with its simultaneous interval, in the outcome's own unit.
    p : float
        Adjusted for all pairs.
    """

    first: str
    second: str
    effect: float
    low: float
    high: float
    p: float


def every_pair(
    arms: Sequence[ArrayLike], names: Sequence[str], *, confidence: float = 0.95
) -> tuple[Pair, ...]:
    """Compare every pair of arms by Tukey's studentised range.

    Parameters
    ----------
    arms : sequence of array_like of float
        One value for each unit, for each arm.
    names : sequence of str
    confidence : float, default 0.95

    References
    ----------
    Tukey, J. W. (1953). Kramer, C. Y. (1956). Biometrics 12, 307–310 (uneven arms).

    Examples
    --------
    >>> found = every_pair([[1.0, 2, 3], [2, 3, 4], [5, 6, 7]], ["a", "b", "c"])
    >>> [(one.first, one.second, round(one.p, 3)) for one in found]
    [('a', 'b', 0.483), ('a', 'c', 0.006), ('b', 'c', 0.024)]
    """
    found = unit_f(*arms)
    values = [np.asarray(one, dtype=float) for one in arms]
    k = len(values)
    reach = float(studentized_range.ppf(confidence, k, found.df_error))
    pairs = []
    for i in range(k):
        for j in range(i + 1, k):
            effect = float(values[i].mean() - values[j].mean())
            error = found.spread * sqrt((1 / len(values[i]) + 1 / len(values[j])) / 2)
            p = float(studentized_range.sf(abs(effect) / error, k, found.df_error))
            low, high = effect - reach * error, effect + reach * error
            pairs.append(Pair(names[i], names[j], effect, low, high, p))
    return tuple(pairs)
