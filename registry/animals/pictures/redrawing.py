"""The child that draws a photograph anew: options as JSON come in, one answer goes out.

Started as ``python -m registry.animals.pictures.redrawing`` by `registry.animals.pictures.keeping`;
it limits itself before it reads a byte of the file, and starts no web framework. What comes out is
a picture and nothing else: no place, no name of a telephone, nothing hidden behind the picture.
"""

import sys
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from PIL import Image, ImageOps

from registry.animals.pictures.limits import (
    FORMATS,
    LARGE_PX,
    LEAST_PX,
    MOST_PIXELS,
    SMALL_PX,
    PictureRoom,
)
from registry.errors import TooLarge, Unsound
from registry.guarded.child import answer_once

WHAT = "The photograph was not kept."
_ANOTHER = "Send it as JPEG, PNG or WebP, as telephones and cameras save it."


def main() -> int:
    """Draw one photograph anew in two sizes."""
    Image.init()  # its formats are loaded before the limits hold
    return answer_once(_answer, lambda _options: PictureRoom())


def _answer(options: dict[str, Any]) -> dict[str, Any]:
    sizes = {LARGE_PX: Path(options["large"]), SMALL_PX: Path(options["small"])}
    return dict(redraw(Path(options["path"]), sizes))


def redraw(path: Path, sizes: Mapping[int, Path]) -> dict[str, int]:
    """Draw a photograph anew, upright, in colours, as JPEG.

    Parameters
    ----------
    path : Path
        What was sent.
    sizes : mapping of int to Path
        The longer side in pixels, and where the picture of that size goes; none is enlarged.

    Returns
    -------
    dict
        `width` and `height` of the largest, in pixels.

    Raises
    ------
    Unsound
        When it is no whole picture of a format that is read, or too small to show a mark.
    TooLarge
        When it has more pixels than are read.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(path, formats=FORMATS) as opened:
                _weigh(*opened.size)
                upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (
        OSError,
        ValueError,
        SyntaxError,
        EOFError,
        Warning,
        Image.DecompressionBombError,
    ) as no:
        raise _unread(no) from no
    drawn: dict[str, int] = {}
    for side, out in sorted(sizes.items(), reverse=True):
        upright.thumbnail((side, side), Image.Resampling.LANCZOS)
        # Made from its pixels alone, so that nothing that came with it goes along.
        bare = Image.frombytes("RGB", upright.size, upright.tobytes())
        bare.save(out, "JPEG", quality=82, optimize=True)
        drawn.setdefault("width", bare.width)
        drawn.setdefault("height", bare.height)
    return drawn


def _weigh(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise TooLarge(
            WHAT,
            f"It has {width * height:,} pixels; {MOST_PIXELS:,} are read at most.",
            "Save it smaller and send it again; the mark must fill it, not the tank.",
        )
    if min(width, height) < LEAST_PX:
        raise Unsound(
            WHAT,
            f"It is {width} by {height} pixels: too small to show a mark.",
            "Send the photograph as it was taken.",
        )


def _unread(fault: BaseException) -> Unsound:
    return Unsound(WHAT, "It is no whole picture that can be read.", _ANOTHER)


if __name__ == "__main__":
    sys.exit(main())
