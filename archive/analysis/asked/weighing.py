"""Arms compared: the proposed test or the one that was asked for, and what stands beside it."""

from collections import Counter
from dataclasses import dataclass, field, replace

from archive.analysis.asked.found import Choice, Comparison
from archive.analysis.asked.sides import Sides
from archive.analysis.asked.testing import TESTS
from archive.analysis.comparing.proposing import propose
from archive.analysis.comparing.recorded import (
    BLOCKED,
)
from archive.analysis.gaps import Gap
from registry.errors import Unsound


@dataclass(frozen=True, slots=True)
class Weighed:
    """Tests, why they were chosen, and what could not be tested."""

    tests: tuple[Comparison, ...]
    choice: Choice | None
    gaps: tuple[Gap, ...] = field(default=())


def weighed(sides: Sides, *, asked: str = "") -> Weighed:
    """Propose a test, run it or the one asked for, and run what should stand beside it.

    Parameters
    ----------
    sides : Sides
    asked : str, default ""
        Name of a test in `TESTS`; "" takes the proposed one.
    """
    gaps: list[Gap] = []
    try:
        proposal = propose(
            sides.outcome,
            sides.units,
            method=sides.allocation.method if sides.allocation else "",
            blocks=_blocks(sides),
            within=sides.is_within,
            orders=list(Counter(sides.sequences.values()).values()),
        )
    except Unsound as refused:
        return Weighed((), None, (Gap(refused.what, refused.why),))
    chosen = asked if asked in TESTS else proposal.test
    tests = _run(chosen, "chosen", sides, gaps)
    beside = [one for one in (proposal.test, *proposal.beside) if one != chosen]
    for name in dict.fromkeys(beside):
        if name in TESTS:
            tests += _run(name, "beside", sides, gaps)
    smallest = proposal.reach.smallest_p if proposal.reach else None
    choice = Choice(chosen, proposal.test, proposal.why, proposal.assumes, smallest)
    return Weighed(tuple(tests), choice, tuple(gaps))


def _blocks(sides: Sides) -> list[list[int]]:
    """Count the units of each arm in each block of the allocation."""
    if sides.allocation is None or sides.allocation.method not in BLOCKED:
        return []
    counts: dict[str, dict[str, int]] = {}
    for one in sides.allocation.places:
        own = counts.setdefault(one.block, dict.fromkeys(sides.order, 0))
        own[one.arm] = own.get(one.arm, 0) + 1
    return [list(own.values()) for own in counts.values()]


def _run(name: str, place: str, sides: Sides, gaps: list[Gap]) -> list[Comparison]:
    try:
        found, told = TESTS[name](sides)
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
        return []
    title = found[0].title if found else name
    gaps += [Gap(f"{title[:1].upper()}{title[1:]}: {one.what}", one.why) for one in told]
    return [replace(one, place=place) for one in found]
