"""Roots of a power function that rises: the least number, the unrounded number, the effect."""

from collections.abc import Callable

from registry.design.bounds import refuse

MOST = 10_000_000
"""No collection has more units than this; what needs more is said to be out of reach."""


def least_whole(power_at: Callable[[float], float], wanted: float, lowest: int) -> int:
    """Give the least whole n at which a rising power reaches what is wanted.

    Parameters
    ----------
    power_at : callable
        n to power, rising.
    wanted : float
        Power, 0 to 1.
    lowest : int
        Least n for which the test is there at all.

    Raises
    ------
    Unsound
        Where not even ten million would do.

    Examples
    --------
    >>> least_whole(lambda n: 1 - 0.5**n, 0.8, 1)
    3
    """
    below, above = lowest - 1, lowest
    while power_at(above) < wanted:
        below, above = above, 2 * above
        if above > MOST:
            refuse(
                "effect",
                "No number of units reaches that power.",
                f"Even {MOST:,} would not be enough for so small an effect.",
                "Ask for a larger effect, a less variable outcome or less power.",
            )
    while above - below > 1:
        middle = (below + above) // 2
        below, above = (below, middle) if power_at(middle) >= wanted else (middle, above)
    return above


def bisected(rises: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Give where a rising function takes a value, by halving, to about twelve digits.

    Notes
    -----
    General solvers fail near the edge of such functions: with three groups of three, one that
    starts from a fixed bracket finds no change of sign. Halving needs only that the function
    rises, and ends when the bracket no longer shrinks.

    Examples
    --------
    >>> round(bisected(lambda x: x * x, 2, 0, 2), 6)
    1.414214
    """
    while high - low > 1e-12 * max(1.0, abs(high)):
        middle = (low + high) / 2
        low, high = (low, middle) if rises(middle) >= wanted else (middle, high)
    return (low + high) / 2


def least_effect(
    power_at: Callable[[float], float], wanted: float, none: float, start: float, most: float
) -> float | None:
    """Give the smallest effect that a rising power finds; None where even the largest is not found.

    Parameters
    ----------
    power_at : callable
        Effect to power, rising.
    wanted : float
        Power, 0 to 1.
    none : float
        The effect that is no effect.
    start : float
        An effect of the right order, in the outcome's own unit, above `none`.
    most : float
        The largest effect that can be, in the same unit; may be infinite.

    Examples
    --------
    >>> round(least_effect(lambda x: x / 10, 0.8, 0, 1, 9), 6)
    8.0
    >>> least_effect(lambda x: x / 10, 0.8, 0, 1, 7) is None
    True
    """
    high = min(start, most)
    while power_at(high) < wanted:
        if high >= most or high > start * 1e12:
            return None
        high = min(high * 2, most)
    return bisected(power_at, wanted, none, high)
