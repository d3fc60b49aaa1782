"""Courses over time: growth as lines with bars, survival as steps."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.drawings.axis import NumberAxis, written
from registry.drawings.ink import breadth, dot, fitted, n, sheet, stroke, text
from registry.drawings.two_widths import SMALL_WIDTH, WIDTH, Drawn

DEPTH = 280
SMALL_DEPTH = 210
TOP = 28
ROW = 15
"""Pixels from the name of one course to that of the next."""
PIECE = 18
"""Pixels of a course's own stroke before its name."""
PAINTS = ("kl", "kd", "k1", "k2")
"""Strokes that are told apart without colour, course by course."""


@dataclass(frozen=True, slots=True)
class Course:
    """One course: points (when, value, low, high) in order; an end is None where unknown."""

    name: str
    points: tuple[tuple[float, float, float | None, float | None], ...]


def courses(
    drawn: Sequence[Course],
    across: str,
    up: str,
    *,
    are_steps: bool = False,
    ends: tuple[float, float] | None = None,
) -> Drawn:
    """Draw values against time.

    Parameters
    ----------
    drawn : sequence of Course
    across, up : str
        What the axes show, with units.
    are_steps : bool, default False
        Whether a value holds until the next one, as a share to whom nothing has happened does.
    ends : tuple of (float, float), optional
        Ends of the upward axis; those of the values if left out.

    Returns
    -------
    Drawn
        The table with the same figures is the page's to write.
    """
    names = ", ".join(one.name for one in drawn)
    label = f"{up} against {across}: {names}; the table below gives the figures"
    args = (drawn, across, up, are_steps, ends, label)
    return Drawn(_sheet(*args, is_small=False), _sheet(*args, is_small=True), label)


def _sheet(
    drawn: Sequence[Course],
    across: str,
    up: str,
    are_steps: bool,
    ends: tuple[float, float] | None,
    label: str,
    *,
    is_small: bool,
) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    foot = TOP + (SMALL_DEPTH if is_small else DEPTH)
    points = [point for one in drawn for point in one.points] or [(0.0, 0.0, None, None)]
    values = [v for _, *each in points for v in each if v is not None]
    low, high = ends or (min(values), max(values))
    times = [point[0] for point in points]
    right = width - min(
        max((breadth(one.name) for one in drawn), default=0) + PIECE + 18, width * 0.36
    )
    wide = NumberAxis.over(min(times), max(times), 44, right, 4 if is_small else 8)
    tall = NumberAxis.over(low, high, foot, TOP, 5)
    strokes: list[str] = []
    for tick in tall.ticks():
        y = tall.at(tick)
        strokes.append(stroke(f"M44 {n(y)}H{n(right)}", "kh"))
        strokes.append(text(38, y + 4, written(tick), "e tq"))
    for tick in wide.ticks():
        x = wide.at(tick)
        strokes.append(stroke(f"M{n(x)} {foot}v5", "kr"))
        strokes.append(text(x, foot + 20, written(tick), "m tq"))
    ended: list[tuple[float, str, str]] = []
    for place, one in enumerate(drawn):
        if one.points:
            paint = PAINTS[place % len(PAINTS)]
            strokes += _course(one, wide, tall, paint, are_steps)
            ended.append((tall.at(one.points[-1][1]), one.name, paint))
    strokes += _named(sorted(ended), right, width)
    strokes.append(stroke(f"M44 {foot}H{n(right)}", "k1"))
    strokes.append(text(0, TOP - 14, fitted(up, width), "tx"))
    strokes.append(text(right, foot + 40, fitted(across, right), "e"))
    return sheet(width, foot + 46, strokes, "small plot" if is_small else "large plot", label)


def _named(ended: Sequence[tuple[float, str, str]], right: float, width: float) -> list[str]:
    """Name courses beside the sheet, each after a piece of its own stroke, none below its axis."""
    strokes: list[str] = []
    clear, foot = 0.0, max((y for y, _, _ in ended), default=0.0)
    for place, (y, name, paint) in enumerate(ended, 1):
        clear = min(max(y, clear + ROW), foot - ROW * (len(ended) - place))
        strokes.append(stroke(f"M{n(right + 8)} {n(clear)}h{PIECE}", paint))
        x = right + PIECE + 13
        strokes.append(text(x, clear + 4, fitted(name, width - x), "tb"))
    return strokes


def _course(
    one: Course, wide: NumberAxis, tall: NumberAxis, paint: str, are_steps: bool
) -> list[str]:
    spots = [(wide.at(when), tall.at(value)) for when, value, *_ in one.points]
    if are_steps:
        path = f"M{n(spots[0][0])} {n(spots[0][1])}"
        path += "".join(f"H{n(x)}V{n(y)}" for x, y in spots[1:])
        return [stroke(path, paint)]
    strokes = []
    for (x, _), (_when, _value, low, high) in zip(spots, one.points, strict=True):
        if low is not None and high is not None:
            strokes.append(stroke(f"M{n(x)} {n(tall.at(low))}V{n(tall.at(high))}", "kr"))
    strokes.append(stroke("M" + "L".join(f"{n(x)} {n(y)}" for x, y in spots), paint))
    return [*strokes, *(dot(x, y, 3, "ho") for x, y in spots)]
