"""Every cause is asked about every table; what would mend it is tried out on the whole file."""

import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from archive.engine.causes.above import NoHeading, RowsAbove, UnitRow
from archive.engine.causes.codes_alike import CodesAlike
from archive.engine.causes.day_month import DayMonth
from archive.engine.causes.decimal_comma import DecimalComma
from archive.engine.causes.delimiter import WrongDelimiter
from archive.engine.causes.encodings import Mangled, OtherEncoding
from archive.engine.causes.extra_rows import BlankRows, RepeatedHeading, TotalRow
from archive.engine.causes.headings import HeadingsAlike
from archive.engine.causes.lost_zeros import LostZeros
from archive.engine.causes.missing_words import MissingWords
from archive.engine.causes.serial_dates import SerialDay
from archive.engine.causes.sheet import FaultsByTable, Sheet, read_sheet
from archive.engine.causes.shifted import Shifted
from archive.engine.causes.spaces import Spaces
from archive.engine.causes.suspicion import Cause, Suspicion
from archive.engine.causes.swapped_tables import SwappedTables
from archive.engine.causes.thousands import Thousands
from archive.engine.causes.units import UnitInCell
from archive.engine.causes.wording import count_of
from archive.engine.corrections import Trial, try_out
from archive.engine.corrections.files import SwapFiles
from archive.engine.descriptor import (
    examine,
    find_descriptor,
    hold_against,
    inside,
    is_table,
    pin,
    read_descriptor,
)
from archive.engine.facts import RegisterFacts
from archive.engine.limits import Limits
from archive.engine.roles import FieldRole, primary_key, role_of
from registry.errors import Unsound

CAUSES: tuple[Cause, ...] = (
    OtherEncoding(),
    WrongDelimiter(),
    SwappedTables(),
    RowsAbove(),
    NoHeading(),
    HeadingsAlike(),
    Shifted(),
    Mangled(),
    # From the foot up: whoever takes one row out by hand still finds the next by its number.
    TotalRow(),
    UnitRow(),
    RepeatedHeading(),
    BlankRows(),
    DayMonth(),
    SerialDay(),
    DecimalComma(),
    Thousands(),
    UnitInCell(),
    MissingWords(),
    CodesAlike(),
    LostZeros(),
    Spaces(),
)
MOST = 40
"""Suspicions that one report tells."""

SECONDS = 90.0
"""After so long no further correction is tried out, and none is offered."""

LATE = "There is so much to look at that this one was not tried out."
DEFAULT_LIMITS = Limits()


@dataclass(frozen=True, slots=True)
class Table:
    """Where a table of a package lies, and by which layout and schema it is read."""

    name: str
    path: Path
    where: str
    layout: Mapping[str, Any]
    schema: Mapping[str, Any]


def tables_of(
    folder: Path, *, expected: dict[str, Any] | None = None, limits: Limits = DEFAULT_LIMITS
) -> list[Table]:
    """Give the tables of a package as far as they can be read; none where nothing can.

    Parameters
    ----------
    folder : Path
        Holds datapackage.json, or is the descriptor itself.
    expected : dict, optional
        The dictionary's descriptor, whose schemas rule.
    limits : Limits
    """
    path = folder if folder.is_file() else find_descriptor(folder)
    descriptor = None if path is None else read_descriptor(path, limits)[0]
    if path is None or descriptor is None or examine(descriptor, limits):
        return []
    if expected is not None:
        descriptor, _ = hold_against(descriptor, expected)
        if examine(descriptor, limits):
            return []
    return [
        Table(one["name"], place, one["path"], one["dialect"]["csv"], one["schema"])
        for one in pin(descriptor)["resources"]
        if is_table(one)
        and isinstance(one.get("schema"), dict)
        and (place := inside(path.parent, one["path"])) is not None
        and place.stat().st_size <= limits.table_bytes
    ]


def suspect(
    folder: Path,
    faults: FaultsByTable,
    *,
    expected: dict[str, Any] | None = None,
    facts: RegisterFacts | None = None,
    today: date = date.max,
    limits: Limits = DEFAULT_LIMITS,
) -> list[Suspicion]:
    """Say what seems to have gone wrong in the tables of a checked package.

    Parameters
    ----------
    folder : Path
        The package, as it was checked.
    faults : FaultsByTable
        What the check found.
    expected : dict, optional
        The dictionary's descriptor.
    facts : RegisterFacts, optional
        The codes that the register knows.
    today : date
        The latest day that the data can know of.

    Returns
    -------
    list of Suspicion
        At most 40. Each correction was tried out on every row; one that would be ambiguous is
        left out, and `refused` says why.
    """
    tables = tables_of(folder, expected=expected, limits=limits)
    sheets = {
        one.name: Sheet(
            one.name,
            one.path,
            one.where,
            one.layout,
            one.schema,
            faults=faults.of(one.name).by_place,
            faulty_rows=faults.of(one.name).rows,
            today=today,
        )
        for one in tables
    }
    for sheet in sheets.values():
        read_sheet(sheet)
    for sheet in sheets.values():
        _tell_codes(sheet, sheets, facts)
    beside = list(sheets.values())
    end = time.monotonic() + SECONDS
    found: list[Suspicion] = []
    for sheet in beside:
        for cause in CAUSES:
            for one in cause.look(sheet, beside):
                is_late = time.monotonic() > end
                found.append(
                    replace(one, correction=None, refused=LATE) if is_late else tried(one, sheet)
                )
            if found and found[-1].kind == RowsAbove.kind and found[-1].table == sheet.table:
                break  # nothing that is told by its row or column holds before these are out
    return found[:MOST]


def tried(suspicion: Suspicion, sheet: Sheet) -> Suspicion:
    """Try the correction out on the whole file; where it is refused, or does nothing, say so."""
    correction = suspicion.correction
    if correction is None:
        return suspicion
    if isinstance(correction, SwapFiles):
        return replace(suspicion, trial=Trial(0, 0, ()))
    try:
        trial = try_out(sheet.path, sheet.layout, [correction])
    except Unsound as refusal:
        return replace(suspicion, correction=None, refused=refusal.why)
    if not trial.cells and not trial.rows_left_out:
        return replace(suspicion, correction=None)
    return replace(suspicion, trial=trial)


def _tell_codes(sheet: Sheet, sheets: Mapping[str, Sheet], facts: RegisterFacts | None) -> None:
    """Say which codes a column may hold, where another table or the register knows them."""
    for name, column in sheet.columns.items():
        if column.known is None:
            column.known = _linked(sheet, sheets, name) or _registered(column.shape, facts)


def _linked(sheet: Sheet, sheets: Mapping[str, Sheet], name: str) -> frozenset[str] | None:
    for link in sheet.schema.get("foreignKeys") or ():
        fields, there = link.get("fields"), link.get("reference") or {}
        if fields not in (name, [name]):
            continue
        other = sheets.get(str(there.get("resource") or sheet.table))
        named = there.get("fields")
        wanted = named if isinstance(named, str) else (named or [""])[0]
        if other is not None and wanted in other.columns and primary_key(other.schema):
            return frozenset(other.columns[wanted].filled())
    return None


def _registered(shape: Mapping[str, Any], facts: RegisterFacts | None) -> frozenset[str] | None:
    if facts is None:
        return None
    match role_of(shape):
        case FieldRole.ANIMAL | FieldRole.GROUP:
            return _set([one.code for one in facts.enrolments or ()])
        case FieldRole.SESSION:
            return _set([one.code for one in facts.sessions or ()])
        case FieldRole.PLACE:
            return _set(facts.places or facts.enclosures)
        case FieldRole.OBSERVER:
            return _set(facts.observers)
        case _:
            return None


def _set(codes: Sequence[str] | None) -> frozenset[str] | None:
    return frozenset(codes) if codes else None


def told(suspicions: Iterable[Suspicion]) -> Iterator[str]:
    """Say the suspicions in lines for a terminal."""
    for one in suspicions:
        where = ", ".join([one.table, *one.columns])
        yield f"[suspected: {one.kind}] {where}"
        yield f"    {one.what} {one.why}"
        yield f"    What to do: {one.remedy}"
        if one.trial is not None:
            done = [f"{count_of(one.trial.cells, 'cell')} would change"]
            if one.trial.rows_left_out:
                done.append(f"{count_of(one.trial.rows_left_out, 'row')} would be left out")
            yield f"    A safe correction exists: {', '.join(done)}."
        elif one.refused:
            yield f"    No correction by itself: {one.refused}"
