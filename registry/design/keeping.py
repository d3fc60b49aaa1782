"""A sum as a plan keeps it: all that it was given, in plain facts, so that it can be made again."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from enum import Enum, StrEnum
from typing import Any

import registry.design
from registry.design import bounds
from registry.design.allocation.asking import allocate
from registry.design.allocation.base import Allocation
from registry.design.allocation.reaching import COUNTED, draw_reach
from registry.design.draws import Stream
from registry.design.schedules.asking import scheduled
from registry.design.schedules.evenness import judged
from registry.design.simulating.analyses import Analysis
from registry.design.simulating.running import Rate, Simulated, simulate
from registry.design.simulating.studies import Outcome, Study
from registry.design.sizes.asking import Sized, solve
from registry.design.sizes.base import Design

type Plain = dict[str, Any]


class Reckoned(StrEnum):
    """What a plan can keep of its design."""

    SIZE = "size"
    SIMULATION = "simulation"
    ALLOCATION = "allocation"
    SCHEDULE = "schedule"


@dataclass(frozen=True, slots=True)
class Kept:
    """What one sum told.

    Parameters
    ----------
    said : str
        The answer in sentences.
    told : dict
        The answer in plain facts.
    """

    said: str
    told: Plain


def plain(
    design: Design,
    *,
    n: int | None = None,
    effect: float | None = None,
    power: float | None = None,
    spread_from: str = "",
) -> Plain:
    """Give all that a size is asked, in facts that JSON holds; the parameters are those of `solve`.

    Parameters
    ----------
    design : Design
    n, effect, power : optional
        One of the three is left out.
    spread_from : str, optional
        Where the spread is from: the identifier of a version, or why it is assumed.

    Examples
    --------
    >>> from registry.design import TwoGroups
    >>> kept = plain(TwoGroups(sd=2.0), effect=2, power=0.8)
    >>> kept["design"], kept["values"]["sd"], sized(kept).n
    ('TwoGroups', 2.0, 17)
    """
    values = {one.name: getattr(design, one.name) for one in fields(design)}
    return {
        "design": type(design).__name__,
        "values": {
            name: value.name if isinstance(value, Enum) else value for name, value in values.items()
        },
        "n": n,
        "effect": effect,
        "power": power,
        "spread_from": spread_from,
    }


def sized(kept: Mapping[str, Any]) -> Sized:
    """Make a kept size again.

    Raises
    ------
    Unsound
        Where there is no such design, or a number is out of range.
    """
    kind = getattr(registry.design, str(kept["design"]), None)
    if not (isinstance(kind, type) and issubclass(kind, Design)) or kind is Design:
        bounds.refuse(
            "design",
            "There is no such design.",
            f"“{str(kept['design'])[:60]}” is none that is kept.",
            "Work it out again.",
        )
    usual = {one.name: one.default for one in fields(kind)}
    values: Plain = {}
    for name, value in kept["values"].items():
        first = usual.get(name)
        if isinstance(first, Enum):
            values[name] = type(first)[value]
        else:
            values[name] = tuple(value) if isinstance(value, list) else value
    return solve(kind(**values), n=kept["n"], effect=kept["effect"], power=kept["power"])


def simulated(kept: Mapping[str, Any]) -> Simulated:
    """Make a kept simulation again; the same seed gives the same answer.

    Parameters
    ----------
    kept : mapping
        The parameters of `Study`, `analysis`, `runs`, `seed` and `alpha`; names of members in any
        case.
    """
    names = ("means", "units", "per_unit", "sd", "icc", "sd_units", "sd_blocks")
    study = Study(
        outcome=Outcome[kept["outcome"].upper()],
        **{name: kept[name] for name in names if name in kept},
    )
    analysis = Analysis[kept["analysis"].upper()]
    return simulate(study, analysis, runs=kept["runs"], seed=kept["seed"], alpha=kept["alpha"])


def reckoned(part: str, given: Mapping[str, Any]) -> Kept:
    """Reckon one part of a design from what was given, and say it.

    Parameters
    ----------
    part : str
        A value of `Reckoned`.
    given : mapping
        What `sized`, `simulated`, `allocate` and `scheduled` take.

    Raises
    ------
    Unsound
        As these.
    """
    return _HOW[Reckoned(part)](given)


def _size(given: Mapping[str, Any]) -> Kept:
    found = sized(given)
    return Kept(
        found.said,
        {
            "asked": found.asked,
            "n": found.n,
            "total": found.total,
            "effect": found.effect,
            "power": found.power,
            "counted": found.design.counted,
            "test": found.design.test,
            "source": found.design.source,
            "assumptions": list(found.design.assumed()),
            "cautions": [one.said for one in found.cautions],
        },
    )


def _rate(rate: Rate) -> Plain:
    return {"share": rate.share, "error": rate.error, "runs": rate.runs, "said": rate.said}


def _simulation(given: Mapping[str, Any]) -> Kept:
    found = simulated(given)
    said = (
        f"By {found.analysis.value}: power {found.power.said}; without any effect "
        f"{found.type_one.said} reject."
    )
    return Kept(
        said,
        {
            "analysis": found.analysis.value,
            "power": _rate(found.power),
            "type_one": _rate(found.type_one),
            "seed": found.seed,
            "stream": found.stream,
            "cautions": [one.said for one in found.cautions],
        },
    )


def _allocation(given: Mapping[str, Any]) -> Kept:
    # Drawn once with a seed that anyone knows, to see that it can be drawn; who gets what is
    # drawn from a secret seed when the plan is accepted.
    found: Allocation = allocate(given, Stream(bytes(32)))
    units = [one.unit for one in found.places]
    counts = ", ".join(f"{name} {count}" for name, count in found.counts.items())
    said = f"{len(units)} units by {found.method}: {counts}."
    if given["method"] in {"crossover", "phases"}:
        said = f"{len(units)} units by {found.method}, each through {', '.join(given['arms'])}."
    notes = list(found.notes)
    if given["method"] in COUNTED and (reached := draw_reach(found)) is not None:
        notes.append(f"By the draw alone: {reached.said}")
    told = {"method": found.method, "units": units, "notes": notes}
    return Kept(said, told)


def _schedule(given: Mapping[str, Any]) -> Kept:
    found = scheduled(given)
    days = len({one.day for one in found.sessions})
    sessions = [
        [one.day.isoformat(), f"{one.slot.start:%H:%M}", one.slot.crowding, list(one.order)]
        for one in found.sessions
    ]
    said = (
        f"{len(sessions)} sessions of {given['length_min']} minutes on {days} days, "
        f"{len(found.sessions[0].order)} of {len(found.animals)} animals watched in each."
    )
    told = {
        "sessions": sessions,
        "balance": [one.said for one in judged(found)],
        "left_out": [one.said for one in found.left_out],
        "commitment": found.commitment,
    }
    return Kept(said, told)


_HOW: dict[Reckoned, Callable[[Mapping[str, Any]], Kept]] = {
    Reckoned.SIZE: _size,
    Reckoned.SIMULATION: _simulation,
    Reckoned.ALLOCATION: _allocation,
    Reckoned.SCHEDULE: _schedule,
}
