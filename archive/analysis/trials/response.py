"""Response to a dose: the share that responds as the dose or the temperature rises."""

from dataclasses import dataclass
from math import exp, inf, log, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from archive.analysis.bounded import Bounded, around
from archive.analysis.means import Numbers
from registry.design import bounds

ROUNDS = 100


@dataclass(frozen=True, slots=True, eq=False)
class Logit:
    """A logistic regression of counts out of totals.

    Parameters
    ----------
    values, errors : ndarray of float, shape (terms,)
        Log odds, and standard errors with the spread between tanks in them.
    covariance : ndarray of float, shape (terms, terms)
    deviance, df : float
    inflation : float
        Pearson's chi-square over degrees of freedom, never below 1.
    """

    values: Numbers
    errors: Numbers
    covariance: Numbers
    deviance: float
    df: int
    inflation: float


def logit_fit(design: ArrayLike, seen: ArrayLike, of: ArrayLike, *, spread: bool = True) -> Logit:
    """Fit log odds as a sum of terms, by maximum likelihood.

    Parameters
    ----------
    design : array_like of float, shape (tanks, terms)
    seen, of : array_like of int, shape (tanks,)
        How many responded, and out of how many.
    spread : bool, default True
        Whether tanks may differ more than counts do: errors are inflated, and t has df tanks less
        terms.

    Raises
    ------
    Unsound
        Where no finite values fit: all or none respond on either side of some dose.

    References
    ----------
    McCullagh, P. and Nelder, J. A. (1989). Generalized Linear Models, ch. 4.

    Examples
    --------
    >>> found = logit_fit([[1, 0], [1, 1], [1, 2]], [2, 5, 8], [10, 10, 10])
    >>> found.values.round(3).tolist()
    [-1.386, 1.386]
    """
    x, y, n = (np.asarray(one, dtype=float) for one in (design, seen, of))
    if x.ndim != 2 or len(x) != len(y) or (y < 0).any() or (y > n).any() or (n <= 0).any():
        bounds.refuse(
            "seen",
            "These are no counts out of totals.",
            "A count is below 0 or above its total, or the lists differ in length.",
            "Give for each tank how many responded, and out of how many.",
        )
    beta, is_settled = np.zeros(x.shape[1]), False
    for _ in range(ROUNDS):
        share = special.expit(x @ beta)
        weight = n * share * (1 - share)
        information = x.T @ (weight[:, None] * x)
        step = np.linalg.pinv(information, hermitian=True) @ (x.T @ (y - n * share))
        beta = beta + step
        is_settled = bool(np.abs(step).max() < 1e-10 * (1 + np.abs(beta).max()))
        if is_settled:
            break
    if not is_settled or np.linalg.matrix_rank(information) < x.shape[1]:
        bounds.refuse(
            "seen",
            "No response curve can be fitted.",
            "None responded below some dose and all above it, or doses do not differ.",
            "Give doses between those, or report the two doses.",
        )
    df = len(y) - x.shape[1]
    fitted = n * share
    halves = special.xlogy(y, y / fitted) + special.xlogy(n - y, (n - y) / (n - fitted))
    deviance = 2 * float(halves.sum())
    pearson = float(((y - fitted) ** 2 / weight).sum())
    inflation = max(1.0, pearson / df) if spread and df > 0 else 1.0
    covariance = inflation * np.linalg.inv(information)
    errors = np.sqrt(np.diag(covariance))
    return Logit(beta, errors, covariance, deviance, df, inflation)


@dataclass(frozen=True, slots=True)
class DoseResponse:
    """A logistic response to the logarithm of a dose, or to a temperature.

    Parameters
    ----------
    slope : Bounded
        Log odds for each unit of ln dose, or of temperature.
    half : Bounded
        Dose or temperature at which half respond; infinite ends where the slope may be 0.
    deviance, df : float
    inflation : float
        How much more tanks vary than counts do.
    """

    slope: Bounded
    half: Bounded
    deviance: float
    df: int
    inflation: float


def dose_response(
    dose: ArrayLike,
    seen: ArrayLike,
    of: ArrayLike,
    *,
    logged: bool = True,
    spread: bool = True,
    confidence: float = 0.95,
) -> DoseResponse:
    """Fit the share that responds against a dose.

    Parameters
    ----------
    dose : array_like of float, shape (tanks,)
        Above 0 where `logged`.
    seen, of : array_like of int, shape (tanks,)
    logged : bool, default True
        False of a temperature.
    spread : bool, default True
        Whether tanks may differ more than counts do.
    confidence : float, default 0.95

    Notes
    -----
    The interval of the dose for half is Fieller's.

    References
    ----------
    Finney, D. J. (1971). Probit Analysis, 3rd ed., ch. 3 and 4 (intervals).

    Examples
    --------
    >>> found = dose_response([1, 2, 4, 8, 16, 32], [1, 4, 9, 13, 18, 20], [20] * 6)
    >>> round(found.half.value, 2), found.df
    (4.72, 4)
    """
    x = np.asarray(dose, dtype=float)
    if not np.isfinite(x).all() or (logged and not (x > 0).all()):
        bounds.refuse(
            "dose",
            "The response cannot be fitted.",
            "A dose is missing, or not above 0 where its logarithm is taken.",
            "Set controls apart: they say what happens without any.",
        )
    x = np.log(x) if logged else x
    fit = logit_fit(np.column_stack([np.ones(len(x)), x]), seen, of, spread=spread)
    df = float(fit.df) if spread and fit.df > 0 else inf
    slope = around(
        float(fit.values[1]),
        float(fit.errors[1]),
        df=df,
        confidence=confidence,
        how="t, tanks may differ" if spread else "normal",
    )
    value = -float(fit.values[0] / fit.values[1])
    low, high = _fieller(fit, value, df, confidence)
    ends = [exp(min(one, log(1e300))) if logged else one for one in (value, low, high)]
    half = Bounded(ends[0], ends[1], inf if high == inf else ends[2], confidence, "Fieller")
    return DoseResponse(slope, half, fit.deviance, fit.df, fit.inflation)


def _fieller(fit: Logit, value: float, df: float, confidence: float) -> tuple[float, float]:
    """Give the interval of minus intercept over slope."""
    share = (1 + confidence) / 2
    t = float(special.ndtri(share) if df == inf else special.stdtrit(df, share))
    slope, v = float(fit.values[1]), fit.covariance
    g = t**2 * float(v[1, 1]) / slope**2
    if g >= 1:
        return -inf, inf
    shift = value + g / (1 - g) * (value + float(v[0, 1] / v[1, 1]))
    inner = float(v[0, 0] + 2 * value * v[0, 1] + value**2 * v[1, 1])
    inner -= g * float(v[0, 0] - v[0, 1] ** 2 / v[1, 1])
    half = t / abs(slope) / (1 - g) * sqrt(max(0.0, inner))
    return shift - half, shift + half
