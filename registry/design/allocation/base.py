"""An allocation, whatever drew it: places that units were given, and what printed paper says."""

import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256

from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Place:
    """What one unit was given.

    Parameters
    ----------
    unit : str
    arm : str
        The treatment; of a crossover the first one.
    block : str
        Block, stratum, row of a square or order of a crossover; empty where there is none.
    sequence : tuple of str
        Treatments in the order in which the unit gets them, where it gets several.
    """

    unit: str
    arm: str
    block: str = ""
    sequence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Allocation:
    """The whole of an allocation.

    Parameters
    ----------
    method : str
        How it was drawn, in words.
    places : tuple of Place
        In the order in which the units were given.
    commitment : str
        SHA-256 of the seed.
    notes : tuple of str
        What its reader must know: analysis that goes with it, what could not be balanced.
    """

    method: str
    places: tuple[Place, ...]
    commitment: str
    notes: tuple[str, ...] = ()

    @property
    def counts(self) -> dict[str, int]:
        """Units of each treatment, in the order of the treatments' names."""
        return dict(sorted(Counter(one.arm for one in self.places).items()))

    def arm_of(self, unit: str) -> str:
        """Give the treatment of a unit."""
        for one in self.places:
            if one.unit == unit:
                return one.arm
        return bounds.refuse(
            "unit", f"“{unit}” is not in this allocation.", "It was not drawn.", "Look again."
        )

    def canonical(self) -> str:
        """Give the allocation as one line of JSON that is the same wherever it is made."""
        rows = [[one.unit, one.arm, one.block, list(one.sequence)] for one in self.places]
        told = {"commitment": self.commitment, "method": self.method, "places": rows}
        return json.dumps(told, ensure_ascii=False, separators=(",", ":"), sort_keys=True)

    @property
    def digest(self) -> str:
        """SHA-256 of `canonical`, in hexadecimal: two runs agree when it does."""
        return sha256(self.canonical().encode()).hexdigest()


def named(field: str, items: Iterable[str], least: int, said: str) -> list[str]:
    """Give names, or refuse too few, empty ones and one that stands twice."""
    found = [one.strip() for one in items]
    if len(found) < least:
        bounds.refuse(
            field,
            f"At least {least} {said} are needed.",
            f"{len(found)} were given.",
            "Name more of them.",
        )
    twice = sorted(name for name, count in Counter(found).items() if count > 1)
    if twice or "" in found:
        bounds.refuse(
            field,
            f"Each of the {said} needs a name of its own.",
            f"“{twice[0]}” stands twice." if twice else "One has no name.",
            "Give every one a name that no other has.",
        )
    return found


def asked(units: Iterable[str], arms: Sequence[str]) -> tuple[list[str], list[str]]:
    """Give units and treatments, or refuse them; each treatment needs a unit at the least."""
    treatments = named("arms", arms, 2, "treatments")
    found = named("units", units, 2, "units")
    if len(found) < len(treatments):
        bounds.refuse(
            "arms",
            f"{len(found)} units do not bear {len(treatments)} treatments.",
            "Some treatment would have no unit at all.",
            "Take fewer treatments, or find more units.",
        )
    return found, treatments


def few_units(counts: dict[str, int]) -> tuple[str, ...]:
    """Say which treatments stand on one unit."""
    alone = [name for name, count in counts.items() if count < 2]
    if not alone:
        return ()
    names = ", ".join(f"“{name}”" for name in alone)
    return (f"One unit alone has {names}: the treatment cannot be told from the unit.",)
