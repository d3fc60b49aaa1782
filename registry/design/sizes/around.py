"""Power curves, and what would change an answer."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from registry.design.sizes.asking import Sized, possible, solve
from registry.design.sizes.base import Design, enough
from registry.errors import Unsound


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a power curve: n as the design counts, all units, power 0 to 1."""

    n: int
    total: int
    power: float


def curve(design: Design, *, effect: float, numbers: Sequence[int]) -> tuple[Point, ...]:
    """Give the power at several numbers of units.

    Parameters
    ----------
    design : Design
    effect : float
        In the unit of the outcome, not 0.
    numbers : sequence of int
        Each at least the design's `lowest`.

    Examples
    --------
    >>> from registry.design import TwoGroups
    >>> [round(one.power, 2) for one in curve(TwoGroups(sd=1), effect=1, numbers=[5, 10, 20])]
    [0.29, 0.56, 0.87]
    """
    found = possible(design, effect)
    return tuple(
        Point(n, design.total(n), design.power(n, found))
        for n in (enough(design, one) for one in numbers)
    )


@dataclass(frozen=True, slots=True)
class Shift:
    """What becomes of the answer when one guessed number is another.

    Parameters
    ----------
    field : str
        The guessed number.
    value : float
    n : int or None
        What n would have to be; None where nothing is enough.
    power : float
        Power of the n first found.
    """

    field: str
    value: float
    n: int | None
    power: float


def sensitivity(found: Sized, *, power: float = 0.8) -> tuple[Shift, ...]:
    """Say what would change an answer: each guessed number a quarter lower and a quarter higher.

    Parameters
    ----------
    found : Sized
    power : float
        The power that was wanted, or is usual.

    Returns
    -------
    tuple of Shift

    Examples
    --------
    >>> from registry.design import TankMeans
    >>> found = solve(TankMeans(sd=1, icc=0.2, per_unit=15), effect=0.8, power=0.8)
    >>> [(one.field, round(one.value, 2), one.n) for one in sensitivity(found)]
    [('sd', 0.75, 5), ('sd', 1.25, 11), ('icc', 0.1, 6), ('icc', 0.4, 12)]
    """
    rows = []
    for name in found.design.guessed:
        for other in _others(found.design, name):
            value = float(getattr(other, name))
            try:
                needed: int | None = solve(other, effect=found.effect, power=power).n
            except Unsound:
                needed = 2 if other.power(2, found.effect) >= power else None
            rows.append(Shift(name, value, needed, other.power(found.n, found.effect)))
    return tuple(rows)


def _others[D: Design](design: D, name: str) -> list[D]:
    value = getattr(design, name)
    # A share between 0 and 1 is guessed far worse than a spread: half of it, and twice.
    low, high = (0.75, 1.25) if name.startswith("sd") else (0.5, 2.0)
    found = []
    for factor in (low, high):
        try:
            found.append(replace(design, **{name: value * factor}))
        except Unsound:
            continue
    return found
