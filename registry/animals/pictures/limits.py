"""How large a photograph may come, how large it is kept, and what the child that reads it may use.

The house's own choices, no source: a telephone of today sends 3 to 12 MB and 12 to 50 megapixels.
"""

from dataclasses import dataclass

MOST_BYTES = 25_000_000
MOST_PIXELS = 60_000_000
LEAST_PX = 64
"""Less in height or width shows no mark."""
LARGE_PX, SMALL_PX = 1600, 480
"""The longer side of the picture that is opened, and of the one in lists."""
FORMATS = ("JPEG", "PNG", "WEBP")


@dataclass(frozen=True)
class PictureRoom:
    """What the child may use: one picture at its largest takes some 400 MB while it is drawn."""

    memory_bytes: int = 1536 * 1024**2
    cpu_s: int = 30
    wall_s: int = 60
