"""What drawings of one lane below another share: the rules of their axis, and an interval."""

from registry.drawings.axis import NumberAxis, written
from registry.drawings.ink import n, stroke, text


def ruled(axis: NumberAxis, top: int, foot: int) -> list[str]:
    """Draw an upright rule at each tick of an axis, with its number below the foot."""
    strokes: list[str] = []
    for tick in axis.ticks():
        x = axis.at(tick)
        strokes.append(stroke(f"M{n(x)} {top}V{foot}", "kh"))
        strokes.append(text(x, foot + 18, written(tick), "m tq"))
    return strokes


def whisker(
    axis: NumberAxis, ends: tuple[float, float], y: int, half: int, paint: str = "k2"
) -> list[str]:
    """Draw an interval at a height, with an upright of twice `half` pixels at each end."""
    low, high = (axis.at(end) for end in ends)
    upright = f"{y - half}v{2 * half}"
    return [
        stroke(f"M{n(low)} {y}H{n(high)}", paint),
        stroke(f"M{n(low)} {upright}M{n(high)} {upright}", "k2"),
    ]
