"""Corrections made: a table is streamed through them, and what changes is shown before it is."""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from archive.engine.corrections.cells import (
    PadZeros,
    PlainNumbers,
    ReorderDates,
    ReplaceCells,
    SerialDates,
    StripUnit,
    Trim,
    Unmangle,
)
from archive.engine.corrections.correction import Correction, Reading, refuse
from archive.engine.corrections.files import Recode, Redelimit, SwapFiles
from archive.engine.corrections.headings import DropNumbers, RenameColumns
from archive.engine.corrections.lines import DropAbove, DropBlankRows, DropHeadings, DropRow
from archive.engine.findings import shorten
from archive.engine.records import records_of

KINDS: Mapping[str, type[Correction]] = {
    one.kind: one
    for one in (
        DropAbove,
        DropBlankRows,
        DropHeadings,
        DropNumbers,
        DropRow,
        PadZeros,
        PlainNumbers,
        Recode,
        Redelimit,
        RenameColumns,
        ReorderDates,
        ReplaceCells,
        SerialDates,
        StripUnit,
        SwapFiles,
        Trim,
        Unmangle,
    )
}
SHOWN = 10
"""Changes that are shown before they are made."""

BLOCK = 65_536
"""Characters gathered before they are handed on."""


@dataclass(frozen=True, slots=True)
class Change:
    """One cell before and after; `after` is None where the whole row is left out."""

    row: int
    column: str
    before: str
    after: str | None


@dataclass(frozen=True, slots=True)
class Trial:
    """What corrections would do: how many cells and rows they touch, and the first of them."""

    cells: int
    rows_left_out: int
    first: tuple[Change, ...]

    def as_dict(self) -> dict[str, Any]:
        """Give it as plain values, ready for JSON."""
        return asdict(self)


def correction_of(shape: Mapping[str, Any]) -> Correction:
    """Read back what `Correction.as_dict` gave.

    Raises
    ------
    Unsound
        When it is no correction of this program.
    """
    given = {name: _frozen(value) for name, value in shape.items() if name != "kind"}
    try:
        return KINDS[str(shape["kind"])](**given)
    except (KeyError, TypeError):
        refuse("It is not a correction that this program wrote.")


def _frozen(value: Any) -> Any:
    return tuple(map(_frozen, value)) if isinstance(value, list | tuple) else value


def mended(
    path: Path, layout: Mapping[str, Any], corrections: Sequence[Correction]
) -> Iterator[bytes]:
    """Stream a table as the corrections make it; the file itself is only read.

    Parameters
    ----------
    path : Path
    layout : mapping
        The pinned ``csv`` part of the dialect, by which the result is written.
    corrections : sequence of Correction
        Of one table; made in the order of their `turn`.

    Yields
    ------
    bytes
        UTF-8; line ends are those of the file's first line.

    Raises
    ------
    Unsound
        At the first cell that could mean two things, or where the table cannot be read.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator=_line_end(path), **_plain(layout).options)
    for row in _rows(path, layout, corrections):
        if row.after is not None:
            writer.writerow(row.after)
        if out.tell() >= BLOCK:
            yield _emptied(out)
    yield _emptied(out)


def try_out(path: Path, layout: Mapping[str, Any], corrections: Sequence[Correction]) -> Trial:
    """Say what the corrections would do to the whole table, and write nothing.

    Raises
    ------
    Unsound
        As `mended` would be refused.
    """
    cells, left_out = 0, 0
    first: list[Change] = []
    labels: list[str] = []
    for row, was in _beside(path, layout, corrections):
        if row.is_heading:
            labels = row.after or []
        if row.after == was:
            continue
        if row.after is None:
            left_out += 1
            changes = [Change(row.number, "", shorten(", ".join(was)), None)]
        else:
            changes = list(_changes(row.number, labels, was, row.after))
            cells += len(changes)
        first += changes[: SHOWN - len(first)]
    return Trial(cells, left_out, tuple(first))


def _beside(
    path: Path, layout: Mapping[str, Any], corrections: Sequence[Correction]
) -> Iterator[tuple["_Row", list[str]]]:
    """Give each row with its cells as they were; read again only where they are read otherwise."""
    rows = _rows(path, layout, corrections)
    plain = _plain(layout)
    if all(one.reading(plain).is_like(plain) for one in corrections):
        for row in rows:
            yield row, row.before
        return
    before = _records(path, plain, errors="replace")
    for row in rows:
        yield row, next(before, row.before)


@dataclass(frozen=True, slots=True)
class _Row:
    number: int
    before: list[str]
    after: list[str] | None
    is_heading: bool = False


def _changes(
    number: int, labels: Sequence[str], before: Sequence[str], after: Sequence[str]
) -> Iterator[Change]:
    if len(before) != len(after):
        yield Change(number, "", shorten(", ".join(before)), shorten(" | ".join(after)))
        return
    for at, (was, now) in enumerate(zip(before, after, strict=True)):
        if was != now:
            column = labels[at] if at < len(labels) else ""
            yield Change(number, column.strip(), shorten(was), shorten(now))


def _rows(
    path: Path, layout: Mapping[str, Any], corrections: Sequence[Correction]
) -> Iterator[_Row]:
    reading, steps = _plain(layout), []
    made = sorted(corrections, key=lambda one: one.turn)
    for one in made:
        reading = one.reading(reading)
    records = _records(path, reading)
    for number, cells in enumerate(islice(records, reading.above), start=1):
        yield _Row(number, cells, None)
    heading = next(records, [])
    labels = heading
    for one in made:
        labels, step = one.start(labels)
        steps.append(step)
    yield _Row(reading.above + 1, heading, labels, is_heading=True)
    for number, cells in enumerate(records, start=reading.above + 2):
        after: list[str] | None = cells
        for step in steps:
            after = None if after is None else step(number, after)
        yield _Row(number, cells, after)


def _records(path: Path, reading: Reading, errors: str = "strict") -> Iterator[list[str]]:
    try:
        with path.open(encoding=reading.encoding, newline="", errors=errors) as file:
            yield from records_of(file, reading.options)
    except (csv.Error, UnicodeDecodeError) as fault:
        refuse(f"The table cannot be read as it says it is written: {fault}.")


def _plain(layout: Mapping[str, Any]) -> Reading:
    if layout.get("escapeChar") or not layout.get("quoteChar", '"'):
        refuse("Its layout escapes signs in a way that is not written again here.")
    return Reading.of(layout)


def _line_end(path: Path) -> str:
    with path.open("rb") as file:
        head = file.read(BLOCK)
    return "\r\n" if b"\r\n" in head else "\n"


def _emptied(out: io.StringIO) -> bytes:
    block = out.getvalue().encode()
    out.seek(0)
    out.truncate()
    return block
