"""Agreement of measurements asked of a table in which observers measured the same things."""

import numpy as np

from archive.analysis.asked.found import Cell, Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.bounded import Bounded
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from archive.analysis.reliability.intraclass import Intraclass, intraclass
from archive.analysis.reliability.several import Scale, krippendorff_alpha
from registry.design import bounds
from registry.errors import Unsound

FORMS = (
    ("ICC(1,1): each thing measured by observers of its own", "one_way"),
    ("ICC(2,1): observers stand for all observers", "random"),
    ("ICC(3,1): these observers alone, their levels may differ", "fixed"),
    ("ICC(1,k): mean of observers, each thing with its own", "one_way_mean"),
    ("ICC(2,k): mean of observers who stand for all", "random_mean"),
    ("ICC(3,k): mean of these observers", "fixed_mean"),
)


def measured(frame: Frame, request: Request) -> Found:
    """Give the intraclass correlation in its six forms, and alpha, which bears gaps.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots moment (what was measured), observer, outcome.
    """
    gaps: list[Gap] = []
    sheet, targets, observers = _sheet(frame, request, gaps)
    tables: list[Table] = []
    said: list[str] = []
    whole = np.isfinite(sheet).all(axis=1)
    if not whole.all():
        lacks = [name for name, is_whole in zip(targets, whole, strict=True) if not is_whole]
        gaps.append(
            Gap(
                f"Left out of the intraclass correlation: {few_named(lacks)}.",
                "Not every observer measured them.",
            )
        )
    try:
        found = intraclass(sheet[whole])
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
    else:
        tables.append(_forms(found))
        said.append(
            f"{found.targets} measured by {found.observers} observers: ICC(2,1) = "
            f"{found.random.value:.2f}{_between(found.random)}."
        )
    try:
        alpha = krippendorff_alpha(sheet.T, Scale.INTERVAL)
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
    else:
        row = ("all observers", alpha.value, alpha.low, alpha.high)
        heads = ("observers", "alpha", "from", "to")
        tables.append(Table("alpha", "Krippendorff’s alpha of numbers", heads, (row,)))
        said.append(f"Krippendorff’s alpha of numbers: {alpha.value:.2f}{_between(alpha)}.")
    if not tables:
        bounds.refuse("outcome", "No agreement can be computed.", gaps[-1].said,
                      "Let two observers measure the same things.")  # fmt: skip
    tables.append(_levels(sheet, observers))
    return Found(tuple(said), tuple(tables), gaps=tuple(gaps))


def _sheet(
    frame: Frame, request: Request, gaps: list[Gap]
) -> tuple[Numbers, tuple[str, ...], tuple[str, ...]]:
    """Lay one row for each thing and one column for each observer; NaN where there is none."""
    moment, observer = (frame.words(request.column(one)) for one in ("moment", "observer"))
    values = frame.numbers(request.column("outcome"))
    keep = moment.known & observer.known & np.isfinite(values)
    leave_out(keep, "What was measured, the observer or the measure is missing.", gaps)
    shape = len(moment.words), len(observer.words)
    sums, counts = np.zeros(shape), np.zeros(shape)
    at = moment.codes[keep], observer.codes[keep]
    np.add.at(sums, at, values[keep])
    np.add.at(counts, at, 1)
    if (counts > 1).any():
        gaps.append(
            Gap(
                f"{int((counts > 1).sum())} measures are means of repeats.",
                "An observer measured the same thing more than once.",
            )
        )
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan), moment.words, observer.words


def _forms(found: Intraclass) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for title, name in FORMS:
        one: Bounded = getattr(found, name)
        rows.append((title, one.value, one.low, one.high))
    return Table("icc", "Intraclass correlation", ("form", "value", "from", "to"), tuple(rows))


def _levels(sheet: Numbers, observers: tuple[str, ...]) -> Table:
    rows = []
    for name, own in zip(observers, sheet.T, strict=True):
        kept = own[np.isfinite(own)]
        rows.append((name, len(kept), float(kept.mean()) if len(kept) else None))
    return Table("observers", "Mean of each observer", ("observer", "measured", "mean"),
                 tuple(rows))  # fmt: skip


def _between(one: Bounded) -> str:
    return "" if one.low is None or one.high is None else f" ({one.low:.2f} to {one.high:.2f})"
