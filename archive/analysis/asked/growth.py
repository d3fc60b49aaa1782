"""Growth asked of a table of weighings: a rate for each unit, and the course of each arm."""

import numpy as np

from archive.analysis.asked.comparison import Told, arms_of, closed
from archive.analysis.asked.found import Cell, Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.gaps import Gap
from archive.analysis.means import mean_of
from archive.analysis.trials.growth import tank_growth


def growth(frame: Frame, request: Request, drawn: Told = None) -> Found:
    """Compare arms by the specific growth rate of units.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots mass, time, unit, treatment; options reference and test.
    drawn : dict, optional
        The allocation as the register told it, once revealed.
    """
    mass = frame.numbers(request.column("mass"))
    day = np.floor(frame.moments_d(request.column("time")))
    units = frame.named(request.column("unit"))
    arms = arms_of(frame, request, units, drawn)
    keep = np.array([bool(u and a) for u, a in zip(units, arms, strict=True)], dtype=bool)
    gaps: list[Gap] = []
    leave_out(keep, "They name no unit, or no arm.", gaps)
    units = [one for one, k in zip(units, keep, strict=True) if k]
    arms = [one for one, k in zip(arms, keep, strict=True) if k]
    mass, day = mass[keep], day[keep]
    rates, told = tank_growth(mass, day, units, arms)
    found = closed(rates, request, drawn, "growth rate in per cent a day", [*gaps, *told])
    course = _course(mass, day, units, arms)
    return Found(found.said, (*found.tables, course), found.tests, found.choice, found.gaps)


def _course(
    mass: np.ndarray[tuple[int], np.dtype[np.float64]],
    day: np.ndarray[tuple[int], np.dtype[np.float64]],
    units: list[str],
    arms: list[str],
) -> Table:
    """Give the mean over units of each arm on each day of weighing."""
    names, of_arm = np.array(units), np.array(arms)
    there = np.isfinite(mass) & np.isfinite(day)
    first = float(day[there].min()) if there.any() else 0.0
    rows: list[tuple[Cell, ...]] = []
    for arm in sorted(set(arms)):
        for one in np.unique(day[there & (of_arm == arm)]):
            here = there & (of_arm == arm) & (day == one)
            each = [float(mass[here & (names == unit)].mean()) for unit in np.unique(names[here])]
            mean = mean_of(each, least=0.0)
            rows.append((arm, float(one - first), mean.n, mean.mean, mean.low, mean.high))
    heads = ("arm", "day", "units", "mean mass", "from", "to")
    return Table("course", "Mean mass over units, by day since the first weighing", heads,
                 tuple(rows))  # fmt: skip
