"""Warmth asked of a table: degree-days of units, and rates against temperature."""

import numpy as np

from archive.analysis.asked.found import Cell, Comparison, Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.columns import rows_of
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from archive.analysis.trials.warmth import degree_days, fitted_q10
from registry.design import bounds


def warmth(frame: Frame, request: Request) -> Found:
    """Add up the degree-days of each unit, by a single sine between the extremes of each day.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots lowest, highest, time, unit; without highest the extremes are those of the readings
        of a day. Option base: the temperature below which nothing develops, in °C, 0 if left out.
    """
    gaps: list[Gap] = []
    base = float(request.options.get("base") or 0.0)
    low = frame.numbers(request.column("lowest"))
    high = frame.numbers(request.column("highest")) if request.column("highest") else low
    day = np.floor(frame.moments_d(request.column("time")))
    unit = frame.named(request.column("unit")) if request.column("unit") else ["all"] * len(low)
    good = np.isfinite(low) & np.isfinite(high) & np.isfinite(day) & (low <= high)
    good &= np.array([bool(one) for one in unit], dtype=bool)
    leave_out(
        good,
        "They lack a unit, a day or a temperature, or a lowest one is above its highest.",
        gaps,
    )
    if not good.any():
        bounds.refuse("lowest", "Degree-days cannot be counted.", "No row has a temperature.",
                      "Name the column of temperatures.")  # fmt: skip
    if not request.options.get("base"):
        gaps.append(Gap("The base is taken as 0 °C.", "None was said."))
    rows: list[tuple[Cell, ...]] = []
    course: list[tuple[Cell, ...]] = []
    lacks: list[str] = []
    names = np.array(unit)
    for name in rows_of(names[good].tolist()):
        own = good & (names == name)
        days, least, most = _extremes(day[own], low[own], high[own])
        warm = degree_days(least, most, base)
        span = int(days[-1] - days[0]) + 1
        if span > len(days):
            lacks.append(f"{name} ({span - len(days)})")
        ends = float(least.min()), float(most.max())
        sums = float(warm.sum()), float(warm.mean())
        rows.append((str(name), len(days), span - len(days), *sums, *ends))
        course += [(str(name), int(at - days[0]), total) for at, total in
                   zip(days, np.cumsum(warm).tolist(), strict=True)]  # fmt: skip
    if lacks:
        gaps.append(
            Gap(
                f"Days are missing: {few_named(lacks)}.",
                "Nothing is added for them, so that these sums are too low.",
            )
        )
    totals = [float(row[3]) for row in rows if isinstance(row[3], float)]
    said = (
        f"{len(rows)} units had {min(totals):.4g} to {max(totals):.4g} °C days above {base:g} °C.",
    )
    heads = (
        "unit", "days", "days missing", "°C days", "a day", "lowest, °C", "highest, °C",
    )  # fmt: skip
    return Found(
        said,
        (
            Table("warmth", f"Degree-days above {base:g} °C", heads, tuple(rows)),
            Table("warming", "°C days added up by day", ("unit", "day", "°C days"), tuple(course)),
        ),
        gaps=tuple(gaps),
    )


def _extremes(day: Numbers, low: Numbers, high: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    days, where = np.unique(day, return_inverse=True)
    least, most = np.full(len(days), np.inf), np.full(len(days), -np.inf)
    np.fmin.at(least, where, low)
    np.fmax.at(most, where, high)
    return days, least, most


def rates(frame: Frame, request: Request) -> Found:
    """Give by how much a rate grows over ten degrees, each unit once.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots rate, temperature, unit; family, groups with a level of their own and one slope. Units
        at several temperatures have each a level of their own.
    """
    gaps: list[Gap] = []
    rate, warm = (frame.numbers(request.column(one)) for one in ("rate", "temperature"))
    unit = frame.named(request.column("unit"))
    family = frame.named(request.column("family")) if request.column("family") else [""] * len(rate)
    has = np.array([bool(one) for one in unit], dtype=bool)
    if request.column("family"):
        has &= np.array([bool(one) for one in family], dtype=bool)
    good = np.isfinite(rate) & (rate > 0) & np.isfinite(warm) & has
    leave_out(good, "They lack a unit, a temperature or a rate above 0.", gaps)
    keys = [(u, f, t) for u, f, t in zip(unit, family, warm.tolist(), strict=True)]
    rows = [
        (key[0], float(key[2]), key[1], float(rate[own[good[own]]].mean()), int(good[own].sum()))
        for key, own in rows_of(keys).items()
        if isinstance(key, tuple) and good[own].any()
    ]
    values, at = (np.array([row[place] for row in rows]) for place in (3, 1))
    groups = np.array([row[2] for row in rows]) if request.column("family") else None
    if len({row[0] for row in rows}) < len(rows):
        groups = np.array([row[0] for row in rows])
        gaps.append(
            Gap(
                "Each unit keeps a level of its own.",
                "Units were measured at several temperatures; the slope is that within units.",
            )
        )
    found = fitted_q10(values, at, groups)
    test = Comparison(
        "q10", "Q10, by the line through logarithms of rates", "chosen",
        f"{request.column('rate')} by {request.column('temperature')}",
        found.value, found.low, found.high, "times over ten degrees",
        (("units", float(len(rows))),), None,
    )  # fmt: skip
    ends = "" if found.low is None or found.high is None else (
        f" ({found.low:.3g} to {found.high:.3g})"
    )  # fmt: skip
    shown = tuple((f"{name} at {at:g} °C", at, *rest) for name, at, *rest in rows)
    heads = ("unit and temperature", "temperature, °C", "family", "rate", "rows")
    return Found(
        (f"The rate grows {found.value:.3g} times over ten degrees{ends}.",),
        (Table("rates", "Rate of each unit at its temperature", heads, shown),),
        (test,),
        gaps=tuple(gaps),
    )
