"""A copy of a checked table with its findings beside the cells, as CSV or as a workbook.

The rows stand as they were sent; one column more says what was found. Nothing is read as a number
or a formula, so that the copy shows what the check saw.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import xlsxwriter  # type: ignore[import-untyped]  # why: it ships no types

from archive.engine.findings import Finding
from archive.engine.reading import reader_options
from archive.engine.records import records_of
from registry.guarded.cells import safe_cell

BESIDE = "finding"
"""Heading of the column that says what was found."""

MOST_FINDINGS = 100_000
"""Findings of one table that are written beside its rows; a report tells all."""

MOST_ROWS = 20_000
"""Rows of one table that a workbook holds; the CSV holds all."""

MOST_COMMENTS = 2_000
BLOCK = 65_536
_CELL = 32_000
_COLUMNS = 16_000
_WIDE = 80
_FORBIDDEN = str.maketrans(dict.fromkeys("[]:*?/\\'", "-"))


@dataclass(slots=True)
class Annotated:
    """One table, and what is to stand beside its rows.

    Parameters
    ----------
    name : str
    path : Path
    layout : mapping
        The pinned ``csv`` part of the dialect.
    notes : dict of int to list of (str, str)
        Column and words, by row; the heading is row 1.
    is_cut : bool
        Whether there were more findings than are kept.
    """

    name: str
    path: Path
    layout: Mapping[str, Any]
    notes: dict[int, list[tuple[str, str]]] = field(default_factory=dict)
    is_cut: bool = False
    _count: int = 0

    def take(self, finding: Finding) -> None:
        """Note a finding beside its row; one about the whole table stands beside the heading."""
        if self._count >= MOST_FINDINGS:
            self.is_cut = True
            return
        self._count += 1
        said = f"{finding.message} What to do: {finding.remedy}"
        self.notes.setdefault(finding.row or 1, []).append((finding.field, said))


def annotate(tables: Iterable[Annotated], findings: Iterable[Finding]) -> list[Annotated]:
    """Sort findings to their tables."""
    by_name = {table.name: table for table in tables}
    for finding in findings:
        table = by_name.get(finding.table)
        if table is not None:
            table.take(finding)
    return list(by_name.values())


def _rows(table: Annotated, between: str = " ") -> Iterator[tuple[int, list[str], str]]:
    """Give each row with its number and what stands beside it, as far as the table can be read."""
    number = 0
    try:
        with table.path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
            for number, cells in enumerate(records_of(file, reader_options(table.layout)), 1):
                said = between.join(words for _, words in table.notes.get(number, ()))
                if number == 1:
                    said = f"{BESIDE}: {said}" if said else BESIDE
                    if table.is_cut:
                        said = f"{said} (the first {MOST_FINDINGS:,} only)"
                yield number, cells, said
    except csv.Error as fault:
        yield number + 1, [], f"From here on the table cannot be read: {fault}."


def as_csv(table: Annotated) -> Iterator[bytes]:
    """Stream the copy as CSV that a spreadsheet program opens without running anything.

    Yields
    ------
    bytes
        UTF-8 with a byte order mark; the last cell of each row says what was found.
    """
    yield b"\xef\xbb\xbf"
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    width = 0
    for number, cells, said in _rows(table):
        width = len(cells) if number == 1 else width
        padded = [*cells, *[""] * (width - len(cells)), said]
        writer.writerow([safe_cell(cell) for cell in padded])
        if out.tell() >= BLOCK:
            yield _emptied(out)
    yield _emptied(out)


def _emptied(out: io.StringIO) -> bytes:
    block = out.getvalue().encode()
    out.seek(0)
    out.truncate()
    return block


def write_workbook(tables: Sequence[Annotated], target: Path) -> None:
    """Write the copies as one workbook, a sheet for each table; memory stays flat.

    Parameters
    ----------
    tables : sequence of Annotated
    target : Path
        The .xlsx file to write.

    Notes
    -----
    The first 20,000 rows of each table; a last row says where it stops. Cells with a finding are
    filled, and the first 2,000 of them bear it as a comment too.
    """
    options = {
        "constant_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with xlsxwriter.Workbook(str(target), options) as book:
        marked = book.add_format({"bg_color": "#F3D3E3", "bold": True})
        heading = book.add_format({"bold": True, "bottom": 1})
        beside = book.add_format({"text_wrap": True, "valign": "top"})
        names: set[str] = set()
        for table in tables:
            page = book.add_worksheet(_named(table.name, names))
            page.freeze_panes(1, 0)
            _fill(page, table, marked, heading, beside)


def _named(name: str, taken: set[str]) -> str:
    """Give a name that a sheet may bear, and that no other one has."""
    plain = name.translate(_FORBIDDEN)[:28] or "table"
    given, number = plain, 1
    while given.casefold() in taken:
        number += 1
        given = f"{plain[:25]} {number}"
    taken.add(given.casefold())
    return given


def _fill(page: Any, table: Annotated, marked: Any, heading: Any, beside: Any) -> None:
    labels: list[str] = []
    comments, number = 0, 0
    for number, cells, said in _rows(table, "\n"):
        if number > MOST_ROWS + 1:
            page.write_string(number - 1, 0, f"The rows after {MOST_ROWS + 1:,} are not shown.")
            break
        if number == 1:
            labels = [label.strip() for label in cells[:_COLUMNS]]
            page.set_column(len(labels), len(labels), _WIDE, beside)
        noted = _places(table.notes.get(number, ()), labels)
        width = max(len(labels), len(cells))
        for at, cell in enumerate(cells[:_COLUMNS]):
            form = marked if at in noted else (heading if number == 1 else None)
            page.write_string(number - 1, at, cell[:_CELL], form)
            if at in noted and comments < MOST_COMMENTS:
                comments += 1
                page.write_comment(number - 1, at, noted[at][:_CELL])
        if said:
            form = heading if number == 1 else beside
            page.write_string(number - 1, min(width, _COLUMNS), said[:_CELL], form)
    if number > 1:
        # Whoever opens it can have only the rows shown beside which something stands.
        page.autofilter(0, 0, number - 1, len(labels))


def _places(notes: Iterable[tuple[str, str]], labels: Sequence[str]) -> dict[int, str]:
    """Give what is said of the cells of one row, by their place."""
    places: dict[int, str] = {}
    for column, said in notes:
        names = [column] if column in labels else column.split(", ")
        for name in names:
            if name in labels:
                at = labels.index(name)
                places[at] = f"{places[at]}\n{said}" if at in places else said
    return places
