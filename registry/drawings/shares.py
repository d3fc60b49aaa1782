"""Bars with their intervals and, where there is one, what was expected or planned."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.drawings.axis import NumberAxis
from registry.drawings.ink import box, breadth, fitted, n, sheet, stroke, text, told_apart
from registry.drawings.lanes import ruled, whisker
from registry.drawings.two_widths import SMALL_WIDTH, WIDTH, Drawn

LANE = 34
TOP = 8


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its value, its interval, and a mark that it is held against."""

    name: str
    value: float
    interval: tuple[float, float] | None = None
    mark: float | None = None


def shares(drawn: Sequence[Bar], quantity: str, *, most: float | None = None) -> Drawn:
    """Draw bars from 0, below one another.

    Parameters
    ----------
    drawn : sequence of Bar
        From top to bottom; values of 0 or above.
    quantity : str
        What the axis shows, with its unit.
    most : float, optional
        Where the axis ends at the least; 1 of shares.

    Returns
    -------
    Drawn
        The table with the same figures is the page's to write.
    """
    names = ", ".join(one.name for one in drawn)
    label = f"{quantity}: {names}; the table below gives the figures"
    ends = [one.value for one in drawn] + [end for one in drawn for end in one.interval or ()]
    ends += [one.mark for one in drawn if one.mark is not None]
    high = max([*ends, most or 0.0], default=1.0) or 1.0
    large, small = (_sheet(drawn, quantity, high, label, is_small=one) for one in (False, True))
    return Drawn(large, small, label)


def _sheet(drawn: Sequence[Bar], quantity: str, high: float, label: str, *, is_small: bool) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    left = min(max((breadth(one.name) for one in drawn), default=0) + 14, width * 0.34)
    axis = NumberAxis.over(0.0, high, left, width - 16, 4 if is_small else 8)
    foot = TOP + LANE * len(drawn) + 4
    strokes = ruled(axis, TOP, foot)
    for place, one in enumerate(drawn):
        y = TOP + LANE * place + 17
        strokes.append(text(0, y + 5, told_apart(one.name, left - 8), "tb"))
        strokes.append(box(left, y - 9, axis.at(one.value) - left, 18, "p2"))
        if one.mark is not None:
            strokes.append(stroke(f"M{n(axis.at(one.mark))} {y - 14}v28", "kd"))
        if one.interval is not None:
            strokes += whisker(axis, one.interval, y, 5)
    strokes.append(stroke(f"M{n(left)} {TOP}V{foot}", "k1"))
    strokes.append(text(width, foot + 36, fitted(quantity, width), "e"))
    return sheet(width, foot + 42, strokes, "small plot" if is_small else "large plot", label)
