"""Curves of a share, from 0 to 1, against a count: power by replication."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.drawings.axis import NumberAxis, written
from registry.drawings.ink import breadth, dot, fitted, n, sheet, stroke, text
from registry.drawings.two_widths import SMALL_WIDTH, WIDTH, Drawn

DEPTH = 262
SMALL_DEPTH = 188
TOP = 24


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve: its name and its points (count, share), by count."""

    name: str
    points: tuple[tuple[float, float], ...]


def curves(
    drawn: Sequence[Curve],
    across: str,
    up: str,
    *,
    wanted: float | None = None,
    marked: float | None = None,
    marked_said: str = "",
) -> Drawn:
    """Draw shares against a count.

    Parameters
    ----------
    drawn : sequence of Curve
        Each is named at its right end; shares lie from 0 to 1.
    across, up : str
        What the two axes show ("tanks per flow", "power").
    wanted : float, optional
        A share drawn as a rule across (0.8).
    marked : float, optional
        A count up to which the ground is tinted: what the collection can offer.
    marked_said : str
        What that tint means.

    Returns
    -------
    Drawn
        The table with the same figures is the page's to write.
    """
    names = ", ".join(curve.name for curve in drawn)
    label = f"{up} against {across}: {names}; the table below gives the figures"
    args = (drawn, across, up, wanted, marked, marked_said, label)
    return Drawn(_sheet(*args, is_small=False), _sheet(*args, is_small=True), label)


def _sheet(
    drawn: Sequence[Curve],
    across: str,
    up: str,
    wanted: float | None,
    marked: float | None,
    marked_said: str,
    label: str,
    *,
    is_small: bool,
) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    foot = TOP + (SMALL_DEPTH if is_small else DEPTH)
    counts = [count for curve in drawn for count, _ in curve.points] or [0.0, 1.0]
    names = max((breadth(curve.name) for curve in drawn), default=0.0)
    right = width - min(names + 20, width * 0.34)
    wide = NumberAxis.over(min(counts), max(counts), 30, right, 4 if is_small else 8)
    tall = NumberAxis(0.0, 1.0, 0.2, foot, TOP)
    strokes: list[str] = []
    if marked is not None and marked > wide.low:
        x = wide.at(marked)
        strokes.append(
            f'<rect class="tintbox" x="30" y="{TOP}" width="{n(x - 30)}" height="{foot - TOP}"/>'
        )
        start = max(34.0, breadth(up) + 20)
        strokes.append(text(start, TOP - 12, fitted(marked_said, width - start), "tq"))
    for tick in tall.ticks():
        y = tall.at(tick)
        strokes.append(stroke(f"M30 {n(y)}H{n(right)}", "kh"))
        strokes.append(text(24, y + 4, f"{tick:.1f}", "e tq"))
    for tick in wide.ticks():
        x = wide.at(tick)
        strokes.append(stroke(f"M{n(x)} {foot}v5", "kr"))
        strokes.append(text(x, foot + 20, written(tick), "m tq"))
    if wanted is not None:
        strokes.append(stroke(f"M30 {n(tall.at(wanted))}H{n(right)}", "k1"))
    strokes += _curves(drawn, wide, tall, width)
    strokes.append(stroke(f"M30 {foot}H{n(right)}", "k1"))
    strokes.append(text(0, TOP - 12, up, "tx"))
    strokes.append(text(right, foot + 40, fitted(across, right), "e"))
    return sheet(width, foot + 46, strokes, "small plot" if is_small else "large plot", label)


def _curves(drawn: Sequence[Curve], wide: NumberAxis, tall: NumberAxis, width: float) -> list[str]:
    strokes: list[str] = []
    ends: list[tuple[float, float, str]] = []
    for curve in drawn:
        spots = [(wide.at(count), tall.at(share)) for count, share in curve.points]
        if not spots:
            continue
        strokes.append(stroke("M" + "L".join(f"{n(x)} {n(y)}" for x, y in spots), "k2"))
        strokes += [dot(x, y, 3, "ho") for x, y in spots]
        ends.append((spots[-1][1], spots[-1][0], curve.name))
    clear = 0.0
    for y, x, name in sorted(ends):
        clear = max(y + 4, clear + 15)
        strokes.append(text(x + 8, clear, fitted(name, width - x - 8), "tb"))
    return strokes
