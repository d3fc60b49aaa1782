"""Feed conversion and condition asked of a table: one value for each unit, compared by arm."""

import numpy as np

from archive.analysis.asked.comparison import Told, arms_of, closed
from archive.analysis.asked.found import Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.columns import Flags
from archive.analysis.comparing.units import unit_means
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from archive.analysis.trials.feeding import tank_conversion
from archive.analysis.trials.growth import condition, length_weight
from registry.design import bounds
from registry.errors import Unsound


def conversion(frame: Frame, request: Request, drawn: Told = None) -> Found:
    """Compare arms by the feed conversion ratio of units.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots feed and gain, both in one unit of mass, unit, treatment; options reference and test.
    drawn : dict, optional
        The allocation as the register told it, once revealed.
    """
    feed, gain = (frame.numbers(request.column(one)) for one in ("feed", "gain"))
    gaps: list[Gap] = []
    units, arms, keep = _kept(frame, request, drawn, np.ones(len(feed), dtype=bool), gaps)
    ratios, told = tank_conversion(feed[keep], gain[keep], units, arms)
    return closed(ratios, request, drawn, "feed conversion ratio", [*gaps, *told])


def shape(frame: Frame, request: Request, drawn: Told = None) -> Found:
    """Compare arms by the condition of units, and give how mass goes with length.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots mass in grams, length in centimetres, unit, treatment; options reference and test.
    drawn : dict, optional
        The allocation as the register told it, once revealed.
    """
    mass, length = (frame.numbers(request.column(one)) for one in ("mass", "length"))
    gaps: list[Gap] = []
    good = np.isfinite(mass) & np.isfinite(length) & (mass > 0) & (length > 0)
    units, arms, keep = _kept(frame, request, drawn, good, gaps)
    factors = unit_means(condition(mass[keep], length[keep]), units, arms)
    found = closed(factors, request, drawn, "condition, 100 g/cm³", gaps)
    lines = _lines(mass[keep], length[keep], arms, gaps)
    tables = (*found.tables, lines) if lines.rows else found.tables
    return Found(found.said, tables, found.tests, found.choice, (*dict.fromkeys([*gaps,
                 *found.gaps]),))  # fmt: skip


def _kept(
    frame: Frame, request: Request, drawn: Told, good: Flags, gaps: list[Gap]
) -> tuple[list[str], list[str], Flags]:
    """Give unit and arm of the rows that have both and hold what is measured."""
    units = frame.named(request.column("unit"))
    arms = arms_of(frame, request, units, drawn)
    keep = good & np.array([bool(u and a) for u, a in zip(units, arms, strict=True)], dtype=bool)
    leave_out(keep, "They lack a unit, an arm or a measure above 0.", gaps)
    if not keep.any():
        bounds.refuse(
            "unit", "Nothing can be compared.", "No row names a unit, an arm and its measures.",
            "Name the columns that hold them.",
        )  # fmt: skip
    each = zip(units, arms, keep, strict=True)
    rows = [(unit, arm) for unit, arm, is_kept in each if is_kept]
    return [unit for unit, _ in rows], [arm for _, arm in rows], keep


def _lines(mass: Numbers, length: Numbers, arms: list[str], gaps: list[Gap]) -> Table:
    """Fit W = a L^b over the animals of each arm."""
    names = np.array(arms)
    rows = []
    for arm in sorted(set(arms)):
        try:
            one = length_weight(length[names == arm], mass[names == arm])
        except Unsound as refused:
            gaps.append(Gap(f"{arm}: {refused.what}", refused.why))
            continue
        rows.append((arm, one.n, one.a, one.b.value, one.b.low, one.b.high, one.r2))
    if rows:
        gaps.append(
            Gap(
                "The lines of mass and length describe.",
                "Animals of one tank are not independent, so their intervals may be too narrow.",
            )
        )
    heads = ("arm", "rows", "a, g", "exponent b", "from", "to", "R² of logarithms")
    return Table("lines", "Mass by length: W = a L^b", heads, tuple(rows))
