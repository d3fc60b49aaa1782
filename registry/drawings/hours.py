"""Days below one another, hours across: each cell in the step of its share."""

from collections.abc import Mapping, Sequence

from registry.drawings.ink import box, n, sheet, stroke, text
from registry.drawings.steps import KEY, key, step_of
from registry.drawings.two_widths import SMALL_WIDTH, WIDTH, Drawn

ROW = 16
TOP = 4
MOST_ROWS = 120
ENDS = (0.2, 0.4, 0.6, 0.8)
SAID = ("< 20 %", "< 40 %", "< 60 %", "< 80 %", "≥ 80 %")


def hours(days: Sequence[str], cells: Mapping[tuple[str, int], float], quantity: str) -> Drawn:
    """Draw the share of each hour of each day.

    Parameters
    ----------
    days : sequence of str
        As ISO dates, from top to bottom; the first 120 are drawn.
    cells : mapping of (str, int) to float
        Day and hour, 0 to 23, to the share, 0 to 1; an hour without one stays empty.
    quantity : str
        What the steps show.

    Returns
    -------
    Drawn
        The table with the same figures is the page's to write.
    """
    shown = list(days)[:MOST_ROWS]
    label = f"{quantity} by day and hour, {len(shown)} days; the table below gives the figures"
    large, small = (_sheet(shown, cells, quantity, label, is_small=one) for one in (False, True))
    return Drawn(large, small, label)


def _sheet(
    days: Sequence[str],
    cells: Mapping[tuple[str, int], float],
    quantity: str,
    label: str,
    *,
    is_small: bool,
) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    left = 46 if is_small else 88
    wide = (width - left - 4) / 24
    foot = TOP + ROW * len(days)
    strokes: list[str] = []
    for row, day in enumerate(days):
        y = TOP + ROW * row
        if row % 7 == 0 or len(days) < 15:
            strokes.append(text(0, y + 12, day[5:] if is_small else day, "tq"))
        for hour in range(24):
            share = cells.get((day, hour))
            if share is not None:
                paint = step_of(share, ENDS)
                strokes.append(box(left + wide * hour, y + 1, wide - 1, ROW - 2, paint))
    for hour in range(0, 25, 6):
        x = left + wide * hour
        strokes.append(stroke(f"M{n(x)} {TOP}V{foot + 5}", "kr"))
        strokes.append(text(x, foot + 20, f"{hour:02}", "m tq" if hour < 24 else "e tq"))
    strokes += key(quantity, SAID, width, foot + 32)
    return sheet(width, foot + 32 + KEY, strokes, "small plot" if is_small else "large plot", label)
