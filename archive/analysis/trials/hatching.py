"""Hatching success, on what was laid and on what was fertile, egg by egg and tank by tank."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from archive.analysis.gaps import Gap
from archive.analysis.means import Mean, mean_of
from registry.animals.hatching import Share, wilson
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Hatched:
    """Hatching success of one arm.

    Parameters
    ----------
    laid, fertile, hatched : int
    of_laid, of_fertile : Share or None
        With Wilson's interval, as if eggs were independent; None where there are none.
    tanks_of_laid, tanks_of_fertile : Mean
        Over tanks, with an interval by t: this one is to be compared with others.
    gaps : tuple of Gap
    """

    laid: int
    fertile: int
    hatched: int
    of_laid: Share | None
    of_fertile: Share | None
    tanks_of_laid: Mean
    tanks_of_fertile: Mean
    gaps: tuple[Gap, ...]


def hatching_success(
    laid: Sequence[int],
    fertile: Sequence[int],
    hatched: Sequence[int],
    *,
    confidence: float = 0.95,
) -> Hatched:
    """Give hatching success of the tanks or clutches of one arm.

    Parameters
    ----------
    laid, fertile, hatched : sequence of int, one for each tank or clutch
        Each no more than the one before it.
    confidence : float, default 0.95

    Notes
    -----
    Eggs of a clutch share dam, sire and water; so Wilson's interval is too narrow for comparisons.

    References
    ----------
    Wilson, E. B. (1927). Newcombe, R. G. (1998). Statistics in Medicine 17, 857–872.

    Examples
    --------
    >>> found = hatching_success([24, 20], [20, 15], [18, 12])
    >>> round(found.of_laid.value, 3), round(found.of_fertile.value, 3)
    (0.682, 0.857)
    """
    counts = np.array([laid, fertile, hatched], dtype=float)
    if counts.shape[1] == 0 or (np.diff(counts, axis=0) > 0).any() or (counts < 0).any():
        bounds.refuse(
            "hatched",
            "These counts do not hold together.",
            "More hatched than were fertile, or more were fertile than laid, or none is given.",
            "Correct the counts of the tank.",
        )
    total = counts.sum(axis=1).astype(int).tolist()
    gaps = [
        Gap(f"{int((row == 0).sum())} tanks say nothing of the share of {what} eggs.", "None were.")
        for row, what in zip(counts[:2], ("laid", "fertile"), strict=True)
        if (row == 0).any()
    ]
    with np.errstate(invalid="ignore"):
        shares = counts[2] / np.where(counts[:2] > 0, counts[:2], np.nan)
    of_laid, of_fertile = (
        wilson(total[2], below, confidence=confidence) if below else None for below in total[:2]
    )
    tanks = [mean_of(row, confidence=confidence, least=0.0, most=1.0) for row in shares]
    return Hatched(
        total[0], total[1], total[2], of_laid, of_fertile, tanks[0], tanks[1], tuple(gaps)
    )


def exact_share(successes: int, trials: int, *, confidence: float = 0.95) -> Share:
    """Give a share with the exact interval of Clopper and Pearson, which is never too narrow.

    References
    ----------
    Clopper, C. J. and Pearson, E. S. (1934). Biometrika 26, 404–413.

    Examples
    --------
    >>> found = exact_share(15, 148)
    >>> round(found.low, 4), round(found.high, 4)
    (0.0578, 0.1617)
    """
    bounds.whole("trials", trials, 1, "number of eggs")
    bounds.between("successes", successes, 0, trials, "number that hatched", ends=True)
    tail, left = (1 - confidence) / 2, trials - successes
    low = float(special.betaincinv(successes, left + 1, tail)) if successes else 0.0
    high = float(special.betaincinv(successes + 1, left, 1 - tail)) if left else 1.0
    return Share(successes / trials, low, high)


def spread_of_shares(seen: ArrayLike, of: ArrayLike) -> tuple[float, int]:
    """Give Pearson's chi-square of the shares of tanks of one arm, and its degrees of freedom.

    Notes
    -----
    About its degrees of freedom where eggs are independent; above it, tanks differ more than that.

    Examples
    --------
    >>> spread_of_shares([5, 5, 5], [10, 10, 10])
    (0.0, 2)
    """
    x, n = np.asarray(seen, dtype=float), np.asarray(of, dtype=float)
    share = x.sum() / n.sum()
    if not 0 < share < 1:
        bounds.refuse("seen", "Shares do not vary.", "None or all were counted.", "Say just that.")
    return float(((x - n * share) ** 2 / (n * share * (1 - share))).sum()), len(n) - 1
