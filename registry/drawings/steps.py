"""Five steps of darkness, and the key that says what each stands for.

In the dark scheme the steps run the other way, so that no drawing may say “the darker, the more”.
"""

from collections.abc import Sequence

from registry.drawings.ink import box, fitted, text

PAINTS = ("p1", "p2", "p3", "p4", "p5")
INVERTED = frozenset({"p4", "p5"})
"""Steps on which the paper's colour is read, not that of ink."""
KEY = 54
"""Height of the key in pixels."""


def step_of(value: float, ends: Sequence[float]) -> str:
    """Give the paint of a value: how many of the four ends it reaches.

    Examples
    --------
    >>> step_of(0.5, (0.5, 1.0, 1.5, 2.0))
    'p2'
    """
    return PAINTS[sum(value >= end for end in ends)]


def key(quantity: str, said: Sequence[str], width: float, top: float) -> list[str]:
    """Draw what each step stands for, below its heading."""
    wide = min(84.0, width / len(PAINTS))
    strokes = [text(0, top + 12, fitted(quantity, width), "tx")]
    for place, (paint, words) in enumerate(zip(PAINTS, said, strict=True)):
        strokes.append(box(place * wide, top + 20, 16, 14, paint))
        strokes.append(text(place * wide + 20, top + 32, words, "tq"))
    return strokes
