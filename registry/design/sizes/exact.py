"""Two shares of few units, compared exactly: Fisher's test, and the unconditional ones."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

type Grid = NDArray[np.float64]

_FINE = 1e-9
"""Two tables whose statistics differ by less than this share are equally extreme."""


def _log_choose(n: int) -> Grid:
    k = np.arange(n + 1)
    return np.asarray(special.gammaln(n + 1) - special.gammaln(k + 1) - special.gammaln(n - k + 1))


def _shares(n: int, p: Grid | float) -> Grid:
    """Give binomial probabilities, one row for each p."""
    k = np.arange(n + 1)
    column = np.atleast_1d(np.asarray(p, dtype=float))[:, None]
    return np.asarray(
        np.exp(_log_choose(n) + special.xlogy(k, column) + special.xlog1py(n - k, -column))
    )


@lru_cache(maxsize=64)
def fisher_p(first: int, second: int, sides: int = 2) -> Grid:
    """Give the p-value of Fisher's exact test for every outcome of two arms.

    Parameters
    ----------
    first, second : int
        Units in each arm, at least 1.
    sides : {1, 2}
        One side is that the first arm has the smaller share.

    Returns
    -------
    array of shape (first + 1, second + 1)
        Row: how many of the first arm did it; column: of the second.

    Notes
    -----
    Two-sided as usual: all tables with the same margins that are no likelier than the one seen.

    Examples
    --------
    >>> round(float(fisher_p(3, 3)[0, 3]), 2)
    0.1
    """
    # A row for each sum of both arms, a column for how many of the first did it.
    sums, mine = np.arange(first + second + 1)[:, None], np.arange(first + 1)[None, :]
    theirs = sums - mine
    can_be = (theirs >= 0) & (theirs <= second)
    log_second = _log_choose(second)[np.clip(theirs, 0, second)]
    chance = np.where(can_be, np.exp(_log_choose(first)[None, :] + log_second
                                     - _log_choose(first + second)[:, None]), 0.0)  # fmt: skip
    up_to = np.cumsum(chance, axis=1) if sides == 1 else _up_to_equals(chance)
    found = np.empty((first + 1, second + 1))
    rows, columns = np.nonzero(can_be)
    found[columns, theirs[rows, columns]] = np.minimum(up_to[rows, columns], 1.0)
    found.setflags(write=False)
    return found


def _up_to_equals(chance: Grid) -> Grid:
    """Give for each cell the sum of all in its row that are no likelier, its equals too."""
    order = np.argsort(chance, axis=1, kind="stable")
    rising = np.take_along_axis(chance, order, axis=1)
    sums = np.cumsum(rising, axis=1)
    # Equals, such as mirror images, take the sum up to the last of them.
    goes_on = rising[:, 1:] <= rising[:, :-1] * (1 + 1e-7)
    sums[:, :-1][goes_on] = np.inf
    sums = np.minimum.accumulate(sums[:, ::-1], axis=1)[:, ::-1]
    found = np.empty_like(sums)
    np.put_along_axis(found, order, sums, axis=1)
    return found


def _wald(first: int, second: int, sides: int) -> Grid:
    """Give the pooled z of every outcome, the most extreme smallest."""
    a, b = np.arange(first + 1)[:, None], np.arange(second + 1)[None, :]
    pooled = (a + b) / (first + second)
    spread = pooled * (1 - pooled) * (1 / first + 1 / second)
    with np.errstate(divide="ignore", invalid="ignore"):
        z = np.where(spread > 0, (a / first - b / second) / np.sqrt(spread), 0.0)
    return -np.abs(z) if sides == 2 else z


@lru_cache(maxsize=32)
def unconditional_p(
    first: int, second: int, sides: int = 2, *, by: str = "fisher", shares: int = 1001
) -> Grid:
    """Give the p-value of an unconditional exact test for every outcome of two arms.

    Parameters
    ----------
    first, second : int
        Units in each arm, at least 1.
    sides : {1, 2}
        One side is that the first arm has the smaller share.
    by : {"fisher", "wald"}
        What orders the outcomes: Fisher's p (Boschloo's test) or the pooled z (Barnard's).

    shares : int, default 1001
        Common shares, evenly from 0 to 1, among which the worst is sought.

    Returns
    -------
    array of shape (first + 1, second + 1)

    Notes
    -----
    The chance of an outcome at least as extreme, at the worst common share. With 1,001 of them p is
    right to about four digits; a plan can do with 201.

    References
    ----------
    Mehta, C. R. and Senchaudhuri, P. (2003). Conditional versus unconditional exact tests for
    comparing two binomials.

    Examples
    --------
    >>> float(unconditional_p(12, 12)[2, 9]) < float(fisher_p(12, 12)[2, 9])
    True
    """
    ranked = fisher_p(first, second, sides) if by == "fisher" else _wald(first, second, sides)
    flat = ranked.ravel()
    order = np.argsort(flat, kind="stable")
    steps = flat[order]
    # Equally extreme outcomes count together: each takes the sum up to the last of its equals.
    gaps = np.flatnonzero(np.diff(steps) > _FINE * np.maximum(1e-3, np.abs(steps[1:])))
    ends = np.append(gaps, len(steps) - 1)
    worst = _worst(first, second, order, ends, shares)
    found = np.empty(len(flat))
    found[order] = worst[np.searchsorted(ends, np.arange(len(flat)))]
    grid = np.minimum(found.reshape(ranked.shape), 1.0)
    grid.setflags(write=False)
    return grid


def _worst(
    first: int, second: int, order: NDArray[np.intp], ends: NDArray[np.intp], shares: int
) -> Grid:
    """Give the largest chance of each growing set of outcomes, over every common share."""
    best = np.zeros(len(ends))
    for share in np.linspace(0, 1, shares):
        chance = (_shares(first, share)[0][:, None] * _shares(second, share)[0]).ravel()
        np.maximum(best, np.cumsum(chance[order])[ends], out=best)
    return best


@lru_cache(maxsize=512)
def unconditional_region(
    first: int, second: int, alpha: float, sides: int = 2, *, shares: int = 201
) -> NDArray[np.bool_]:
    """Give the outcomes that Boschloo's test rejects at a level.

    Parameters
    ----------
    first, second : int
        Units in each arm, at least 1.
    alpha : float
    sides : {1, 2}
    shares : int, default 201
        As in `unconditional_p`.

    Returns
    -------
    array of bool, shape (first + 1, second + 1)

    Notes
    -----
    The chance of a growing set of outcomes rises with the set, so the largest set whose chance is
    no more than the level at the worst common share is found by halving: some ten products of
    matrices in place of a sum for every outcome.

    Examples
    --------
    >>> p = unconditional_p(12, 12, shares=201)
    >>> bool((unconditional_region(12, 12, 0.05) == (p <= 0.05)).all())
    True
    """
    ranked = fisher_p(first, second, sides)
    steps = np.sort(ranked, axis=None)
    steps = steps[np.append(np.diff(steps) > _FINE * np.maximum(1e-3, steps[1:]), True)]
    grid = np.linspace(0, 1, shares)
    if sides == 2:  # doing it and not doing it are mirror images, so half of the shares tell all
        grid = grid[: (shares + 1) // 2]
    ours = _shares(first, grid)
    theirs = ours if second == first else _shares(second, grid)

    def worst(limit: float) -> float:
        return float(((ours @ (ranked <= limit)) * theirs).sum(axis=1).max())

    low, high = -1, len(steps)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if worst(steps[middle]) <= alpha else (low, middle)
    found: NDArray[np.bool_] = ranked <= (steps[low] if low >= 0 else -1.0)
    found.setflags(write=False)
    return found


def power_of_region(rejected: NDArray[np.bool_], p1: float, p2: float) -> float:
    """Give the chance that two arms of given shares end in a rejected outcome.

    Parameters
    ----------
    rejected : array of bool, shape (first + 1, second + 1)
    p1, p2 : float
        Shares, 0 to 1.

    Examples
    --------
    >>> round(power_of_region(fisher_p(15, 15) <= 0.05, 0.2, 0.8), 3)
    0.872
    """
    first, second = rejected.shape[0] - 1, rejected.shape[1] - 1
    if first == second:
        ours, theirs = _shares(first, np.array([p1, p2]))
        return float(ours @ rejected @ theirs)
    return float(_shares(first, p1)[0] @ rejected @ _shares(second, p2)[0])
