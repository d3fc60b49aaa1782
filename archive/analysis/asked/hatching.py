"""Hatching asked of a table of strings, clutches or tanks."""

import numpy as np

from archive.analysis.asked.comparison import Told, arms_of, shares
from archive.analysis.asked.found import Cell, Found, Table
from archive.analysis.asked.frame import Frame
from archive.analysis.asked.kinds import Request
from archive.analysis.gaps import Gap
from archive.analysis.trials.hatching import hatching_success
from registry.animals.hatching import Share
from registry.errors import Unsound


def hatching(frame: Frame, request: Request, drawn: Told = None) -> Found:
    """Give hatching success by arm, on fertile and, where it is known, on laid eggs.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots fertile, hatched, laid, unit, treatment; options reference and test.
    drawn : dict, optional
        The allocation as the register told it, once revealed.
    """
    gaps: list[Gap] = []
    fertile, hatched = (frame.numbers(request.column(one)) for one in ("fertile", "hatched"))
    laid = frame.numbers(request.column("laid")) if request.column("laid") else fertile
    if not request.column("laid"):
        gaps.append(Gap("Success on laid eggs is not known.", "No column says how many were laid."))
    units = frame.named(request.column("unit"))
    arms = np.array(arms_of(frame, request, units, drawn))
    known = np.isfinite(fertile) & np.isfinite(hatched) & np.isfinite(laid) & (arms != "")
    rows: list[tuple[Cell, ...]] = []
    for arm in sorted({str(one) for one in arms[known]}):
        here = known & (arms == arm)
        names, place = np.unique(np.array(units)[here], return_inverse=True)
        counts = [
            np.bincount(place, one[here], minlength=len(names)).astype(int).tolist()
            for one in (laid, fertile, hatched)
        ]
        try:
            found = hatching_success(*counts)
        except Unsound as refused:
            gaps.append(Gap(f"{arm}: {refused.what}", refused.why))
            continue
        tanks = found.tanks_of_fertile
        on_laid = _three(found.of_laid) if request.column("laid") else (None, None, None)
        rows.append(
            (
                arm,
                tanks.n,
                found.fertile,
                found.hatched,
                *_three(found.of_fertile),
                tanks.mean,
                tanks.low,
                tanks.high,
                *on_laid,
            )
        )
        gaps += found.gaps
    heads = (
        "arm",
        "units",
        "fertile",
        "hatched",
        "share of fertile",
        "from",
        "to",
        "mean over units",
        "from, over units",
        "to, over units",
        "share of laid",
        "from, of laid",
        "to, of laid",
    )
    table = Table("hatching", "Hatching success by arm", heads, tuple(rows))
    try:
        found_too = shares(frame, request, hatched, fertile, drawn, "hatching", gaps)
    except Unsound as refused:
        return Found(_said(rows), (table,), gaps=(*gaps, Gap(refused.what, refused.why)))
    return Found(
        (*_said(rows), *found_too.said),
        (table, *found_too.tables),
        found_too.tests,
        found_too.choice,
        found_too.gaps,
    )


def _three(share: Share | None) -> tuple[Cell, Cell, Cell]:
    return (share.value, share.low, share.high) if share else (None, None, None)


def _said(rows: list[tuple[Cell, ...]]) -> tuple[str, ...]:
    return tuple(
        f"{arm}: {hatched} of {fertile} fertile eggs hatched, {100 * float(share or 0):.0f} per "
        f"cent, in {units} units."
        for arm, units, fertile, hatched, share, *_ in rows
    )
