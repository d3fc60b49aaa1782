"""Small bars in the line of a table: how a column is spread."""

from collections.abc import Collection, Sequence

from registry.drawings.ink import box, n, sheet, stroke

WIDTH = 104
HEIGHT = 52
WIDEST = 14.0


def bars(
    counts: Sequence[float],
    label: str,
    *,
    marked: Collection[int] = (),
    width: int = WIDTH,
    height: int = HEIGHT,
) -> str:
    """Draw counts as bars, tallest to the full height.

    Parameters
    ----------
    counts : sequence of float
        Not below 0; an empty or all-zero sequence draws the ground alone.
    label : str
        Said to a screen reader ("45 to 64 days").
    marked : collection of int
        Positions of bars that hold a finding; they are drawn full.
    width, height : int
        In pixels: 104 by 52 for a dictionary, 112 by 30 inside a table.

    Returns
    -------
    str
        One SVG.
    """
    most = max(counts, default=0)
    step = min(WIDEST + 1, width / max(len(counts), 1))
    gap = 1.0 if step > 4 else 0.25
    strokes: list[str] = []
    for i, count in enumerate(counts):
        tall = (height - 4) * count / most if most > 0 else 0.0
        if count > 0:
            tall = max(tall, 0.75)
            paint = "p5" if i in marked else "p3"
            strokes.append(box(i * step + gap / 2, height - 1 - tall, step - gap, tall, paint))
    strokes.append(stroke(f"M0 {n(height - 0.5)}H{width}", "k1"))
    return sheet(width, height, strokes, "spark", label)
