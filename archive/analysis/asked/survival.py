"""Times to an event asked of a table: curves by arm, and tanks compared."""

import numpy as np

from archive.analysis.asked.comparison import Told, arms_of, closed
from archive.analysis.asked.found import Cell, Comparison, Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.comparing.proposing import Outcome
from archive.analysis.comparing.units import unit_means
from archive.analysis.gaps import Gap
from archive.analysis.trials.waiting import log_rank, log_rank_scores, survival
from registry.design import bounds
from registry.errors import Unsound


def waiting(frame: Frame, request: Request, drawn: Told = None) -> Found:
    """Draw the curve of each arm, and compare the log-rank scores of units.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots time, happened, unit, treatment; options reference and test.
    drawn : dict, optional
        The allocation as the register told it, once revealed.
    """
    gaps: list[Gap] = []
    time = frame.numbers(request.column("time"))
    happened = frame.flags(request.column("happened"), time)
    units = frame.named(request.column("unit"))
    arms = np.array(arms_of(frame, request, units, drawn))
    keep = np.isfinite(time) & (time >= 0) & (arms != "") & np.array([bool(u) for u in units])
    leave_out(keep, "They have no time of 0 or above, no unit or no arm.", gaps)
    if not keep.any():
        bounds.refuse("time", "No curve can be drawn.", "No row has a time.", "Look again.")
    if not request.column("happened"):
        gaps.append(
            Gap(
                "It is taken that it happened in every row that has a time.",
                "No column says in which row it was still to come.",
            )
        )
    t, d, arm = time[keep], happened[keep], arms[keep].tolist()
    unit = [one for one, is_kept in zip(units, keep, strict=True) if is_kept]
    curves, medians, said = _curves(t, d, np.array(arm))
    try:
        scores = unit_means(log_rank_scores(t, d), unit, arm)
        found = closed(scores, request, drawn, "log-rank score", gaps, outcome=Outcome.TIME)
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
        return Found(said, (curves, medians), gaps=tuple(gaps))
    single = _single(t, d, arm) if len(set(unit)) == len(unit) else ()
    return Found(
        (*said, *found.said),
        (medians, curves, *found.tables),
        (*found.tests, *single),
        found.choice,
        found.gaps,
    )


def _curves(
    t: np.ndarray[tuple[int], np.dtype[np.float64]],
    d: np.ndarray[tuple[int], np.dtype[np.bool_]],
    arms: np.ndarray[tuple[int], np.dtype[np.str_]],
) -> tuple[Table, Table, tuple[str, ...]]:
    rows: list[tuple[Cell, ...]] = []
    medians: list[tuple[Cell, ...]] = []
    said = []
    for arm in sorted({str(one) for one in arms}):
        found = survival(t[arms == arm], d[arms == arm])
        each = zip(
            found.times, found.at_risk, found.events, found.share, found.low, found.high,
            strict=True,
        )  # fmt: skip
        rows += [(arm, *one) for one in each]
        medians.append((arm, found.n, found.happened, found.median))
        half = "to fewer than half" if found.median is None else f"to half by {found.median:g}"
        said.append(f"{arm}: it happened to {found.happened} of {found.n}, {half}.")
    heads = ("arm", "time", "at risk", "events", "share left", "from", "to")
    return (
        Table("curves", "Share to whom it has not happened yet", heads, tuple(rows)),
        Table("medians", "Middle times by arm", ("arm", "n", "happened", "median"), tuple(medians)),
        tuple(said),
    )


def _single(
    t: np.ndarray[tuple[int], np.dtype[np.float64]],
    d: np.ndarray[tuple[int], np.dtype[np.bool_]],
    arms: list[str],
) -> tuple[Comparison, ...]:
    """Give the log-rank test itself where each animal is a unit."""
    if len(set(arms)) < 2:
        return ()
    found = log_rank(t, d, arms)
    return (
        Comparison(
            "log_rank",
            "log-rank test, each animal a unit",
            "beside",
            "all arms",
            None,
            None,
            None,
            "events",
            (("χ²", found.chi2), ("df", float(found.df))),
            found.p,
        ),
    )
