"""The use of space asked of a table of sightings."""

from collections.abc import Mapping

import numpy as np

from archive.analysis.asked.found import Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.behaviour.space import space_use
from archive.analysis.columns import Coded
from archive.analysis.gaps import Gap
from registry.design import bounds


def space(frame: Frame, request: Request) -> Found:
    """Give the share of sightings in each zone against its size.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots animal and zone, a row for each sighting; or option `counts`, the columns that hold
        the sightings in each zone. Option `areas`, zone to size, all in one unit.
    """
    gaps: list[Gap] = []
    animal, zone = _sightings(frame, request, gaps)
    areas: Mapping[str, float] = request.options.get("areas") or {}
    if not areas:
        gaps.append(
            Gap(
                "Zones are taken as equally large.",
                "Their sizes were not given, so use cannot be held against what they offer.",
            )
        )
        areas = dict.fromkeys(zone.words, 1.0)
    found = space_use(animal, zone, areas)
    total = sum(areas.values())
    zones = tuple(
        (
            one.name,
            areas[one.name] / total,
            one.seen,
            one.share.mean,
            one.share.low,
            one.share.high,
            one.elected.mean,
        )
        for one in found.zones
    )
    most = max(found.zones, key=lambda one: one.share.mean)
    said = (
        (
            f"Spread of participation {found.spread.mean:.2f} over {found.spread.n} animals: 0 is "
            "use as the sizes of the zones have it, 1 the smallest alone."
        ),
        (
            f"“{most.name}” had {100 * most.share.mean:.0f} per cent of the sightings on "
            f"{100 * areas[most.name] / total:.0f} per cent of the ground."
        ),
    )
    return Found(
        said,
        (
            Table(
                "zones",
                "Share of sightings in each zone, mean over animals",
                (
                    "zone",
                    "share of the ground",
                    "sightings",
                    "share of sightings",
                    "from",
                    "to",
                    "electivity E*",
                ),
                zones,
            ),
            Table(
                "animals",
                "Spread of participation of each animal",
                ("animal", "spread of participation", "original, as if zones were equal"),
                tuple(
                    (*one, original)
                    for one, original in zip(found.by_animal, found.as_equal, strict=True)
                ),
            ),
        ),
        gaps=(*gaps, *found.gaps),
    )


def _sightings(frame: Frame, request: Request, gaps: list[Gap]) -> tuple[Coded, Coded]:
    """Give a row for each sighting, however they stand in the table."""
    animal = frame.animals(request.column("animal"), gaps)
    names = tuple(request.options.get("counts") or ())
    if not names:
        if not request.column("zone"):
            bounds.refuse(
                "zone",
                "The use of space cannot be computed.",
                "Neither a column of zones nor columns of counts were named.",
                "Name the column of the zone, or one column of counts for each zone.",
            )
        return animal, frame.words(request.column("zone"))
    table = np.column_stack([frame.numbers(name) for name in names])
    good = np.isfinite(table).all(axis=1) & (table >= 0).all(axis=1)
    leave_out(good, "A count is missing, or below 0.", gaps)
    counts = np.rint(table[good]).astype(int)
    codes = np.repeat(animal.codes[good], counts.sum(axis=1))
    zones = np.tile(np.arange(len(names), dtype=np.int32), len(counts))
    return (
        Coded(codes, animal.words),
        Coded(np.repeat(zones, counts.ravel()), names),
    )
