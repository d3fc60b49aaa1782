"""The figures of an analysis, drawn from its tables; nothing is computed here."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from archive.models import Analysis
from registry import drawings
from registry.drawings import Drawn

type Rows = Sequence[Sequence[Any]]


@dataclass(frozen=True)
class Figure:
    """A figure: its name in addresses, what it shows, and the drawing at two widths."""

    name: str
    caption: str
    drawn: Drawn

    @property
    def alone(self) -> str:
        """The drawing as a file of its own."""
        return drawings.alone(self.drawn.large, self.caption)


def figures_of(analysis: Analysis) -> list[Figure]:
    """Give the figures of what an analysis found; none where it found nothing to draw."""
    tables = {one["name"]: one for one in analysis.result.get("tables", [])}
    tables["tests"] = {"rows": analysis.result.get("tests", [])}
    tables["places"] = analysis.request.get("options", {}).get("places") or {}
    found = []
    for name, draw in _DRAWN:
        if name in tables and tables[name]["rows"]:
            figure = draw(tables[name], tables)
            if figure is not None:
                found.append(figure)
    return found


def _ends(low: float | None, high: float | None) -> tuple[float, float] | None:
    return None if low is None or high is None else (low, high)


def _budget(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    said = _("Share of visible points; bars are 95 % intervals over animals")
    return Figure("budget", said, _shares(table, _("share of visible points")))


def _shares(table: Mapping[str, Any], quantity: str) -> Drawn:
    bars = [
        drawings.Bar(row[0], row[1] or 0.0, _ends(row[2], row[3]))
        for row in table["rows"]
        if row[1] is not None
    ]
    return drawings.shares(bars, quantity, most=1.0)


def _timed(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    said = _("Share of visible time; bars are 95 % intervals over animals")
    return Figure("timed", said, _shares(table, _("share of visible time")))


def _intervals(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    said = _("Share of visible intervals; bars are 95 % intervals over animals")
    return Figure("intervals", said, _shares(table, _("share of visible intervals")))


def _hours(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    cells = {(row[0], row[1]): row[3] for row in table["rows"]}
    days = sorted({row[0] for row in table["rows"]})
    said = _("Activity by day and hour")
    return Figure("hours", said, drawings.hours(days, cells, _("share of points active")))


def _zones(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    bars = [
        drawings.Bar(row[0], row[3], _ends(row[4], row[5]), mark=row[1]) for row in table["rows"]
    ]
    said = _("Use of each zone; the dotted mark is its share of the ground")
    return Figure("zones", said, drawings.shares(bars, _("share of sightings"), most=1.0))


def _plan(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    places = tables["places"]
    zones = [
        drawings.Zone(row[0], row[1], row[3], tuple(places[row[0]]) if row[0] in places else None)
        for row in table["rows"]
    ]
    lies = _("zones where they lie") if places else _("sizes to scale, places are not")
    said = _("Share of sightings over a plan of the zones; %(lies)s") % {"lies": lies}
    quantity = _("sightings for the size: 1 is as the size has it")
    return Figure("plan", said, drawings.plan(zones, _("share of sightings"), quantity))


def _arms(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure | None:
    units = tables.get("units")
    if units is None:
        return None
    groups = [
        drawings.Group(
            str(row[0]),
            tuple(one[2] for one in units["rows"] if one[1] == row[0] and one[2] is not None),
            row[2],
            _ends(row[4], row[5]),
        )
        for row in table["rows"]
    ]
    said = _("Units of each arm, their mean and its 95 % interval")
    return Figure("arms", said, drawings.intervals(groups, units["title"]))


def _hatching(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    bars = [
        drawings.Bar(str(row[0]), row[7], _ends(row[8], row[9]))
        for row in table["rows"]
        if row[7] is not None
    ]
    said = _("Share of fertile eggs that hatched, mean over units with its 95 % interval")
    return Figure("hatching", said, drawings.shares(bars, _("share of fertile eggs"), most=1.0))


def _course(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    drawn = [
        drawings.Course(arm, tuple((row[1], row[3], row[4], row[5]) for row in rows))
        for arm, rows in _by_first(table["rows"]).items()
    ]
    said = _("Mean mass over units with its 95 % interval")
    across, up = _("days since the first weighing"), _("mean mass")
    return Figure("course", said, drawings.courses(drawn, across, up))


def _curves(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    drawn = [
        drawings.Course(
            arm, ((0.0, 1.0, None, None), *((row[1], row[4], row[5], row[6]) for row in rows))
        )
        for arm, rows in _by_first(table["rows"]).items()
    ]
    said = _("Share to whom it has not happened yet, by Kaplan and Meier")
    across, up = _("time"), _("share")
    drawing = drawings.courses(drawn, across, up, are_steps=True, ends=(0.0, 1.0))
    return Figure("curves", said, drawing)


def _by_first(rows: Rows) -> dict[str, list[Sequence[Any]]]:
    found: dict[str, list[Sequence[Any]]] = {}
    for row in rows:
        found.setdefault(str(row[0]), []).append(row)
    return found


def _pairs(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    bars = [
        drawings.Bar(row[0], max(0.0, row[5]), _ends(row[6], row[7]))
        for row in table["rows"]
        if row[5] is not None
    ]
    said = _("Cohen’s kappa of each pair of observers with its 95 % interval")
    return Figure("pairs", said, drawings.shares(bars, _("kappa"), most=1.0))


def _icc(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    bars = [
        drawings.Bar(row[0].partition(":")[0], max(0.0, row[1]), _ends(row[2], row[3]))
        for row in table["rows"]
    ]
    said = _("The six forms of the intraclass correlation with their 95 % intervals")
    return Figure("icc", said, drawings.shares(bars, _("correlation"), most=1.0))


def _slopes(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    medium = table["name"].partition("_")[2]
    ends = f" in {medium}" if medium else ""
    rows = [drawings.Found(str(row[0]), row[1], None, 0.1) for row in table["rows"]]
    names = {"slopes_t": _("over animals"), "sessions_t": _("over sessions")}
    rows += [
        drawings.Found(names[one["name"]], one["effect"], _ends(one["low"], one["high"]))
        for one in tables["tests"]["rows"]
        if one["name"] in names and one["compared"].endswith(ends)
    ]
    return Figure(table["name"], table["title"], drawings.forest(rows, _("change for one unit")))


def _phases(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    drawn = [
        drawings.Course(animal, tuple((row[1], row[2], None, None) for row in rows))
        for animal, rows in _by_first(table["rows"]).items()
    ]
    said = _("Each animal through its sessions; which phase each was in stands in the table")
    return Figure("phases", said, drawings.courses(drawn, _("session"), table["heads"][2]))


def _warming(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    drawn = [
        drawings.Course(unit, tuple((row[1], row[2], None, None) for row in rows))
        for unit, rows in _by_first(table["rows"]).items()
    ]
    said = _("Degree-days added up since the first day")
    return Figure("warming", said, drawings.courses(drawn, _("days"), _("°C days")))


def _doses(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    bars = [drawings.Bar(row[0], row[4], _ends(row[5], row[6])) for row in table["rows"]]
    said = _("Share that responded at each dose, with exact 95 % intervals of its counts")
    return Figure("doses", said, drawings.shares(bars, _("share that responded"), most=1.0))


def _cohorts(table: Mapping[str, Any], tables: Mapping[str, Any]) -> Figure:
    rows = [
        drawings.Found(str(row[0]), row[2], _ends(row[3], row[4]), row[5] or 0.0)
        for row in table["rows"]
    ]
    rows += [
        drawings.Found(_("together"), one["effect"], _ends(one["low"], one["high"]))
        for one in tables["tests"]["rows"]
        if one["name"] == "pool"
    ]
    said = _("What each cohort found, and what they say together")
    return Figure("cohorts", said, drawings.forest(rows, table["title"]))


_DRAWN: tuple[tuple[str, Callable[[Mapping[str, Any], Mapping[str, Any]], Figure | None]], ...] = (
    ("budget", _budget),
    ("timed", _timed),
    ("intervals", _intervals),
    ("zones", _plan),
    ("zones", _zones),
    ("hatching", _hatching),
    ("course", _course),
    ("curves", _curves),
    ("slopes", _slopes),
    ("slopes_air", _slopes),
    ("slopes_water", _slopes),
    ("phases", _phases),
    ("warming", _warming),
    ("doses", _doses),
    ("icc", _icc),
    ("cohorts", _cohorts),
    ("pairs", _pairs),
    ("arms", _arms),
    ("hours", _hours),
)
"""Tables and what is drawn of them, the first as the figure of an answer."""
