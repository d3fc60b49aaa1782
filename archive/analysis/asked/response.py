"""Response to a dose or a temperature asked of a table: the share that responds, by unit."""

import numpy as np

from archive.analysis.asked.found import Cell, Comparison, Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.columns import rows_of
from archive.analysis.gaps import Gap
from archive.analysis.trials.hatching import exact_share
from archive.analysis.trials.response import DoseResponse, dose_response
from registry.design import bounds


def response(frame: Frame, request: Request) -> Found:
    """Give the dose or temperature at which half respond; units may differ more than counts do.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots dose, responded, of, unit. Option scale: "logarithm" of a dose, else "plain", as of a
        temperature.
    """
    gaps: list[Gap] = []
    dose, seen, of = (frame.numbers(request.column(one)) for one in ("dose", "responded", "of"))
    unit = frame.named(request.column("unit"))
    logged = request.options.get("scale") == "logarithm"
    good = np.isfinite(dose) & np.isfinite(seen) & (of > 0) & (seen >= 0) & (seen <= of)
    good &= np.array([bool(one) for one in unit], dtype=bool)
    leave_out(good, "They lack a unit, a dose or a count, or the count is above its total.", gaps)
    rows = []
    keys = list(zip(unit, dose.tolist(), strict=True))
    for every in rows_of(keys).values():
        own = every[good[every]]
        if len(own):
            rows.append((keys[own[0]], float(seen[own].sum()), float(of[own].sum())))
    controls = [one for one in rows if logged and one[0][1] <= 0]
    if controls:
        x, n = (sum(one[at] for one in controls) for at in (1, 2))
        gaps.append(
            Gap(
                f"{len(controls)} units without a dose are set apart.",
                f"They have no logarithm; {x:g} of {n:g} in them responded.",
            )
        )
    fitted = [one for one in rows if one not in controls]
    if not fitted:
        bounds.refuse("dose", "No response curve can be fitted.", "No unit has a dose and counts.",
                      "Name the columns that hold them.")  # fmt: skip
    given, x, n = (np.array(one) for one in zip(*((r[0][1], r[1], r[2]) for r in fitted),
                                                strict=True))  # fmt: skip
    found = dose_response(given, x, n, logged=logged)
    by_unit = tuple((key[0], key[1], int(x), int(n), x / n) for key, x, n in rows)
    heads = ("unit", "dose", "responded", "of", "share")
    return Found(
        _said(found, request.column("dose")),
        (
            Table("doses", "Share that responded at each dose", _HEADS, _by_dose(rows)),
            Table("counts", "Share that responded in each unit", heads, by_unit),
            _fit(found),
        ),
        tuple(_tests(found, request, logged=logged)),
        gaps=tuple(gaps),
    )  # fmt: skip


def _fit(found: DoseResponse) -> Table:
    heads = ("curve", "deviance", "df", "spread between units over that of counts")
    row = ("logistic", found.deviance, found.df, found.inflation)
    return Table("fit", "How well the curve fits", heads, (row,))


_HEADS = ("dose", "units", "responded", "of", "share", "from", "to")


def _by_dose(rows: list[tuple[tuple[str, float], float, float]]) -> tuple[tuple[Cell, ...], ...]:
    """Add up the units of each dose; the interval is of counts alone, to be read and not tested."""
    laid: list[tuple[Cell, ...]] = []
    for dose in sorted({key[1] for key, _, _ in rows}):
        own = [(x, n) for key, x, n in rows if key[1] == dose]
        x, n = (int(sum(one[at] for one in own)) for at in (0, 1))
        ends = exact_share(x, n)
        laid.append((f"{dose:g}", len(own), x, n, x / n, ends.low, ends.high))
    return tuple(laid)


def _tests(found: DoseResponse, request: Request, *, logged: bool) -> list[Comparison]:
    name = request.column("dose")
    figures = (("deviance", found.deviance), ("df", float(found.df)))
    made = []
    for test, title, one, scale in (
        ("half_dose", "dose or temperature at which half respond, Fieller’s interval",
         found.half, name),
        ("dose_slope", "slope of the logistic curve by t over units", found.slope,
         f"log odds for each unit of {'ln ' if logged else ''}{name}"),
    ):  # fmt: skip
        low, high = (None if end is None or not np.isfinite(end) else end
                     for end in (one.low, one.high))  # fmt: skip
        made.append(
            Comparison(test, title, "chosen" if test == "half_dose" else "beside",
                       f"{request.column('responded')} by {name}", one.value, low, high, scale,
                       figures, None)
        )  # fmt: skip
    return made


def _said(found: DoseResponse, name: str) -> tuple[str, ...]:
    low, high = found.half.low, found.half.high
    known = low is not None and high is not None and np.isfinite(low) and np.isfinite(high)
    ends = f" ({low:.4g} to {high:.4g})" if known else ", with no interval: the slope may be 0"
    return (f"Half respond at a {name} of {found.half.value:.4g}{ends}.",)
