"""Three directions of asking a design: the number, the power, the smallest effect."""

from dataclasses import dataclass
from math import isfinite

from registry.design import bounds
from registry.design.replication import Caution
from registry.design.sizes.base import Design, enough
from registry.design.solving import bisected, least_effect, least_whole


@dataclass(frozen=True, slots=True)
class Sized:
    """The answer to one question of replication.

    Parameters
    ----------
    design : Design
    n : int
        As `counted` says, rounded up.
    unrounded : float
        What the sum gives before it is rounded; n where n was asked.
    total : int
        Units of the whole design.
    effect : float
        In the unit of the outcome.
    power : float
        Power at n and the effect, 0 to 1.
    asked : {"n", "power", "effect"}
        What was looked for.
    cautions : tuple of Caution
    """

    design: Design
    n: int
    unrounded: float
    total: int
    effect: float
    power: float
    asked: str
    cautions: tuple[Caution, ...]

    @property
    def said(self) -> str:
        """The answer in one sentence."""
        counted = f"{self.n} {self.design.counted} ({self.total} in all)"
        return {
            "n": f"{counted} find an effect of {self.effect:.4g} with a power of {self.power:.3f}.",
            "power": f"With {counted} an effect of {self.effect:.4g} is found in "
            f"{100 * self.power:.1f} of 100 such studies.",
            "effect": f"With {counted} the smallest effect found with a power of "
            f"{self.power:.3f} is {self.effect:.4g}.",
        }[self.asked]


def solve(
    design: Design,
    *,
    n: int | None = None,
    effect: float | None = None,
    power: float | None = None,
) -> Sized:
    """Ask a design in one of three directions: leave out what is looked for.

    Parameters
    ----------
    design : Design
    n : int, optional
        As the design's `counted` says, at least its `lowest`.
    effect : float, optional
        In the unit of the outcome, not 0; its sign is not used.
    power : float, optional
        Above alpha and below 1.

    Returns
    -------
    Sized

    Raises
    ------
    Unsound
        Where not exactly one is left out, where one is out of range, where n would be below two,
        or where no number of units or no effect would do.

    Notes
    -----
    n is rounded up, always; published tables round to the nearest, so theirs may be one lower.

    Examples
    --------
    >>> from registry.design import TwoGroups
    >>> solve(TwoGroups(sd=10), effect=8, power=0.8).n
    26
    >>> round(solve(TwoGroups(sd=1), n=6, power=0.8).effect, 3)
    1.796
    >>> round(solve(TwoGroups(sd=1), n=20, effect=1).power, 4)
    0.869
    """
    if [n, effect, power].count(None) != 1:
        bounds.refuse(
            "n",
            "Two of the three must be given: number, effect, power.",
            "The third is what is looked for.",
            "Leave out exactly one.",
        )
    if n is not None:
        enough(design, n)
    if effect is not None:
        effect = possible(design, effect)
    if power is not None:
        power = bounds.power_of(power, design.alpha)
    if n is None:
        assert effect is not None
        assert power is not None
        return _number(design, effect, power)
    if effect is None:
        assert power is not None
        return _effect(design, n, power)
    return _answer(design, n, effect, "power")


def _answer(
    design: Design, n: int, effect: float, asked: str, unrounded: float | None = None
) -> Sized:
    return Sized(
        design,
        n,
        float(n) if unrounded is None else unrounded,
        design.total(n),
        effect,
        design.power(n, effect),
        asked,
        design.cautions(n, effect),
    )


def possible(design: Design, effect: float) -> float:
    """Give the size of an effect, or refuse one that cannot be."""
    found = design.size_of(effect)
    if found > design.largest():
        bounds.refuse(
            "effect",
            "So large an effect cannot be.",
            f"{found:g} was given, and the most that can be is {design.largest():g}.",
            "Give a smaller effect, or another starting value.",
        )
    return found


def _number(design: Design, effect: float, power: float) -> Sized:
    def at(n: float) -> float:
        return design.power(n, effect)

    stepped = design.least(effect, power)
    if stepped is not None:
        return _answer(design, stepped, effect, "n")
    n = least_whole(at, power, design.lowest)
    if n == 2 and at(2) > power and design.lowest == 2:
        bounds.refuse(
            "effect",
            f"The effect is so large that the sum gives fewer than 2 {design.counted}.",
            f"It is {effect:g}, and one unit cannot show how much units differ.",
            "Check that the effect and the spread are in the same unit. If they are, ask for the "
            f"power of n = 2, which is {at(2):.2f}.",
        )
    unrounded = bisected(at, power, n - 1, n) if n > design.lowest else float(n)
    return _answer(design, n, effect, "n", unrounded)


def _effect(design: Design, n: int, power: float) -> Sized:
    found = least_effect(
        lambda x: design.power(n, x), power, design.none, design.scale(), design.largest()
    )
    if found is None:
        most = design.largest()
        far = f", {most:g}, is found with a power of {design.power(n, most):.2f}"
        bounds.refuse(
            "n",
            f"With {n} {design.counted} no effect at all is found with such a power.",
            f"Even the largest that can be{far if isfinite(most) else ' is not enough'}.",
            "Take more units, or ask for less power.",
        )
    return _answer(design, n, found, "effect")
