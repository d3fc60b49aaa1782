"""Changes of phase drawn for each unit by itself: a treatment given, taken away and given again."""

from collections.abc import Sequence
from itertools import groupby

from registry.design import bounds
from registry.design.allocation.base import Allocation, Place, named
from registry.design.draws import Stream
from registry.design.phases import Phases, reach

METHOD = "phases with drawn changes"


def phased(
    units: Sequence[str],
    arms: Sequence[str],
    stream: Stream,
    *,
    sessions: int,
    phases: str = "ABAB",
    shortest: int = 3,
) -> Allocation:
    """Draw for every unit after which session each phase ends.

    Parameters
    ----------
    units : sequence of str
        Animals, each watched by itself; one or more.
    arms : sequence of str
        The first is letter A, the second B, and so on.
    stream : Stream
    sessions : int
        Sessions of each unit.
    phases : str, default "ABAB"
        Letters in order.
    shortest : int, default 3
        Least sessions of a phase.

    Returns
    -------
    Allocation
        The sequence of a place holds the treatment of every session; its block says it shortly.

    Notes
    -----
    All admissible places of the changes are equally likely, for each unit by itself.

    References
    ----------
    Edgington, E. S. and Onghena, P. (2007). Randomization Tests, 4th ed., ch. 11.

    Examples
    --------
    >>> found = phased(["Moss"], ["off", "on"], Stream(bytes(32)), sessions=12, phases="AB")
    >>> found.places[0].block
    'off 4, on 8'
    """
    found = named("units", units, 1, "units")
    treatments = named("arms", arms, 2, "treatments")
    plan = Phases(sessions=sessions, phases=phases, shortest=shortest)
    letters = [chr(ord("A") + place) for place in range(len(treatments))]
    if set(phases) != set(letters):
        bounds.refuse(
            "phases",
            "Phases and treatments do not fit.",
            f"“{phases}” does not have the letters {', '.join(letters)}, one for each treatment.",
            "Write A for the first treatment, B for the second, such as ABAB.",
        )
    given = dict(zip(letters, treatments, strict=True))
    later, free = len(phases) - 1, sessions - shortest * len(phases)
    places = []
    for unit in found:
        chosen = sorted(stream.shuffled(range(free + later))[:later])
        starts = [one - at + shortest * (at + 1) for at, one in enumerate(chosen)]
        sequence = tuple(given[letter] for letter in plan.labels(starts))
        said = ", ".join(f"{arm} {len(list(run))}" for arm, run in groupby(sequence))
        places.append(Place(unit, sequence[0], said, sequence))
    note = f"By the draw alone: {reach(plan.assignments ** len(found)).said}"
    return Allocation(METHOD, tuple(places), stream.commitment, (note,))
