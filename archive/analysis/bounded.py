"""An estimate with its interval, and the interval that leaving each unit out in turn gives."""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from scipy import special

from archive.analysis.means import Numbers


@dataclass(frozen=True, slots=True)
class Bounded:
    """An estimate with its interval.

    Parameters
    ----------
    value : float
        In the unit of what is estimated.
    low, high : float or None
        None where no interval can be computed.
    confidence : float
        Of the interval, 0 to 1.
    how : str
        How the interval was made, in a few words.
    """

    value: float
    low: float | None
    high: float | None
    confidence: float
    how: str


def around(
    value: float,
    error: float,
    *,
    df: float = inf,
    confidence: float = 0.95,
    how: str,
    least: float = -inf,
    most: float = inf,
) -> Bounded:
    """Give an estimate with so many standard errors on either side, normal or by t.

    Examples
    --------
    >>> found = around(0.5, 0.1, how="normal")
    >>> round(found.low, 3), round(found.high, 3)
    (0.304, 0.696)
    """
    share = (1 + confidence) / 2
    quantile = float(special.ndtri(share) if df == inf else special.stdtrit(df, share))
    half = quantile * error
    return Bounded(value, max(least, value - half), min(most, value + half), confidence, how)


def jackknifed(
    value: float,
    without: Numbers,
    *,
    of: str,
    confidence: float = 0.95,
    least: float = -inf,
    most: float = inf,
) -> Bounded:
    """Give an estimate with the interval from leaving each unit out in turn.

    Parameters
    ----------
    value : float
        Of all units.
    without : ndarray of float, shape (units,)
        The estimate without each of them; what is not finite is left out.
    of : str
        What the units are, as "sessions".

    Notes
    -----
    The jackknife's standard error with t of one degree of freedom less than units.

    References
    ----------
    Efron, B. and Tibshirani, R. J. (1993). An Introduction to the Bootstrap, ch. 11.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.array([1.0, 2.0, 4.0, 5.0])
    >>> found = jackknifed(3.0, (x.sum() - x) / 3, of="animals")  # of a mean: its t interval
    >>> round(found.low, 3), round(found.high, 3)
    (0.095, 5.905)
    """
    kept = without[np.isfinite(without)]
    n = len(kept)
    if n < 2:
        return Bounded(value, None, None, confidence, f"fewer than two {of}")
    error = sqrt((n - 1) / n * float(((kept - kept.mean()) ** 2).sum()))
    how = f"leaving out each of {n} {of}"
    return around(value, error, df=n - 1, confidence=confidence, how=how, least=least, most=most)
