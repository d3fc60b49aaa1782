"""Where in the files of a deposit the findings lie."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from registry.drawings.ink import box, breadth, diamond, dot, fitted, n, sheet, stroke, text

WIDTH = 1168
SMALL_WIDTH = 358
NAMES = 130
BAND = 18
APART = 23.0
BROAD = 4
"""A stretch of more than this part of a file is drawn lighter."""

MOST_MARKS = 40
SMALL_MOST_MARKS = 14


class Weight(StrEnum):
    """What a finding asks: to be mended, to be explained, or only to be read."""

    MUST = "must"
    EXPL = "expl"
    READ = "read"


@dataclass(frozen=True, slots=True)
class Place:
    """One stretch of rows of one finding; both ends are included and counted from 1."""

    number: int
    weight: Weight
    first_row: int
    last_row: int


@dataclass(frozen=True, slots=True)
class CheckedFile:
    """One file: its name, its rows, and where its findings lie."""

    name: str
    rows: int
    places: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True)
class Places:
    """The drawing at two widths; `unmarked` counts stretches drawn without their number."""

    large: str
    small: str
    label: str
    unmarked: int


def places(files: Sequence[CheckedFile]) -> Places:
    """Draw each file as a band, first row left, with a numbered mark for each finding.

    Parameters
    ----------
    files : sequence of CheckedFile

    Returns
    -------
    Places
        Marks keep apart from each other; where there are too many, the stretch alone is drawn.
    """
    label = "Where in the files the findings lie; each is described below"
    return Places(
        _sheet(files, label, is_small=False),
        _sheet(files, label, is_small=True),
        label,
        sum(max(0, len(file.places) - MOST_MARKS) for file in files),
    )


def _sheet(files: Sequence[CheckedFile], label: str, *, is_small: bool) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    left = 0.5 if is_small else NAMES
    strokes: list[str] = []
    y = 0.0
    for file in files:
        if is_small:
            said = f"{file.name}, {file.rows} rows"
            strokes.append(text(0, y + 16, fitted(said, width), "tb"))
            y += 20
        else:
            strokes.append(text(0, y + 38, fitted(file.name, NAMES - 12), "tb"))
            strokes.append(text(0, y + 54, f"{file.rows} rows", "tq"))
        strokes += _band(
            file, left, width - 1, y + 24, SMALL_MOST_MARKS if is_small else MOST_MARKS
        )
        y += 72
    return sheet(width, max(y, 1), strokes, "small" if is_small else "large", label)


def _band(file: CheckedFile, left: float, right: float, y: float, most: int) -> list[str]:
    rows = max(file.rows, 1)

    def x(row: float) -> float:
        return left + (right - left) * min(max(row / rows, 0.0), 1.0)

    strokes = [box(left, y, right - left, BAND, "p1")]
    step = _step(rows, right - left)
    for row in [1, *range(step, rows + 1, step)]:
        if row != 1 and row == step == 1:
            continue
        spot = x(row - 0.5)
        said = str(row)
        strokes.append(stroke(f"M{n(spot)} {n(y + BAND)}v5", "kr"))
        if row == 1:
            strokes.append(text(left, y + BAND + 19, said, "tq"))
        elif spot + breadth(said) / 2 <= right:
            strokes.append(text(spot, y + BAND + 19, said, "tq m"))
    # What lies in much of the file is the ground on which the rest stands out, so it comes first.
    for place in sorted(file.places, key=lambda place: place.first_row - place.last_row):
        start, end = x(place.first_row - 1), x(place.last_row)
        wide = max(end - start, 3.0)
        paint = "p3" if end - start > (right - left) / BROAD else "p5"
        strokes.append(box(min(start, right - wide), y, wide, BAND, paint))
    marked = sorted(file.places, key=lambda place: place.first_row + place.last_row)[:most]
    middles = [x((place.first_row - 1 + place.last_row) / 2) for place in marked]
    for place, middle, spot in zip(marked, middles, _apart(middles, left, right), strict=True):
        strokes.append(stroke(f"M{n(middle)} {n(y)}L{n(spot)} {n(y - 4)}", "k1"))
        if place.weight is Weight.EXPL:
            strokes.append(diamond(spot, y - 12, 11, "ho"))
        else:
            strokes.append(dot(spot, y - 12, 8.5, "dn" if place.weight is Weight.MUST else "ho"))
        paint = "inv m" if place.weight is Weight.MUST else "tb m"
        strokes.append(text(spot, y - 7.5, str(place.number), paint))
    return strokes


def _step(rows: int, width: float) -> int:
    """Choose a round number of rows for the ticks, at least 60 px apart."""
    least = rows * 60 / width
    power = 1
    while True:
        for factor in (1, 2, 5):
            if factor * power >= least:
                return factor * power
        power *= 10


def _apart(middles: Sequence[float], left: float, right: float) -> list[float]:
    """Push marks apart to the right, then back inside the right edge."""
    spots: list[float] = []
    for middle in middles:
        spots.append(max(middle, spots[-1] + APART if spots else left + 11))
    limit = right - 11
    for i in range(len(spots) - 1, -1, -1):
        spots[i] = min(spots[i], limit)
        limit = spots[i] - APART
    return spots
