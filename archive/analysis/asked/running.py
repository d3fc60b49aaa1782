"""One analysis as it was asked, from the typed copies of its tables to its numbers."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from archive.analysis.asked.agreement import observers
from archive.analysis.asked.along import covariate
from archive.analysis.asked.bouts import bouts, interval
from archive.analysis.asked.budget import budget, intervals
from archive.analysis.asked.comparison import comparison
from archive.analysis.asked.feeding import conversion, shape
from archive.analysis.asked.found import Found
from archive.analysis.asked.frame import Frame
from archive.analysis.asked.growth import growth
from archive.analysis.asked.hatching import hatching
from archive.analysis.asked.kinds import Request
from archive.analysis.asked.measured import measured
from archive.analysis.asked.response import response
from archive.analysis.asked.reversal import reversal
from archive.analysis.asked.sequence import sequence
from archive.analysis.asked.space import space
from archive.analysis.asked.survival import waiting
from archive.analysis.asked.together import cohorts
from archive.analysis.asked.warmth import rates, warmth
from archive.analysis.behaviour.recorded import Recorded
from archive.analysis.told import digest, plain

_DRAWN = {
    "comparison": comparison,
    "reversal": reversal,
    "growth": growth,
    "condition": shape,
    "feeding": conversion,
    "hatching": hatching,
    "survival": waiting,
}
"""Analyses that follow the recorded draw."""
_TOLD = {
    "one_zero": intervals,
    "bouts": bouts,
    "sequence": sequence,
    "along": covariate,
    "interval": interval,
}
"""Analyses that follow the rules of recording and the ethogram."""
_ALONE = {
    "space": space,
    "measured": measured,
    "warmth": warmth,
    "rates": rates,
    "response": response,
}
"""Analyses of the table alone."""


def run(request: Request, tables: Mapping[str, Path], facts: Mapping[str, Any]) -> Found:
    """Run an analysis.

    Parameters
    ----------
    request : Request
    tables : mapping of str to Path
        Cohort to the typed copy of its table; the first is the one that was asked about.
    facts : mapping
        What the register adds: `drawn`, the revealed allocation; `recorded`, sampling and
        recording rule of the plan; `ethogram`, the codes of the behaviour's column; `acts`, each
        with its kind and its exclusive set.

    Raises
    ------
    Unsound
        Where nothing at all can be computed.
    """
    first = Frame(next(iter(tables.values())))
    if request.kind == "cohorts":
        return cohorts({name: Frame(path) for name, path in tables.items()}, request)
    if request.kind == "budget":
        rules = facts.get("recorded") or []
        return budget(first, request, Recorded(*rules) if any(rules) else None)
    if request.kind == "agreement":
        return observers(first, request, tuple(facts.get("ethogram") or ()))
    if request.kind in _TOLD:
        return _TOLD[request.kind](first, request, facts)
    if request.kind in _ALONE:
        return _ALONE[request.kind](first, request)
    return _DRAWN[request.kind](first, request, facts.get("drawn"))


def told(found: Found) -> dict[str, Any]:
    """Give what was found as JSON holds it, with the digest of its numbers."""
    shape: Any = plain(found)
    return {"found": shape, "digest": digest(found.numbers)}
