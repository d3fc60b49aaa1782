"""Groups on one axis: hollow marks for units, a diamond for the mean, a bar for its interval."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.drawings.axis import NumberAxis
from registry.drawings.ink import breadth, diamond, dot, fitted, n, sheet, stroke, text
from registry.drawings.lanes import ruled, whisker
from registry.drawings.two_widths import SMALL_WIDTH, WIDTH, Drawn

LANE = 48
TOP = 10


@dataclass(frozen=True, slots=True)
class Group:
    """One group: its units, the mean of them and the interval of the mean, in one unit.

    `mean` and `interval` are None where they could not be estimated.
    """

    name: str
    units: tuple[float, ...]
    mean: float | None = None
    interval: tuple[float, float] | None = None


def intervals(groups: Sequence[Group], quantity: str) -> Drawn:
    """Draw groups above one another on a common axis.

    Parameters
    ----------
    groups : sequence of Group
        From top to bottom.
    quantity : str
        What the axis shows, with its unit ("days from laying to hatch").

    Returns
    -------
    Drawn
        The table with the same figures is the page's to write.
    """
    values = [value for group in groups for value in group.units]
    values += [group.mean for group in groups if group.mean is not None]
    values += [end for group in groups for end in group.interval or ()]
    names = ", ".join(group.name for group in groups)
    label = f"{quantity} by group: {names}; the table below gives the figures"
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    return Drawn(
        _drawn(groups, quantity, (low, high), label, is_small=False),
        _drawn(groups, quantity, (low, high), label, is_small=True),
        label,
    )


def _drawn(
    groups: Sequence[Group],
    quantity: str,
    ends: tuple[float, float],
    label: str,
    *,
    is_small: bool,
) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    widest = max((breadth(group.name) for group in groups), default=0) + 16
    left = min(widest, width * 0.3)
    axis = NumberAxis.over(*ends, left, width - 16, 4 if is_small else 7)
    foot = TOP + LANE * len(groups) + 4
    strokes = ruled(axis, TOP, foot)
    for i, group in enumerate(groups):
        y = TOP + LANE * i + 22
        strokes.append(stroke(f"M{n(left)} {y}H{n(width - 16)}", "kh"))
        strokes.append(text(0, y + 5, fitted(group.name, left - 8), "tb"))
        strokes += [dot(axis.at(v), y - 11, 3 if is_small else 4, "ho") for v in group.units]
        if group.interval is not None:
            strokes += whisker(axis, group.interval, y + 8, 5, "kl")
        if group.mean is not None:
            strokes.append(diamond(axis.at(group.mean), y + 8, 7, "dn"))
    strokes.append(stroke(f"M{n(left)} {foot}H{n(width - 16)}", "k1"))
    strokes.append(text(width, foot + 36, fitted(quantity, width), "e"))
    return sheet(width, foot + 42, strokes, "small plot" if is_small else "large plot", label)
