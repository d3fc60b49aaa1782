"""What a collection can bear: how many of what is needed can be had, and what to do about it."""

from dataclasses import dataclass
from math import ceil

from registry.design import bounds
from registry.design.sizes.asking import Sized, solve
from registry.design.sizes.base import Design, enough
from registry.errors import Unsound


@dataclass(frozen=True, slots=True)
class Offer:
    """What is needed, what can be had, and the ways on.

    Parameters
    ----------
    needed : int or None
        Units in all; None where no number is enough.
    available : int
        Units in all that can be had.
    worth : int
        As how many unrelated ones they count; the sums go by this number.
    power : float or None
        Power of what can be had for the effect that was asked; None where there is no test.
    detectable : float or None
        The smallest effect that what can be had finds; None where there is none.
    cohorts : int or None
        Cohorts of that size that are enough together.
    said : tuple of str
        Sentences for a supervisor and a student.
    """

    needed: int | None
    available: int
    worth: int
    power: float | None
    detectable: float | None
    cohorts: int | None
    said: tuple[str, ...]

    @property
    def is_enough(self) -> bool:
        """Whether the collection can bear what is needed."""
        return self.needed is not None and self.worth >= self.needed


def offer(
    design: Design,
    *,
    effect: float,
    available: int,
    power: float = 0.8,
    worth: int | None = None,
) -> Offer:
    """Set what a design needs against what a collection has.

    Parameters
    ----------
    design : Design
    effect : float
        As the design means it.
    available : int
        Units in all that can be had, 0 or more.
    power : float, default 0.8
    worth : int, optional
        As how many unrelated ones they count, 0 to `available`; all of them by default.

    Raises
    ------
    Unsound
        As `solve`, for a bad effect or power.

    Notes
    -----
    Cohorts are pooled as if nothing differed between them but what a block takes out, one degree of
    freedom a cohort: the count is right when the protocol stays the same.

    What relatives are worth is worked out for a mean (Kish's design effect). A contrast between
    treatments that are dealt within families loses less, so that the number is on the careful side.

    Examples
    --------
    >>> from registry.design import TwoGroups
    >>> found = offer(TwoGroups(sd=1), effect=1.2, available=12)
    >>> found.needed, found.cohorts, round(found.detectable, 2)
    (24, 2, 1.8)
    """
    bounds.whole("available", available, 0, "number of units that can be had")
    counted = available if worth is None else min(worth, available)
    bounds.whole("worth", counted, 0, "number of unrelated units that they count as")
    wanted = solve(design, effect=effect, power=power)
    size = wanted.effect
    n = _most(design, counted)
    got = design.power(n, size) if n is not None else None
    least = _detectable(design, n, power)
    cohorts = ceil(wanted.total / counted) if counted else None
    said = [f"You need {wanted.total}, and can have {available}."]
    if counted < available:
        said.append(
            f"Related as they are, they count as {counted} unrelated ones, and the sums go by "
            f"{counted}. Deal the treatments within each family: the contrast then loses less."
        )
    if counted >= wanted.total:
        said.append("That is enough.")
    else:
        said += _ways(wanted, n, got, least, cohorts)
    return Offer(
        wanted.total, available, counted, got, least.effect if least else None, cohorts, tuple(said)
    )


def _most(design: Design, available: int) -> int | None:
    """Give the largest n whose design the units can fill; None where there is none."""
    if design.total(design.lowest) > available:
        return None
    low, high = design.lowest, available + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if design.total(middle) <= available else (low, middle)
    return enough(design, low)


def _detectable(design: Design, n: int | None, power: float) -> Sized | None:
    if n is None:
        return None
    try:
        return solve(design, n=n, power=power)
    except Unsound:
        return None


def _ways(
    wanted: Sized, n: int | None, power: float | None, least: Sized | None, cohorts: int | None
) -> list[str]:
    design = wanted.design
    said = []
    if n is None or power is None:
        said.append("With so few there is no such test: describe, or let each go through all.")
    else:
        said.append(
            f"With {n} {design.counted} the effect of {wanted.effect:.4g} would be found in "
            f"{100 * power:.0f} of 100 such studies."
        )
    if least is not None:
        said.append(f"What they can find with the power asked is {least.effect:.4g}.")
    if cohorts is not None:
        said.append(f"Or pool {cohorts} cohorts of this size under one protocol.")
    said.append(
        "Or ask in another way: measure each unit before and after, let each unit go through all "
        "treatments, or take a less variable outcome."
    )
    return said
