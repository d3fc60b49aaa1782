"""Power from the shift of a test statistic: normal, t, F and chi-square, central and not."""

from scipy import special


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
    near = 1 - float(special.nctdtr(df, shift, critical))
    # Beyond a shift of a few the far tail is nothing, and its library value may be NaN.
    far = float(special.nctdtr(df, shift, -critical)) if sides == 2 and shift < 6 else 0.0
    return min(1.0, near + far)


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
    return 1 - float(special.ncfdtr(df, df_error, noncentrality, critical))


def chi2_power(noncentrality: float, df: float, alpha: float) -> float:
    """Give the power of a chi-square test (Cohen 1988, ch. 7).

    Examples
    --------
    >>> round(chi2_power(88 * 0.3**2, 1, 0.05), 2)
    0.8
    """
    return 1 - float(special.chndtr(special.chdtri(df, alpha), df, noncentrality))
