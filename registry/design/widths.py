"""How many for an estimate of a wanted width, and what the size of a collection changes."""

from math import sqrt

from scipy import special

from registry.design import bounds
from registry.design.solving import bisected, least_whole
from registry.design.tails import normal_quantile


def _confident(confidence: float) -> float:
    bounds.between(
        "confidence", confidence, 0, 1, "confidence", then="Usual is 0.95, which is 95 per cent."
    )
    return normal_quantile((1 + confidence) / 2)


def mean_half_width(n: float, sd: float, confidence: float = 0.95) -> float:
    """Give half the width of the t interval of a mean.

    Parameters
    ----------
    n : float
        Units, 2 or more.
    sd : float
        Standard deviation between units, in the outcome's own unit, above 0.
    confidence : float, default 0.95

    Examples
    --------
    >>> round(mean_half_width(18, 1), 3)
    0.497
    """
    _confident(confidence)
    quantile = float(special.stdtrit(n - 1, (1 + confidence) / 2))
    return quantile * bounds.spread(sd) / sqrt(n)


def number_for_mean(half_width: float, sd: float, confidence: float = 0.95) -> int:
    """Give the least number of units whose mean has an interval no wider than wanted.

    Parameters
    ----------
    half_width : float
        In the outcome's own unit, above 0.
    sd, confidence : float
        As in `mean_half_width`.

    Examples
    --------
    >>> number_for_mean(0.5, 1)
    18
    """
    bounds.above_zero("half_width", half_width, "half width")
    bounds.spread(sd)
    return least_whole(lambda n: -mean_half_width(n, sd, confidence), -half_width, 2)


def wald_number(share: float, half_width: float, confidence: float = 0.95) -> float:
    """Give the unrounded number for a share, by the plain normal interval.

    References
    ----------
    Cochran, W. G. (1977). Sampling Techniques, section 4.4.

    Examples
    --------
    >>> round(wald_number(0.5, 0.05), 1)
    384.1
    """
    bounds.between("share", share, 0, 1, "share")
    bounds.between("half_width", half_width, 0, 1, "half width")
    return _confident(confidence) ** 2 * share * (1 - share) / half_width**2


def wilson_half_width(n: float, share: float, confidence: float = 0.95) -> float:
    """Give half the width of the Wilson interval of a share.

    Parameters
    ----------
    n : float
        Units, 1 or more.
    share : float
        Expected share, 0 to 1.

    References
    ----------
    Newcombe, R. G. (1998). Two-sided confidence intervals for the single proportion. Statistics in
    Medicine 17, 857–872, method 3.

    Examples
    --------
    >>> round(wilson_half_width(20, 0), 4)
    0.0806
    """
    bounds.between("share", share, 0, 1, "share", ends=True)
    z = _confident(confidence)
    return z * sqrt(share * (1 - share) / n + z**2 / (4 * n**2)) / (1 + z**2 / n)


def number_for_share(share: float, half_width: float, confidence: float = 0.95) -> int:
    """Give the least number of units whose share has a Wilson interval no wider than wanted.

    Examples
    --------
    >>> [number_for_share(p, 0.1) for p in (0.5, 0.8, 0.95)]
    [93, 60, 25]
    """
    bounds.between("share", share, 0, 1, "share", ends=True)
    bounds.between("half_width", half_width, 0, 0.5, "half width")
    return least_whole(lambda n: -wilson_half_width(n, share, confidence), -half_width, 1)


def share_for_number(n: int, share: float, confidence: float = 0.95) -> float:
    """Give the half width that n units will reach for a share: the other direction."""
    return wilson_half_width(bounds.whole("n", n, 1, "number of units"), share, confidence)


def spread_for_mean(n: int, half_width: float, confidence: float = 0.95) -> float:
    """Give the largest standard deviation for which n units give the wanted half width.

    Examples
    --------
    >>> round(spread_for_mean(18, 0.5), 3)
    1.005
    """
    bounds.whole("n", n, 2, "number of units")
    bounds.above_zero("half_width", half_width, "half width")
    return bisected(
        lambda sd: mean_half_width(n, sd, confidence), half_width, 0.0, half_width * sqrt(n)
    )


def of_a_collection(number: float, collection: int) -> float:
    """Give the unrounded number when a whole collection, and nothing beyond it, is described.

    Parameters
    ----------
    number : float
        The number for a collection without end, above 0.
    collection : int
        Animals in the collection, 1 or more.

    Notes
    -----
    Only to describe this collection. A test of a treatment is meant for animals like these, not for
    these alone, and takes no such discount.

    References
    ----------
    Cochran, W. G. (1977), section 4.6. Krejcie, R. V. and Morgan, D. W. (1970). Determining sample
    size for research activities. Educational and Psychological Measurement 30, 607–610, whose table
    rounds to the nearest.

    Examples
    --------
    >>> round(of_a_collection(wald_number(0.5, 0.05), 100))
    80
    """
    bounds.above_zero("number", number, "number")
    bounds.whole("collection", collection, 1, "number of animals in the collection")
    return number / (1 + (number - 1) / collection)


def error_degrees(units: int, treatments: int, blocks: int = 1) -> int:
    """Give the degrees of freedom that are left for error: the resource equation.

    Parameters
    ----------
    units : int
        Experimental units in all.
    treatments : int
        Two or more.
    blocks : int, default 1
        1 where there are none.

    Returns
    -------
    int
        E = N − B − T in degrees of freedom. From 10 to 20 is advised: fewer leave the spread badly
        known, more may waste animals. It knows neither the effect nor the spread: use it only where
        nothing is known of either.

    Raises
    ------
    Unsound
        Where nothing would be left for error.

    References
    ----------
    Mead, R. (1988). The Design of Experiments. Festing, M. F. W. (2018). On determining sample size
    in experiments involving laboratory animals. Laboratory Animals 52, 341–350.

    Examples
    --------
    >>> error_degrees(20, 4), error_degrees(16, 4, blocks=4)
    (16, 9)
    """
    bounds.whole("units", units, 1, "number of units")
    bounds.whole("treatments", treatments, 2, "number of treatments")
    bounds.whole("blocks", blocks, 1, "number of blocks")
    left = units - 1 - (treatments - 1) - (blocks - 1)
    if left < 1:
        bounds.refuse(
            "units",
            "Nothing is left to see how much units differ.",
            f"{units} units in {treatments} treatments and {blocks} blocks leave {left} degrees of "
            "freedom.",
            "Take more units, or fewer treatments.",
        )
    return left


def resource_said(left: int) -> str:
    """Say what so many error degrees of freedom mean, by the usual band of 10 to 20.

    Examples
    --------
    >>> resource_said(16)
    '16 error degrees of freedom: within the advised 10 to 20.'
    """
    if left < 10:
        where = "below the advised 10 to 20, so the spread between units will be badly known"
    elif left > 20:
        where = "above the advised 10 to 20, so fewer units may do"
    else:
        where = "within the advised 10 to 20"
    return f"{left} error degrees of freedom: {where}."
