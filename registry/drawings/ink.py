"""The few strokes that every drawing is made of: geometry in attributes, paint in classes."""

from collections.abc import Iterable
from html import escape

GLYPH_PX = 6.7
"""Mean advance of one letter at 13 px in the sans face; measured on English captions."""


def n(value: float) -> str:
    """Write a coordinate with at most one decimal."""
    said = f"{value:.1f}"
    return said.removesuffix(".0") if said != "-0.0" else "0"


def breadth(said: str) -> float:
    """Estimate the width of a caption in pixels at 13 px."""
    return len(said) * GLYPH_PX


def fitted(said: str, width: float) -> str:
    """Shorten a caption to a width in pixels, with an ellipsis where it was cut."""
    if breadth(said) <= width:
        return said
    room = max(1, int(width / GLYPH_PX) - 1)
    return said[:room].rstrip() + "…"


def told_apart(said: str, width: float) -> str:
    """Shorten a name to a width in pixels in its middle: names of a row often differ at their end.

    Examples
    --------
    >>> told_apart("Lumpfish, tank 10", 96)
    'Lump…, tank 10'
    """
    if breadth(said) <= width:
        return said
    room = max(2, int(width / GLYPH_PX) - 1)
    head = max(1, room // 3)
    return f"{said[:head].rstrip()}…{said[-(room - head) :].lstrip()}"


def stroke(d: str, paint: str) -> str:
    """Draw a path."""
    return f'<path class="{paint}" d="{d}"/>'


def text(x: float, y: float, said: str, paint: str) -> str:
    """Set a caption; markup in it is escaped."""
    return f'<text class="{paint}" x="{n(x)}" y="{n(y)}">{escape(said)}</text>'


def box(x: float, y: float, width: float, height: float, paint: str) -> str:
    """Draw a filled box."""
    return (
        f'<rect class="{paint}" x="{n(x)}" y="{n(y)}" '
        f'width="{n(max(width, 0.5))}" height="{n(height)}"/>'
    )


def hatched(x: float, y: float, width: float, height: float, pattern: str) -> str:
    """Draw a box filled with one of the page's hatchings ("hatch" or "hatch-fine")."""
    return (
        f'<rect fill="url(#{pattern})" x="{n(x)}" y="{n(y)}" '
        f'width="{n(max(width, 0.5))}" height="{n(height)}"/>'
    )


def dot(x: float, y: float, radius: float, paint: str) -> str:
    """Draw a round mark."""
    return f'<circle class="{paint}" cx="{n(x)}" cy="{n(y)}" r="{n(radius)}"/>'


def diamond(x: float, y: float, radius: float, paint: str) -> str:
    """Draw the mark of a breach."""
    r = n(radius)
    return stroke(f"M{n(x)} {n(y - radius)}l{r} {r}l-{r} {r}l-{r} -{r}z", paint)


def sheet(
    width: float, height: float, strokes: Iterable[str], paint: str = "", label: str = ""
) -> str:
    """Close the strokes into one SVG, named when there is a label and hidden when there is none."""
    kind = f' class="{paint}"' if paint else ""
    named = f'role="img" aria-label="{escape(label)}"' if label else 'aria-hidden="true"'
    return f'<svg{kind} viewBox="0 0 {n(width)} {n(height)}" {named}>{"".join(strokes)}</svg>'
