"""Litters, clutches and tanks that differ: the mean share, and how alike animals of one are."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from archive.analysis.means import Numbers
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Alike:
    """A share that differs from litter to litter as a beta distribution does.

    Parameters
    ----------
    share : float
        Mean share, 0 to 1.
    correlation : float
        Of two animals of one litter, 0 to 1: the ICC that the next plan asks for.
    likelihood : float
        Logarithm of the likelihood, with all its constants.
    litters : int
    """

    share: float
    correlation: float
    likelihood: float
    litters: int


def beta_binomial(seen: ArrayLike, of: ArrayLike) -> Alike:
    """Estimate the mean share of litters and the correlation within them, by likelihood.

    Parameters
    ----------
    seen, of : array_like of int, shape (litters,)
        How many, out of how many; three litters or more.

    Raises
    ------
    Unsound
        Where counts do not fit their totals, or none or all were counted.

    Notes
    -----
    A correlation at 0 means that litters differ no more than animals do by chance.

    References
    ----------
    Williams, D. A. (1975). The analysis of binary responses from toxicological experiments
    involving reproduction and teratogenicity. Biometrics 31, 949–952.

    Examples
    --------
    >>> found = beta_binomial([9, 2, 10, 5, 1, 8], [10] * 6)
    >>> round(found.share, 2), round(found.correlation, 2)
    (0.59, 0.38)
    """
    x, n = np.asarray(seen, dtype=float), np.asarray(of, dtype=float)
    if x.shape != n.shape or (x < 0).any() or (x > n).any() or (n > 0).sum() < 3:
        bounds.refuse(
            "seen",
            "These litters cannot be compared.",
            "Three or more with animals in them are needed, and no count above its total.",
            "Give for each litter how many, and out of how many.",
        )
    if not 0 < x.sum() < n.sum():
        bounds.refuse("seen", "Shares do not vary.", "None or all were counted.", "Say just that.")

    def less_likely(at: Numbers) -> float:
        share, correlation = special.expit(at)
        return -_likelihood(x, n, float(share), float(correlation))

    start = np.array([special.logit(x.sum() / n.sum()), -2.0])
    best = optimize.minimize(
        less_likely, start, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12}
    )
    share, correlation = (float(one) for one in special.expit(best.x))
    if correlation < 1e-6:  # the likelihood rises towards independent animals
        correlation = 0.0
    return Alike(share, correlation, -float(best.fun), int((n > 0).sum()))


def _likelihood(x: Numbers, n: Numbers, share: float, correlation: float) -> float:
    total = max(1 / correlation - 1, 1e-12)
    a, b = share * total, (1 - share) * total
    ways = -special.betaln(x + 1, n - x + 1) - np.log1p(n)
    return float((ways + special.betaln(x + a, n - x + b) - special.betaln(a, b)).sum())
