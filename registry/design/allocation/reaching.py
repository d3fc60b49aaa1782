"""How many allocations a draw could have given, and so the smallest p that it can reach."""

from collections import Counter
from math import factorial, prod

from registry.design.allocation.base import Allocation
from registry.design.phases import Reach, reach

COUNTED = ("complete", "blocked", "stratified")
"""Methods whose draws are all equally likely and counted in closed form."""
MOST = 10_000_000


def draw_reach(found: Allocation, *, alpha: float = 0.05) -> Reach | None:
    """Give the smallest p of a test that holds an outcome against every draw.

    Parameters
    ----------
    found : Allocation
        Dealt at once, or at once within each block.
    alpha : float, default 0.05

    Returns
    -------
    Reach or None
        None where there are more than ten million ways: no p so small decides anything.

    Notes
    -----
    The ways to deal a block are n! over the product of the arms' factorials, and those of several
    blocks are multiplied. Two arms that are equal in every block have a mirror image that is as
    extreme, so that the smallest two-sided p is two over the count.

    References
    ----------
    Edgington, E. S. and Onghena, P. (2007). Randomization Tests, 4th edition, ch. 3.

    Examples
    --------
    >>> from registry.design import Stream, complete
    >>> [round(draw_reach(complete(list("abcdefghij")[: 2 * n], ["x", "y"], Stream(bytes(32))))
    ...     .smallest_p, 4) for n in (2, 3, 4, 5)]
    [0.3333, 0.1, 0.0286, 0.0079]
    """
    blocks: dict[str, Counter[str]] = {}
    for one in found.places:
        blocks.setdefault(one.block, Counter())[one.arm] += 1
    counts = [tuple(block.values()) for block in blocks.values()]
    ways = prod(factorial(sum(each)) // prod(map(factorial, each)) for each in counts)
    mirrored = len(found.counts) == 2 and all(
        len(each) == 2 and each[0] == each[1] for each in counts
    )
    return reach(ways, alpha=alpha, mirrored=mirrored) if ways <= MOST else None
