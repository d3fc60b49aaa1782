"""A drawing at two widths: a desk's and a phone's."""

from dataclasses import dataclass

WIDTH = 844
SMALL_WIDTH = 358


@dataclass(frozen=True, slots=True)
class Drawn:
    """The drawing at two widths, and what it shows in words."""

    large: str
    small: str
    label: str
