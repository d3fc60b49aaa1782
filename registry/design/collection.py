"""What a collection can bear: how many of what is needed can be had, and what to do about it."""

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import ArrayLike

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
    power: float | None
    detectable: float | None
    cohorts: int | None
    said: tuple[str, ...]

    @property
    def is_enough(self) -> bool:
        """Whether the collection can bear what is needed."""
        return self.needed is not None and self.available >= self.needed


def offer(design: Design, *, effect: float, available: int, power: float = 0.8) -> Offer:
    """Set what a design needs against what a collection has.

    Parameters
    ----------
    design : Design
    effect : float
        As the design means it.
    available : int
        Units in all that can be had, 0 or more.
    power : float, default 0.8

    Raises
    ------
    Unsound
        As `solve`, for a bad effect or power.

    Notes
    -----
    Cohorts are pooled as if nothing differed between them but what a block takes out, one degree of
    freedom a cohort: the count is right when the protocol stays the same.

    Examples
    --------
    >>> from registry.design import TwoGroups
    >>> found = offer(TwoGroups(sd=1), effect=1.2, available=12)
    >>> found.needed, found.cohorts, round(found.detectable, 2)
    (24, 2, 1.8)
    """
    bounds.whole("available", available, 0, "number of units that can be had")
    wanted = solve(design, effect=effect, power=power)
    size = wanted.effect
    n = _most(design, available)
    got = design.power(n, size) if n is not None else None
    least = _detectable(design, n, power)
    cohorts = ceil(wanted.total / available) if available else None
    said = [f"You need {wanted.total}, and can have {available}."]
    if available >= wanted.total:
        said.append("That is enough.")
    else:
        said += _ways(wanted, n, got, least, cohorts)
    return Offer(
        wanted.total, available, got, least.effect if least else None, cohorts, tuple(said)
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


def effective_number(kinship: ArrayLike, heritability: float) -> float:
    """Give how many unrelated animals as much as these related ones tell of a population's mean.

    Parameters
    ----------
    kinship : array_like of float, shape (n, n)
        Kinship of each two animals, 0 to 1, symmetric; the diagonal is taken as 1/2 (not inbred).
    heritability : float
        Share of the outcome's variance that is inherited, 0 to 1.

    Returns
    -------
    float
        1' V⁻¹ 1 with V = 2 K h² + (1 − h²) I, from 1 to n.

    Notes
    -----
    For n animals that are all related alike it is n / (1 + (n − 1) 2 K h²): the design effect with
    an ICC of 2 K h². Unknown parents are taken as unrelated, which is the hopeful side.

    References
    ----------
    Kish, L. (1965). Survey Sampling (the design effect). Henderson, C. R. (1976) (relationship).

    Examples
    --------
    >>> sibs = np.full((6, 6), 0.25)
    >>> round(effective_number(sibs, 1.0), 2), round(effective_number(sibs, 0.4), 2)
    (1.71, 3.0)
    """
    k = np.array(kinship, dtype=float)
    bounds.between("heritability", heritability, 0, 1, "heritability", ends=True)
    if k.ndim != 2 or k.shape[0] != k.shape[1] or not k.size or not np.allclose(k, k.T):
        bounds.refuse(
            "kinship",
            "Kinship is a square table, the same read either way.",
            f"It was given with the shape {k.shape}.",
            "Give one row and one column for each animal.",
        )
    if not np.isfinite(k).all() or k.min() < 0 or k.max() > 1:
        bounds.refuse(
            "kinship",
            "Kinship is from 0 to 1.",
            "A value outside that range was given.",
            "Full siblings have 0.25, half siblings 0.125.",
        )
    np.fill_diagonal(k, 0.5)
    v = 2 * k * heritability + (1 - heritability) * np.eye(len(k))
    # Identical animals make V singular; what they tell together is still one number.
    return float(np.linalg.pinv(v).sum())
