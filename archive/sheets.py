"""The blank sheet of a session: one row for each animal and moment, filled as far as is known.

What is known before the work is written in: session, animal, place, unit, observer and planned
moment, each in the field that the dictionary gives that role. The rest is left to be seen.
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from archive.engine.descriptor import Descriptor
from archive.engine.roles import UNIT, FieldRole, fields_of, role_of
from registry.errors import Unsound
from registry.guarded.cells import safe_cell

MOST_ROWS = 600
"""More than can be filled in by hand in one session: a house rule, no source."""

LINES_ON_PAPER = 14
"""Rows that stand on one A4 page across, with the legend beneath."""

_EVERY = re.compile(
    r"\bevery\s+(?:(\d{1,3})\s+(minutes?|min|seconds?|s)|(minute))\b", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Watched:
    """An animal or group in view, by the code that the data give it.

    Parameters
    ----------
    code : str
        Its enrolment code.
    unit : str
        The experimental unit in which it is; empty where there is none.
    is_group : bool
        Whether it is counted, and not told apart.
    place : str
        The code of the enclosure in which it lives, where that is not the session's own.
    """

    code: str
    unit: str = ""
    is_group: bool = False
    place: str = ""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What is known of a session before it begins.

    Parameters
    ----------
    session, place : str
        Their codes.
    start, end : datetime
        As planned, in local time with its offset.
    observer : str
        The initials of the one who observes; empty where that is not one person.
    watched : tuple of Watched
    every_s : int
        Seconds from one scan or interval to the next; 0 where the plan has none.
    """

    session: str
    place: str
    start: datetime
    end: datetime
    observer: str = ""
    watched: tuple[Watched, ...] = ()
    every_s: int = 0


@dataclass(frozen=True, slots=True)
class Column:
    """A column as a printed sheet heads and explains it."""

    name: str
    title: str
    meaning: str
    unit: str
    codes: tuple[tuple[str, str], ...]
    bounds: str
    is_required: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table of the dictionary with the rows of one session, as far as they are known."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def spare(self) -> range:
        """Empty rows that a printed page has room for."""
        return range(max(0, LINES_ON_PAPER - len(self.rows)))

    @property
    def as_csv(self) -> str:
        """The sheet as CSV, headed as the dictionary heads it."""
        text = io.StringIO(newline="")
        table = csv.writer(text)
        table.writerow([column.name for column in self.columns])
        table.writerows(self.rows)
        return text.getvalue()


def every_said(schedule: str) -> int:
    """Give the seconds between scans that a plan's words say, or 0.

    Examples
    --------
    >>> every_said("One session a day, scans every 5 minutes, from the hide.")
    300
    >>> every_said("every minute"), every_said("Twice a week.")
    (60, 0)
    """
    found = _EVERY.search(schedule)
    if found is None:
        return 0
    if found[3]:
        return 60
    return int(found[1]) * (60 if found[2].lower().startswith("m") else 1)


def moments(stretch: Stretch, *, most: int = MOST_ROWS) -> list[datetime]:
    """Give the planned beginnings of scans or intervals: from the start, before the end.

    Raises
    ------
    Unsound
        Where they are more than a sheet holds.
    """
    if not stretch.every_s:
        return [stretch.start]
    number = -((stretch.start - stretch.end) // timedelta(seconds=stretch.every_s))
    if number > most:
        raise _too_long(number)
    return [stretch.start + timedelta(seconds=stretch.every_s * nth) for nth in range(number)]


def _too_long(number: int) -> Unsound:
    return Unsound(
        "The sheet was not made.",
        f"It would have {number:,} rows; {MOST_ROWS} are the most that one sheet holds.",
        "Give a longer time between scans.",
        fields={"every": "Too short: the sheet would be too long."},
    )


def blank_sheet(table: Descriptor, stretch: Stretch) -> Sheet:
    """Give the sheet of one table for one session.

    Parameters
    ----------
    table : dict
        A resource of the dictionary with its schema.
    stretch : Stretch

    Returns
    -------
    Sheet
        A row for each animal and moment where the table has a column for the moment; one for each
        animal where it has none, or a day alone; one for each moment where it names no animal.

    Raises
    ------
    Unsound
        Where it would have more than `MOST_ROWS` rows.
    """
    fields = fields_of(table["schema"])
    roles = {role_of(field) for field in fields}
    clock = next((field for field in fields if _tells_the_moment(field)), None)
    watched = _in_table(stretch, roles)
    times = moments(stretch) if clock is not None else [stretch.start]
    if not roles & _KNOWN:
        watched, times = (), []
    elif not watched:
        watched = (Watched(""),)
    if len(watched) * len(times) > MOST_ROWS:
        raise _too_long(len(watched) * len(times))
    rows = [
        tuple(_cell(field, stretch, one, moment, roles, clock) for field in fields)
        for moment in times
        for one in watched
    ]
    return Sheet(
        name=str(table["name"]),
        title=str(table.get("title") or table["name"]),
        columns=tuple(column_of(field) for field in fields),
        rows=tuple(rows),
    )


_SUBJECTS = {FieldRole.ANIMAL, FieldRole.GROUP}
_KNOWN = {*_SUBJECTS, FieldRole.UNIT, FieldRole.SESSION, FieldRole.TIME}
"""Roles of which one at least makes a table one that is filled in during a session."""


def _tells_the_moment(field: Mapping[str, Any]) -> bool:
    return role_of(field) is FieldRole.TIME and field.get("type") in {"datetime", "time"}


def _in_table(stretch: Stretch, roles: set[FieldRole | None]) -> tuple[Watched, ...]:
    """Give what the table has a row for: animals, groups, or the units that hold them."""
    if roles & _SUBJECTS:
        wanted = [
            one
            for one in stretch.watched
            if (FieldRole.GROUP if one.is_group else FieldRole.ANIMAL) in roles
        ]
        return tuple(wanted) or stretch.watched
    if FieldRole.UNIT in roles:
        units = dict.fromkeys(one.unit for one in stretch.watched if one.unit)
        return tuple(Watched("", unit) for unit in units)
    return ()


def _cell(
    field: Mapping[str, Any],
    stretch: Stretch,
    one: Watched,
    moment: datetime,
    roles: set[FieldRole | None],
    clock: Mapping[str, Any] | None,
) -> str:
    """Give what is known for a field; nothing that its own constraints would refuse."""
    role = role_of(field)
    has_animal, has_group = FieldRole.ANIMAL in roles, FieldRole.GROUP in roles
    if role is FieldRole.TIME:
        # A moment that no plan fixes is seen, not known: a guess left standing would be false.
        is_fixed = _is_day(field) or (field is clock and stretch.every_s > 0)
        return _when(field, moment) if is_fixed else ""
    known = {
        FieldRole.SESSION: stretch.session,
        FieldRole.PLACE: one.place or stretch.place,
        FieldRole.OBSERVER: stretch.observer,
        FieldRole.UNIT: one.unit,
        FieldRole.ANIMAL: "" if one.is_group and has_group else one.code,
        FieldRole.GROUP: one.code if one.is_group or not has_animal else "",
    }
    text = known.get(role, "") if role is not None else ""
    # A code that a spreadsheet would run, or that the field refuses, is left to be written.
    return text if safe_cell(text) == text and _fits(field, text) else ""


def _is_day(field: Mapping[str, Any]) -> bool:
    return field.get("type") == "date"


_FORMATS = {"date": "%Y-%m-%d", "time": "%H:%M:%S"}


def _when(field: Mapping[str, Any], moment: datetime) -> str:
    kind, form = field.get("type"), field.get("format", "default")
    if form not in {"default", "any"}:
        return moment.strftime(str(form)) if kind in {"date", "time", "datetime"} else ""
    if kind == "datetime":
        return moment.isoformat(timespec="seconds")
    return moment.strftime(_FORMATS[str(kind)]) if kind in _FORMATS else ""


def _fits(field: Mapping[str, Any], text: str) -> bool:
    if not text:
        return True
    kind = field.get("type", "any")
    if kind in {"integer", "number"} and not re.fullmatch(r"[0-9]+", text):
        return False
    if kind not in {"string", "any", "integer", "number"}:
        return False
    codes = [code for code, _label in _codes(field)]
    if codes and text not in codes:
        return False
    limits = field.get("constraints", {})
    pattern = limits.get("pattern")
    try:
        is_shaped = pattern is None or re.fullmatch(str(pattern), text) is not None
    except re.error:
        is_shaped = False
    shortest, longest = limits.get("minLength", 0), limits.get("maxLength", len(text))
    return is_shaped and shortest <= len(text) <= longest


# ------------------------------------------------------------------------------- what is printed


def column_of(field: Mapping[str, Any]) -> Column:
    """Give a field as a sheet heads and explains it."""
    limits = field.get("constraints", {})
    return Column(
        name=str(field["name"]),
        title=str(field.get("title") or field["name"]),
        meaning=str(field.get("description", "")),
        unit=str(field.get(UNIT, "")).strip("{}"),
        codes=tuple(_codes(field)),
        bounds=_bounds(limits),
        is_required=bool(limits.get("required")),
    )


def _codes(field: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Give the codes that a field allows, each with what it means where that is said."""
    ethogram = field.get("x:ethogram")
    if isinstance(ethogram, list):
        for entry in ethogram:
            yield str(entry.get("code")), str(entry.get("name", ""))
        return
    listed: Iterable[Any] = field.get("categories") or field.get("constraints", {}).get("enum", ())
    for item in listed:
        if isinstance(item, Mapping):
            yield str(item.get("value")), str(item.get("label", ""))
        else:
            yield str(item), ""
    if not listed and field.get("type") == "boolean":
        said: Sequence[Any] = [
            *(field.get("trueValues") or ["true"])[:1],
            *(field.get("falseValues") or ["false"])[:1],
        ]
        for word in said:
            yield str(word), ""


def _bounds(limits: Mapping[str, Any]) -> str:
    low, high = limits.get("minimum"), limits.get("maximum")
    if low is not None and high is not None:
        return f"{low} to {high}"
    if low is not None:
        return f"{low} or more"
    return f"{high} or less" if high is not None else ""
