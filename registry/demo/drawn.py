"""Drawn pictures of invented animals, in place of photographs: a ray from above with its marks."""

import io
from collections.abc import Callable
from functools import partial
from random import Random

from PIL import Image, ImageDraw, ImageFilter

WIDTH, HEIGHT = 1200, 900
_WATER, _DISC, _BAND, _PALE, _DARK = "#4d6a6b", "#a58c62", "#6b5636", "#e4dcc0", "#2d2a22"
_OUTLINE = (
    (600, 90), (700, 190), (860, 300), (1010, 420), (1030, 480), (930, 560), (760, 680),
    (640, 720), (600, 730), (560, 720), (440, 680), (270, 560), (170, 480), (190, 420),
    (340, 300), (500, 190),
)  # fmt: skip

type Pen = ImageDraw.ImageDraw
type Sign = Callable[[Pen], None]


def _nick(pen: Pen) -> None:
    pen.polygon([(850, 640), (905, 560), (925, 640)], fill=_WATER)


def _crescent(pen: Pen, *, x: int) -> None:
    pen.ellipse((x, 330, x + 90, 420), fill=_PALE)
    pen.ellipse((x + 20, 318, x + 105, 410), fill=_DISC)


def _gap(pen: Pen) -> None:
    pen.rectangle((360, 372, 425, 420), fill=_DISC)


def _scars(pen: Pen) -> None:
    for at in (0, 36):
        pen.line([(625 + at, 650), (655 + at, 700)], fill=_PALE, width=9)


def _notch(pen: Pen) -> None:
    pen.polygon([(182, 440), (230, 455), (176, 492)], fill=_WATER)


SIGNS: dict[str, Sign] = {
    "nick": _nick,
    "crescent-right": partial(_crescent, x=720),
    "crescent-left": partial(_crescent, x=390),
    "gap": _gap,
    "scars": _scars,
    "notch": _notch,
}


def ray(signs: list[str], seed: int) -> bytes:
    """Draw a ray from above, with the signs by their names, as a PNG.

    Parameters
    ----------
    signs : list of str
        Keys of `SIGNS`.
    seed : int
        From which its spots are drawn.
    """
    lot = Random(seed)
    drawn = Image.new("RGB", (WIDTH, HEIGHT), _WATER)
    pen = ImageDraw.Draw(drawn)
    pen.polygon([(592, 720), (608, 720), (604, 890), (596, 890)], fill=_DISC)
    pen.polygon(_OUTLINE, fill=_DISC)
    for row in range(5):
        y = 330 + 70 * row
        for side in (-1, 1):
            points = [
                (600 + side * (70 + 55 * step), y + lot.randint(-9, 9) + 5 * step)
                for step in range(6 - row)
            ]
            pen.line(points, fill=_BAND, width=20, joint="curve")
    for _ in range(90):
        at = (lot.gauss(600, 150), lot.gauss(450, 100))
        pen.ellipse((*at, at[0] + 7, at[1] + 7), fill=_PALE)
    for x in (560, 640):
        pen.ellipse((x - 11, 238, x + 11, 260), fill=_DARK)
    for sign in signs:
        SIGNS[sign](pen)
    made = io.BytesIO()
    drawn.filter(ImageFilter.GaussianBlur(1.2)).save(made, "PNG")
    return made.getvalue()
