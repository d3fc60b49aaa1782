"""Power from the shift of a test statistic: normal, t, F and chi-square, central and not."""

from math import isfinite

import numpy as np
from scipy import special

_FAR = 30.0
_MANY = 500
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(64)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


def normal_quantile(share: float) -> float:
    """Give the standard normal value below which such a share lies."""
    return float(special.ndtri(share))


def z_power(shift: float, alpha: float, sides: int) -> float:
    """Give the power of a normal test whose statistic is shifted by so many standard errors.

    Parameters
    ----------
    shift : float
        Expected statistic over its standard error, 0 or above.
    alpha : float
        Significance level, 0 to 1.
    sides : {1, 2}

    Notes
    -----
    The tail on the effect's side alone, as the published sample sizes of normal tests have it; the
    other tail is below alpha / 2 and of no use to the reader.

    Examples
    --------
    >>> round(z_power(2.8016, 0.05, 2), 3)
    0.8
    """
    return float(special.ndtr(shift - normal_quantile(1 - alpha / sides)))


def t_power(shift: float, df: float, alpha: float, sides: int) -> float:
    """Give the power of a t test: both tails of the noncentral t.

    Parameters
    ----------
    shift : float
        Noncentrality, 0 or above.
    df : float
        Degrees of freedom, above 0.
    alpha : float
        Significance level, 0 to 1.
    sides : {1, 2}

    References
    ----------
    Cohen, J. (1988). Statistical Power Analysis for the Behavioral Sciences, ch. 2.

    Examples
    --------
    >>> round(t_power((20 / 2) ** 0.5, 38, 0.05, 2), 4)  # 20 in each arm, one SD apart
    0.869
    """
    critical = float(special.stdtrit(df, 1 - alpha / sides))
    near = 1 - _t_below(critical, df, shift)
    # Beyond a shift of a few the far tail is nothing, and its library value may be NaN.
    far = float(special.nctdtr(df, shift, -critical)) if sides == 2 and shift < 6 else 0.0
    return min(1.0, near + far)


def _t_below(critical: float, df: float, shift: float) -> float:
    """Give the chance that a noncentral t lies below a value above 0.

    The library sums a series that grows with the shift, to seconds and then to NaN; far out the
    normal in the numerator is integrated over instead, by Gauss and Hermite.
    """
    if shift < _FAR:
        return float(special.nctdtr(df, shift, critical))
    if df > _MANY:  # there the critical value is below 4
        return 0.0
    ratio = (shift + _NODES) / critical
    return float(_WEIGHTS @ special.chdtrc(df, df * ratio**2))


def f_power(noncentrality: float, df: float, df_error: float, alpha: float) -> float:
    """Give the power of an F test.

    Parameters
    ----------
    noncentrality : float
        Total N times f squared (Cohen 1988, ch. 8), 0 or above.
    df, df_error : float
        Degrees of freedom, above 0.
    alpha : float
        Significance level, 0 to 1.

    Examples
    --------
    >>> round(f_power(5, 3, 16, 0.05), 4)  # 4 groups of 5, f² = 1/4
    0.3536
    """
    critical = float(special.fdtri(df, df_error, 1 - alpha))
    below = float(special.ncfdtr(df, df_error, noncentrality, critical))
    return 1 - below if isfinite(below) else _far_out(noncentrality, df * critical)


def chi2_power(noncentrality: float, df: float, alpha: float) -> float:
    """Give the power of a chi-square test (Cohen 1988, ch. 7).

    Examples
    --------
    >>> round(chi2_power(88 * 0.3**2, 1, 0.05), 2)
    0.8
    """
    critical = float(special.chdtri(df, alpha))
    below = float(special.chndtr(critical, df, noncentrality))
    return 1 - below if isfinite(below) else _far_out(noncentrality, critical)


def _far_out(noncentrality: float, critical: float) -> float:
    """Give the power where the library's sum fails, thousands of errors from the critical value."""
    return 1.0 if noncentrality > critical else 0.0
