"""A plan of zones, to scale, each in the step of its use for its size."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.drawings.ink import box, breadth, fitted, sheet, text
from registry.drawings.steps import INVERTED, KEY, key, step_of
from registry.drawings.two_widths import SMALL_WIDTH, WIDTH, Drawn

type Spot = tuple[float, float, float, float]
"""Left, top, width and height."""

TOP = 26
DEEPEST = 420
GAP = 3
STEPS = (0.5, 1.0, 1.5, 2.0)
SAID = ("< ½", "½ – 1", "1 – 1½", "1½ – 2", "≥ 2")


@dataclass(frozen=True, slots=True)
class Zone:
    """A zone: its share of the ground and of the use, 0 to 1, and where it lies, where known."""

    name: str
    ground: float
    use: float
    spot: Spot | None = None


def plan(zones: Sequence[Zone], heading: str, quantity: str) -> Drawn:
    """Draw zones by their size.

    Parameters
    ----------
    zones : sequence of Zone
        Their shares of the ground are above 0. Where every zone has its spot they lie as they do
        in the enclosure; else side by side, which shows sizes and not places.
    heading : str
        What the plan is.
    quantity : str
        What the steps show: use for size, 1 where a zone is used as its size has it.

    Returns
    -------
    Drawn
        The table with the same figures is the page's to write.
    """
    said = ", ".join(f"{one.name} {100 * one.use:.0f} %" for one in zones)
    label = f"{heading}: {said}; the table below gives the figures"
    large, small = (_sheet(zones, heading, quantity, label, is_small=s) for s in (False, True))
    return Drawn(large, small, label)


def _sheet(
    zones: Sequence[Zone], heading: str, quantity: str, label: str, *, is_small: bool
) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    spots = _spots(zones, width, width * (0.9 if is_small else 0.42))
    strokes = [text(0, 14, fitted(heading, width), "tx")]
    for one, (x, y, wide, high) in zip(zones, spots, strict=True):
        paint = step_of(one.use / one.ground, STEPS)
        strokes.append(box(x, TOP + y, wide - GAP, max(high - GAP, 0.5), paint))
        strokes += _named(one, x + 8, TOP + y, wide - GAP - 14, high, paint in INVERTED)
    foot = TOP + max(y + high for _, y, _, high in spots)
    strokes += key(quantity, SAID, width, foot + 14)
    return sheet(width, foot + 14 + KEY, strokes, "small plot" if is_small else "large plot", label)


def _spots(zones: Sequence[Zone], width: float, depth: float) -> list[Spot]:
    """Lay zones out where they lie, or side by side, as wide as the sheet and no deeper than it."""
    placed = [one.spot for one in zones if one.spot is not None]
    if len(placed) < len(zones):
        ordered = sorted(zones, key=lambda one: -one.ground)
        laid = dict(_halved(ordered, (0.0, 0.0, width, depth)))
        return [laid[one.name] for one in zones]
    left, top = (min(spot[side] for spot in placed) for side in (0, 1))
    wide, high = (max(s[at] + s[at + 2] for s in placed) - least
                  for at, least in ((0, left), (1, top)))  # fmt: skip
    scale = min(width / wide, DEEPEST / high)
    return [((x - left) * scale, (y - top) * scale, w * scale, h * scale) for x, y, w, h in placed]


def _halved(zones: Sequence[Zone], room: Spot) -> list[tuple[str, Spot]]:
    """Part a room among zones: two halves of about one size, across its longer side, and again."""
    if len(zones) == 1:
        return [(zones[0].name, room)]
    whole = sum(one.ground for one in zones)
    before = [sum(one.ground for one in zones[:at]) for at in range(1, len(zones))]
    at = 1 + min(range(len(before)), key=lambda place: abs(before[place] - whole / 2))
    x, y, wide, high = room
    share = before[at - 1] / whole
    if wide >= high:
        rooms = ((x, y, wide * share, high), (x + wide * share, y, wide * (1 - share), high))
    else:
        rooms = ((x, y, wide, high * share), (x, y + high * share, wide, high * (1 - share)))
    return [*_halved(zones[:at], rooms[0]), *_halved(zones[at:], rooms[1])]


def _named(one: Zone, x: float, y: float, wide: float, high: float, is_inverted: bool) -> list[str]:
    """Write a zone's name and its use into it, as far as there is room."""
    paints = ("inv", "inv") if is_inverted else ("tb", "tx")
    lines = list(zip((one.name, f"{100 * one.use:.0f} %"), paints, strict=True))
    if wide < breadth("abc") or high < 20:
        return []
    shown = lines if high >= 42 else [(" ".join(said for said, _ in lines), lines[0][1])]
    return [
        text(x, y + 19 + 17 * row, fitted(said, wide), paint)
        for row, (said, paint) in enumerate(shown)
    ]
