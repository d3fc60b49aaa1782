"""Minimisation: each unit as it arrives goes where it balances what is known of all."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from registry.design import bounds
from registry.design.allocation.base import Allocation, Place, asked, few_units
from registry.design.draws import Stream

_PARTS = 1000


@dataclass(frozen=True, slots=True)
class Leaning:
    """Where minimisation leans for one unit.

    Parameters
    ----------
    imbalance : mapping of str to int
        What the imbalance would be if the unit went to each treatment.
    best : tuple of str
        The treatments with the least of it.
    """

    imbalance: Mapping[str, int]
    best: tuple[str, ...]


def leaning(
    levels: Mapping[str, str],
    earlier: Sequence[tuple[Mapping[str, str], str]],
    arms: Sequence[str],
) -> Leaning:
    """Give the imbalance that each treatment would leave, summed over the factors.

    Parameters
    ----------
    levels : mapping of str to str
        Factor to the level of the new unit.
    earlier : sequence of (mapping, str)
        Levels and treatment of each unit before.
    arms : sequence of str

    Notes
    -----
    For each factor: among the units of the new one's level the largest count of a treatment less
    the smallest, as if it had been given. All factors weigh alike.

    References
    ----------
    Pocock, S. J. and Simon, R. (1975). Sequential treatment assignment with balancing for
    prognostic factors in the controlled clinical trial. Biometrics 31, 103–115.
    Taves, D. R. (1974). Minimization. Clinical Pharmacology and Therapeutics 15, 443–453.

    Examples
    --------
    >>> leaning({"sex": "male"}, [({"sex": "male"}, "x")], ["x", "y"]).best
    ('y',)
    """
    imbalance = {}
    for candidate in arms:
        total = 0
        for factor, level in levels.items():
            counts = dict.fromkeys(arms, 0)
            for known, arm in earlier:
                counts[arm] += known[factor] == level
            counts[candidate] += 1
            total += max(counts.values()) - min(counts.values())
        imbalance[candidate] = total
    least = min(imbalance.values())
    return Leaning(imbalance, tuple(arm for arm in arms if imbalance[arm] == least))


def minimised(
    units: Mapping[str, Mapping[str, str]],
    arms: Sequence[str],
    stream: Stream,
    *,
    share: float = 0.8,
) -> Allocation:
    """Allocate units in the order in which they arrive, by minimisation with a biased draw.

    Parameters
    ----------
    units : mapping of str to mapping of str to str
        Unit to its factors and their levels, the same factors for each.
    arms : sequence of str
    stream : Stream
    share : float, default 0.8
        Chance that the best treatment is taken, from 1 over the number of treatments to 1; in parts
        of a thousand. With 1 the next place can be foretold.

    Examples
    --------
    >>> asked_of = {"a": {"sex": "m"}, "b": {"sex": "m"}, "c": {"sex": "f"}, "d": {"sex": "f"}}
    >>> minimised(asked_of, ["x", "y"], Stream(bytes(32)), share=1).counts
    {'x': 2, 'y': 2}
    """
    found, treatments = asked(units, arms)
    factors = {tuple(sorted(one)) for one in units.values()}
    if len(factors) != 1 or not next(iter(factors)):
        bounds.refuse(
            "units",
            "Every unit needs a level of every factor.",
            "The units do not all name the same factors, or name none.",
            "Give each unit a level of each factor; “unknown” is a level.",
        )
    bounds.between(
        "share", share, 1 / len(treatments), 1, "chance of the best treatment", ends=True
    )
    earlier: list[tuple[Mapping[str, str], str]] = []
    for unit, levels in zip(found, units.values(), strict=True):
        del unit
        best = leaning(levels, earlier, treatments).best
        earlier.append((levels, _drawn(best, treatments, share, stream)))
    places = tuple(Place(unit, arm) for unit, (_, arm) in zip(found, earlier, strict=True))
    counts = Allocation("", places, "").counts
    notes = (
        "The analysis takes the factors into account, or draws all over again by the same rule.",
        f"The best treatment was taken with a chance of {share:g}.",
        *few_units(counts),
    )
    return Allocation("minimisation", places, stream.commitment, notes)


def _drawn(best: Sequence[str], arms: Sequence[str], share: float, stream: Stream) -> str:
    """Draw one of the best with a chance of `share`, else one of the others."""
    others = [arm for arm in arms if arm not in best]
    leans = not others or stream.below(_PARTS) < round(_PARTS * share)
    among = best if leans else others
    return among[stream.below(len(among))]
