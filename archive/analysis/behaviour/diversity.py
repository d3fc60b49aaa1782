"""How varied: Shannon's and Simpson's indices, of behaviours as of places."""

from dataclasses import dataclass
from math import e, log

import numpy as np
from numpy.typing import ArrayLike

from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Diversity:
    """How varied some counts are.

    Parameters
    ----------
    kinds : int
        Different kinds that were seen.
    shannon : float
        H in the base asked for, 0 or above.
    evenness : float or None
        H over its largest value, 0 to 1; None of one kind.
    simpson : float
        Chance that two drawn with replacement differ, 0 to 1.
    """

    kinds: int
    shannon: float
    evenness: float | None
    simpson: float


def diversity(counts: ArrayLike, *, base: float = e) -> Diversity:
    """Give how varied some counts or shares are.

    Parameters
    ----------
    counts : array_like of float
        Counts, seconds or shares, 0 or above.
    base : float, default e
        Of the logarithm, above 1.

    References
    ----------
    Shannon, C. E. (1948). Simpson, E. H. (1949). Measurement of diversity. Nature 163, 688.
    Zar, J. H. (1999). Biostatistical Analysis, example 3.3 (from memory).

    Examples
    --------
    >>> round(diversity([5, 5, 5, 5], base=10).shannon, 3), diversity([5, 5, 5, 5]).evenness
    (0.602, 1.0)
    """
    values = np.asarray(counts, dtype=float)
    if values.size == 0 or not np.isfinite(values).all() or (values < 0).any():
        bounds.refuse(
            "counts",
            "No diversity can be computed.",
            "A count is missing or below 0.",
            "Give one number, 0 or above, for each kind.",
        )
    if values.sum() <= 0:
        bounds.refuse(
            "counts",
            "No diversity can be computed.",
            "Nothing was seen at all.",
            "Give counts of which one is above 0.",
        )
    bounds.above_zero("base", base - 1, "base of the logarithm above 1")
    share = values[values > 0] / values.sum()
    kinds = len(share)
    shannon = max(0.0, float(-(share * np.log(share)).sum()) / log(base))
    even = min(1.0, shannon * log(base) / log(kinds)) if kinds > 1 else None
    return Diversity(kinds, shannon, even, float(1 - (share**2).sum()))
