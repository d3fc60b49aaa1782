"""The plan of an enclosure as it is typed: zones with their sizes, and where they lie."""

import re
from dataclasses import dataclass

type Place = tuple[float, float, float, float]
"""Left, top, width and depth, in one unit of length."""

LARGEST = 1e12
_NUMBER = r"[0-9]+(?:\.[0-9]*)?"
_PLACED = re.compile(
    rf"({_NUMBER})\s*[x×*]\s*({_NUMBER})(?:\s*at\s*({_NUMBER})\s*[,;]\s*({_NUMBER}))?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class ZonePlan:
    """Zones of an enclosure.

    Parameters
    ----------
    areas : dict of str to float
        Zone to its size, all in one unit, above 0.
    places : dict of str to Place
        Zone to where it lies; empty unless every zone says it.
    """

    areas: dict[str, float]
    places: dict[str, Place]


class ZoneLineError(ValueError):
    """A line that gives no zone with its size; `number` counts from 1."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number


def zones_read(text: str) -> ZonePlan:
    """Read zones, one a line: “sand = 1.5”, “sand = 2 x 0.75” or “sand = 2 x 0.75 at 0, 3”.

    Parameters
    ----------
    text : str
        Width and depth after “=”, then how far from the left and from the top; or the size alone.

    Raises
    ------
    ZoneLineError
        Of a line without a name, or without a size above 0.

    Examples
    --------
    >>> zones_read("sand = 2 x 0.75 at 0, 3")
    ZonePlan(areas={'sand': 1.5}, places={'sand': (0.0, 3.0, 2.0, 0.75)})
    >>> zones_read("sand = 1.5").places
    {}
    """
    areas: dict[str, float] = {}
    places: dict[str, Place] = {}
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        name, _sign, said = (one.strip() for one in line.rpartition("="))
        placed = _PLACED.fullmatch(said)
        try:
            sides = [float(one) for one in (placed.groups()[:2] if placed else (said,))]
        except ValueError:
            raise ZoneLineError(number) from None
        size = sides[0] * sides[-1] if placed else sides[0]
        if not name or not 0 < size < LARGEST:
            raise ZoneLineError(number)
        areas[name] = size
        if placed and placed[3] is not None:
            places[name] = (float(placed[3]), float(placed[4]), sides[0], sides[1])
    return ZonePlan(areas, places if places.keys() == areas.keys() else {})
