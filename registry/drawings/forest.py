"""What each cohort found, one below the other, and what they say together."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.drawings.axis import NumberAxis
from registry.drawings.ink import box, breadth, diamond, fitted, n, sheet, stroke, text
from registry.drawings.lanes import ruled, whisker
from registry.drawings.two_widths import SMALL_WIDTH, WIDTH, Drawn

LANE = 34
TOP = 8


@dataclass(frozen=True, slots=True)
class Found:
    """One cohort: its effect with an interval, and its weight, 0 to 1; None of the pooled one."""

    name: str
    effect: float
    interval: tuple[float, float] | None
    weight: float | None = None


def forest(drawn: Sequence[Found], quantity: str) -> Drawn:
    """Draw effects over a rule at no effect; the pooled one is a diamond.

    Parameters
    ----------
    drawn : sequence of Found
        From top to bottom.
    quantity : str
        What the axis shows, with its unit.

    Returns
    -------
    Drawn
        The table with the same figures is the page's to write.
    """
    names = ", ".join(one.name for one in drawn)
    label = f"{quantity}: {names}; the table below gives the figures"
    large, small = (_sheet(drawn, quantity, label, is_small=one) for one in (False, True))
    return Drawn(large, small, label)


def _sheet(drawn: Sequence[Found], quantity: str, label: str, *, is_small: bool) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    left = min(max((breadth(one.name) for one in drawn), default=0) + 14, width * 0.34)
    values = [0.0, *(one.effect for one in drawn)]
    values += [end for one in drawn for end in one.interval or ()]
    axis = NumberAxis.over(min(values), max(values), left + 8, width - 16, 4 if is_small else 8)
    foot = TOP + LANE * len(drawn) + 4
    strokes = ruled(axis, TOP, foot)
    strokes.append(stroke(f"M{n(axis.at(0.0))} {TOP}V{foot}", "k15"))
    for place, one in enumerate(drawn):
        y = TOP + LANE * place + 17
        strokes.append(text(0, y + 5, fitted(one.name, left - 4), "tb"))
        if one.interval is not None:
            strokes += whisker(axis, one.interval, y, 4)
        x = axis.at(one.effect)
        if one.weight is None:
            strokes.append(diamond(x, y, 9, "dn"))
        else:
            half = 4 + 7 * one.weight**0.5
            strokes.append(box(x - half, y - half, 2 * half, 2 * half, "dn0"))
    strokes.append(stroke(f"M{n(left)} {foot}H{n(width - 16)}", "k1"))
    strokes.append(text(width, foot + 36, fitted(quantity, width), "e"))
    return sheet(width, foot + 42, strokes, "small plot" if is_small else "large plot", label)
