"""Analyse as randomised: the test that follows from the allocation that was recorded."""

from collections.abc import Mapping
from dataclasses import replace
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.columns import Flags
from archive.analysis.comparing.arms import AmongArms, among_arms, among_drawn
from archive.analysis.comparing.drawing import Accepted, Arms
from archive.analysis.comparing.randomised import Randomised, Side, randomisation
from archive.analysis.comparing.redrawn import ANEW, Redrawn, redrawn
from archive.analysis.gaps import Gap, few_named
from registry.design import bounds
from registry.design.allocation.base import Allocation, Place

FREE = {"complete randomisation"}
BLOCKED = {"randomised blocks", "stratified randomisation", "permuted blocks"}


def as_randomised(
    allocation: Allocation,
    outcomes: Mapping[str, float],
    *,
    treatment: str,
    accepted: ArrayLike | None = None,
    given: Mapping[str, Any] | None = None,
    side: Side = Side.BOTH,
    confidence: float = 0.95,
    seed: int = 1,
) -> tuple[Randomised, tuple[Gap, ...]]:
    """Test two treatments by the very draw that the register recorded.

    Parameters
    ----------
    allocation : Allocation
        Units as they were allocated; each is analysed in its own arm, whatever it then got.
    outcomes : mapping of str to float
        Unit to outcome: of a tank its mean. Units without one are left out and said.
    treatment : str
        The arm whose effect is asked for.
    accepted : array_like of bool, shape (arrangements, units), optional
        Of a rerandomisation: all that would have been accepted.
    given : mapping, optional
        Of a minimisation: what it was drawn from; see `redrawn`.
    side, confidence, seed
        As in `randomisation`.

    Raises
    ------
    Unsound
        Where the allocation is of a kind whose arrangements cannot be gone through.

    Examples
    --------
    >>> from registry.design import Stream, complete
    >>> units = ["T1", "T2", "T3", "T4", "T5", "T6"]
    >>> tanks = complete(units, ["still", "brisk"], Stream(bytes(32)))
    >>> grown = {one.unit: 5.0 + (one.arm == "brisk") for one in tanks.places}
    >>> found, gaps = as_randomised(tanks, grown, treatment="brisk")
    >>> round(found.effect, 6), found.p, gaps
    (1.0, 0.1, ())
    """
    gaps: list[Gap] = []
    places = _with_outcome(allocation, outcomes, gaps)
    if len(allocation.counts) != 2 or treatment not in allocation.counts:
        bounds.refuse(
            "treatment",
            "This test compares two arms.",
            f"The allocation has {few_named(list(allocation.counts))}.",
            "Compare several arms with `among_arms_as_randomised`.",
        )
    values = [outcomes[one.unit] for one in places]
    treated = np.array([one.arm == treatment for one in places])
    if allocation.method == "rerandomisation":
        if accepted is None or len(places) < len(allocation.places):
            bounds.refuse(
                "accepted",
                "A rerandomised allocation is set against the accepted ones alone.",
                "They were not given, or a unit has no outcome.",
                "Give the covariates that it was balanced for, and every outcome.",
            )
        drawn = Accepted(treated, accepted)
        return randomisation(drawn, values, side=side, confidence=confidence, seed=seed), tuple(
            gaps
        )
    if allocation.method in ANEW:
        anew = redrawn(allocation, given, seed=seed)
        treated, rows = _of_those_there(allocation, places, anew, treatment)
        found = randomisation(
            Accepted(treated, rows), values, side=side, confidence=confidence, seed=seed
        )
        return _as_drawn(found, anew), tuple(gaps)
    block = _blocks(allocation, places)
    if block is not None:
        keep = _with_both(block, treated, gaps)
        values = [one for one, is_kept in zip(values, keep, strict=True) if is_kept]
        block = [one for one, is_kept in zip(block, keep, strict=True) if is_kept]
        treated = treated[keep]
    found = randomisation(Arms(treated, block), values, side=side, confidence=confidence, seed=seed)
    return found, tuple(gaps)


def among_arms_as_randomised(
    allocation: Allocation,
    outcomes: Mapping[str, float],
    *,
    given: Mapping[str, Any] | None = None,
    seed: int = 1,
) -> tuple[AmongArms, tuple[Gap, ...]]:
    """Test whether several treatments differ at all, by the draw that the register recorded.

    Parameters
    ----------
    allocation, outcomes, given, seed
        As in `as_randomised`.
    """
    gaps: list[Gap] = []
    places = _with_outcome(allocation, outcomes, gaps)
    values = [outcomes[one.unit] for one in places]
    if allocation.method in ANEW:
        anew = redrawn(allocation, given, seed=seed)
        kept = _kept(allocation, places)
        actual = np.array([anew.arms.index(one.arm) for one in places])
        labels = anew.labels[:, kept]
        return among_drawn(values, actual, labels, anew.arms, is_all=anew.is_all), tuple(gaps)
    block = _blocks(allocation, places)
    return among_arms(values, [one.arm for one in places], block=block, seed=seed), tuple(gaps)


def _kept(allocation: Allocation, places: list[Place]) -> list[int]:
    """Give which units have an outcome; of a square all must, or rows and columns do not cancel."""
    kept = [at for at, one in enumerate(allocation.places) if one in places]
    if allocation.method == "Latin square" and len(kept) < len(allocation.places):
        bounds.refuse(
            "outcomes",
            "A Latin square is set against others whole alone.",
            "A unit of it has no outcome, so that rows and columns no longer cancel.",
            "Take the analysis of variance with rows and columns, and say that it leans on its "
            "assumptions.",
        )
    return kept


def _of_those_there(
    allocation: Allocation, places: list[Place], anew: Redrawn, treatment: str
) -> tuple[Flags, Flags]:
    """Give who was treated, as it was and as it could have been, of those with an outcome."""
    kept = _kept(allocation, places)
    rows = anew.treated(treatment)[:, kept]
    rows = rows[rows.any(axis=1) & ~rows.all(axis=1)]
    return np.array([one.arm == treatment for one in places], dtype=bool), rows


def _as_drawn(found: Randomised, anew: Redrawn) -> Randomised:
    """Say that arrangements were drawn, where they were, and how sure p is."""
    if anew.is_all:
        return found
    drawn = len(anew.labels) - 1
    return replace(found, drawn=drawn, error=sqrt(found.p * (1 - found.p) / drawn))


def _with_outcome(
    allocation: Allocation, outcomes: Mapping[str, float], gaps: list[Gap]
) -> list[Place]:
    units = {one.unit for one in allocation.places}
    strange = [name for name in outcomes if name not in units]
    if strange:
        gaps.append(
            Gap(f"{few_named(strange)} are left out.", "The allocation does not name them.")
        )
    there = [one for one in allocation.places if np.isfinite(outcomes.get(one.unit, np.nan))]
    lost = [one.unit for one in allocation.places if one not in there]
    if lost:
        gaps.append(
            Gap(
                f"{few_named(lost)} are left out.",
                "They have no outcome. If the treatment may be why, the test no longer holds.",
            )
        )
    return there


def _blocks(allocation: Allocation, places: list[Place]) -> list[str] | None:
    """Give the block of each unit, None where there are none, or refuse what has no such parts."""
    if allocation.method in FREE:
        return None
    if allocation.method in BLOCKED:
        return [one.block for one in places]
    return bounds.refuse(
        "allocation",
        f"“{allocation.method}” cannot be gone through in this way.",
        "What else it could have given does not follow from the units and their blocks.",
        "Of a crossover give the orders to `Ordered`.",
    )


def _with_both(
    block: list[str], treated: np.ndarray[tuple[int, ...], np.dtype[np.bool_]], gaps: list[Gap]
) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Say which units are in a block with both arms."""
    arms: dict[str, set[bool]] = {}
    for name, is_treated in zip(block, treated.tolist(), strict=True):
        arms.setdefault(name, set()).add(is_treated)
    alone = [name for name, seen in arms.items() if len(seen) < 2]
    if alone:
        gaps.append(Gap(f"Block {few_named(alone)} is left out.", "One arm alone is left in it."))
    return np.array([name not in alone for name in block], dtype=bool)
