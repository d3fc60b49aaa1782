"""Hatch success, as a share with its interval."""

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist


@dataclass(frozen=True)
class Share:
    """A share with its interval, each from 0 to 1."""

    value: float
    low: float
    high: float


def wilson(successes: int, trials: int, *, confidence: float = 0.95) -> Share:
    """Give a share with Wilson's score interval.

    Parameters
    ----------
    successes, trials : int
        As in 18 hatched of 24 laid; at least one trial.
    confidence : float
        Between 0 and 1.

    Raises
    ------
    ValueError
        When there is no trial, or more successes than trials.

    Notes
    -----
    Each egg counts as independent of the others. Eggs of one clutch share a dam, a sire and a
    tank, so the true interval is wider than this; say so beside it.

    References
    ----------
    Wilson, E. B. (1927), J. Am. Stat. Assoc. 22:209-212; Newcombe, R. G. (1998), Stat. Med.
    17:857-872, method 3.

    Examples
    --------
    >>> share = wilson(15, 148)
    >>> round(share.low, 4), round(share.high, 4)
    (0.0624, 0.1605)
    """
    if not 0 <= successes <= trials or not trials:
        raise ValueError("there are 0 to all successes of 1 or more trials")
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    value = successes / trials
    middle = value + z * z / (2 * trials)
    half = z * sqrt(value * (1 - value) / trials + z * z / (4 * trials * trials))
    whole = 1 + z * z / trials
    return Share(value, max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole))
