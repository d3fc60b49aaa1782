"""What every design of replication answers."""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from math import inf
from typing import ClassVar

from registry.design import bounds
from registry.design.replication import Caution


@dataclass(frozen=True, slots=True, kw_only=True)
class Design(ABC):
    """A design whose power is a sum.

    Parameters
    ----------
    alpha : float, default 0.05
        Significance level, above 0 and below 1.
    sides : {1, 2}, default 2

    Raises
    ------
    Unsound
        On any number outside its range, with the field's name.
    """

    alpha: float = 0.05
    sides: int = 2

    counted: ClassVar[str] = "units in each arm"
    """What n counts."""
    test: ClassVar[str] = ""
    """The test that the sum is about; the plan names the same one."""
    source: ClassVar[str] = ""
    guessed: ClassVar[tuple[str, ...]] = ("sd",)
    """The numbers that nobody knows beforehand: what would change the answer."""
    lowest: ClassVar[int] = 2
    none: ClassVar[float] = 0.0
    """The effect that is no effect: 0 for differences, 1 for ratios."""
    meant: ClassVar[str] = "the difference between the two arms, in the outcome's own unit"
    """What the effect is."""

    def __post_init__(self) -> None:
        bounds.alpha_of(self.alpha)
        bounds.sides_of(self.sides)
        self.check()

    @abstractmethod
    def check(self) -> None:
        """Refuse what this design cannot be asked."""

    @abstractmethod
    def power(self, n: float, effect: float) -> float:
        """Give the power, 0 to 1, of n units and an effect above 0; rises in both."""

    @abstractmethod
    def assumed(self) -> tuple[str, ...]:
        """Give the assumptions in plain words."""

    def total(self, n: int) -> int:
        """Give all units of the design."""
        return 2 * n

    def size_of(self, effect: float) -> float:
        """Give an effect without its direction; refuse one that is none."""
        return bounds.effect_of(effect)

    def scale(self) -> float:
        """Give an effect of the right order, to search from."""
        return float(getattr(self, "sd", 1.0))

    def largest(self) -> float:
        """Give the largest effect that can be."""
        return inf

    def least(self, effect: float, power: float) -> int | None:
        """Give the least n where power rises in steps; None where it rises smoothly."""
        del effect, power
        return None

    def cautions(self, n: int, effect: float) -> tuple[Caution, ...]:
        """Give what the reader must weigh with this n and this effect."""
        del n, effect
        return ()


def enough(design: Design, n: float) -> int:
    """Give n, or refuse what is too little to test at all; one unit an arm is no replication."""
    return bounds.whole(
        "n",
        n,
        design.lowest,
        f"number of {design.counted}",
        "One unit in an arm cannot tell the treatment from the unit, however many animals are in "
        "it: give more units, or take a design in which one unit goes through all treatments."
        if n == 1
        else "",
    )
