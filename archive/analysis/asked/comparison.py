"""Arms compared by an outcome: the unit that was treated counts once."""

from typing import Any

import numpy as np

from archive.analysis.asked.found import Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.asked.sides import Sides, allocation_from, arms_table, reference_of
from archive.analysis.asked.weighing import weighed
from archive.analysis.comparing.proposing import Outcome
from archive.analysis.comparing.shares import empirical_logits
from archive.analysis.comparing.units import Units, unit_means
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.design import bounds

type Told = dict[str, Any] | None


def comparison(frame: Frame, request: Request, drawn: Told = None) -> Found:
    """Compare arms by a number, or by a count out of a total.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots outcome, of, unit, treatment; options reference and test.
    drawn : dict, optional
        The allocation as the register told it, once revealed.
    """
    values = frame.numbers(request.column("outcome"))
    gaps: list[Gap] = []
    if request.column("of"):
        of = frame.numbers(request.column("of"))
        return shares(frame, request, values, of, drawn, request.column("outcome"), gaps)
    return compared(frame, request, values, drawn, request.column("outcome"), gaps)


def arms_of(frame: Frame, request: Request, units: list[str], drawn: Told) -> list[str]:
    """Give the arm of each row: as the table says, or as the register's draw has it."""
    if request.column("treatment"):
        return frame.named(request.column("treatment"))
    if not drawn:
        bounds.refuse(
            "treatment",
            "No arms can be compared.",
            "The table names no treatment, and the register holds no draw that was revealed.",
            "Name the column of the treatment, or have the key revealed.",
        )
    of_unit = {unit: arm for unit, arm, *_ in drawn["places"]}
    return [of_unit.get(one, "") for one in units]


def compared(
    frame: Frame, request: Request, values: Numbers, drawn: Told, said: str, gaps: list[Gap]
) -> Found:
    """Compare arms by means of units, whichever outcome the rows hold."""
    units = frame.named(request.column("unit"))
    arms = arms_of(frame, request, units, drawn)
    keep = [bool(unit and arm) for unit, arm in zip(units, arms, strict=True)]
    if not all(keep):
        gaps.append(Gap(f"{keep.count(False)} rows are left out.", "They name no unit, or no arm."))
    units, arms = (
        [one for one, k in zip(names, keep, strict=True) if k] for names in (units, arms)
    )
    kept = values[np.array(keep, dtype=bool)]
    if not units:
        bounds.refuse(
            "unit", "Nothing can be compared.", "No row names a unit and an arm.", "Look."
        )
    of_unit: dict[str, set[str]] = {}
    for unit, arm in zip(units, arms, strict=True):
        of_unit.setdefault(unit, set()).add(arm)
    is_within = any(len(one) > 1 for one in of_unit.values())
    found = _within(units, arms, kept, gaps) if is_within else unit_means(kept, units, arms)
    return closed(found, request, drawn, said, gaps, is_within=is_within)


def _within(units: list[str], arms: list[str], values: Numbers, gaps: list[Gap]) -> Units:
    """Give one value for each unit in each arm, of the units that went through all arms."""
    each = unit_means(values, [f"{u}\t{a}" for u, a in zip(units, arms, strict=True)], arms)
    all_arms = set(each.arms)
    seen: dict[str, set[str]] = {}
    for name, arm in zip(each.names, each.arms, strict=True):
        seen.setdefault(name.split("\t")[0], set()).add(arm)
    lacks = [unit for unit, own in seen.items() if own != all_arms]
    if lacks:
        gaps.append(Gap(f"{few_named(lacks)} are left out.", "They lack a value in some arm."))
    keep = [name.split("\t")[0] not in lacks for name in each.names]
    if not any(keep):
        bounds.refuse("unit", "Nothing can be compared.", "No unit has a value in every arm.",
                      "Compare separate units, or fewer arms.")  # fmt: skip
    return Units(
        tuple(n.split("\t")[0] for n, k in zip(each.names, keep, strict=True) if k),
        each.values[np.array(keep)],
        tuple(a for a, k in zip(each.arms, keep, strict=True) if k),
        tuple(a for a, k in zip(each.animals, keep, strict=True) if k),
        each.gaps,
    )


def closed(
    units: Units,
    request: Request,
    drawn: Told,
    said: str,
    gaps: list[Gap],
    *,
    is_within: bool = False,
    outcome: Outcome = Outcome.NUMBER,
    counts: tuple[Numbers, Numbers] | None = None,
) -> Found:
    """Test what units say, and lay their tables."""
    gaps += units.gaps
    allocation = allocation_from(drawn)
    if allocation is not None and not {one.unit for one in allocation.places} & {*units.names}:
        gaps.append(Gap("The recorded draw is not used.", "It names none of these units."))
        allocation = None
    if allocation is not None and not is_within:
        of_unit = {one.unit: one.arm for one in allocation.places}
        if set(units.arms) <= set(of_unit.values()):
            units = _as_allocated(units, of_unit, gaps)
        else:
            gaps.append(
                Gap("The recorded draw is not used.", "The table calls the arms by other names.")
            )
            allocation = None
    sides = Sides(
        outcome,
        said,
        units.names,
        units.arms,
        units.values,
        reference_of(units.arms, str(request.options.get("reference") or ""), gaps),
        counts,
        is_within,
        allocation,
        request.seed,
        (drawn or {}).get("given"),
    )
    found = weighed(sides, asked=str(request.options.get("test") or ""))
    rows = tuple(zip(units.names, units.arms, units.values.tolist(), units.animals, strict=True))
    tables = (
        arms_table(sides),
        Table("units", f"{said} of each unit", ("unit", "arm", "mean", "rows"), rows),
    )
    return Found(
        tuple(one.said for one in found.tests if one.place == "chosen"),
        tables,
        found.tests,
        found.choice,
        (*gaps, *found.gaps),
    )


def _as_allocated(units: Units, drawn: dict[str, str], gaps: list[Gap]) -> Units:
    """Put each unit into the arm to which it was allocated, and tell where the table differs."""
    arms = tuple(drawn.get(n, arm) for n, arm in zip(units.names, units.arms, strict=True))
    moved = [n for n, was, now in zip(units.names, units.arms, arms, strict=True) if was != now]
    if moved:
        gaps.append(
            Gap(
                f"{few_named(moved)} count in the arm to which they were allocated.",
                "The table has them in another; units are analysed as randomised.",
            )
        )
    return Units(units.names, units.values, arms, units.animals, ())


def shares(
    frame: Frame,
    request: Request,
    seen: Numbers,
    of: Numbers,
    drawn: Told,
    said: str,
    gaps: list[Gap],
) -> Found:
    """Compare arms by shares counted in units, on the scale of log odds."""
    units = frame.named(request.column("unit"))
    arms = arms_of(frame, request, units, drawn)
    good = np.isfinite(seen) & np.isfinite(of) & (of > 0) & (seen >= 0) & (seen <= of)
    good &= np.array([bool(u and a) for u, a in zip(units, arms, strict=True)], dtype=bool)
    leave_out(good, "They lack a unit, an arm or a count, or the count is above its total.", gaps)
    names = [one for one, is_good in zip(units, good, strict=True) if is_good]
    kept = [one for one, is_good in zip(arms, good, strict=True) if is_good]
    whole = unit_means(of[good], names, kept)
    rows = np.array(whole.animals)
    total = whole.values * rows
    counted = unit_means(seen[good], names, kept).values * rows
    logits = Units(whole.names, empirical_logits(counted, total), whole.arms, whole.animals, ())
    found = closed(
        logits, request, drawn, f"log odds of {said}", gaps,
        outcome=Outcome.SHARE, counts=(counted, total),
    )  # fmt: skip
    rows_told = tuple(
        (name, arm, int(x), int(n), x / n)
        for name, arm, x, n in zip(
            whole.names, whole.arms, counted.tolist(), total.tolist(), strict=True
        )
    )
    counts = Table(
        "counts", f"{said} of each unit", ("unit", "arm", "counted", "of", "share"), rows_told
    )
    return Found(found.said, (counts, *found.tables), found.tests, found.choice, found.gaps)
