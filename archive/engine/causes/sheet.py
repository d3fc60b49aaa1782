"""What the causes look at: one table's columns as they were written, and its findings."""

import csv
from collections import Counter, deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any

from archive.engine.causes.wording import ROWS
from archive.engine.checks.categories import categories_of
from archive.engine.findings import Finding, Group
from archive.engine.reading import reader_options
from archive.engine.records import records_of
from archive.engine.roles import fields_of, missing_values

LOOKED_AT = 50_000
"""Rows whose values are counted; a correction reads every row before it is offered.

Of a table without a finding no more rows are read: what stands far down and is sound is no cause.
"""

DISTINCT = 5_000
FAULTS_KEPT = 200_000
HEAD, TAIL = 20, 6
CHUNK = 2_000
LETTERS = 4_000


@dataclass(slots=True)
class Fault:
    """The findings of one code in one column: how many, on which rows, about which values."""

    count: int = 0
    rows: list[int] = field(default_factory=list)
    values: Counter[str] = field(default_factory=Counter)

    def take(self, finding: Finding) -> None:
        """Count one finding in."""
        self.count += 1
        if finding.row is not None and len(self.rows) < DISTINCT:
            self.rows.append(finding.row)
        if len(self.values) < DISTINCT or finding.value in self.values:
            self.values[finding.value] += 1


@dataclass(slots=True)
class Faults:
    """The findings of one table by code and column, and the rows that must be put right."""

    by_place: dict[tuple[str, str], Fault] = field(default_factory=dict)
    rows: set[int] = field(default_factory=set)


class FaultsByTable:
    """Sorts findings to their tables; after 200,000 of them no more are looked at."""

    def __init__(self, findings: Iterable[Finding] = ()) -> None:
        self._left = FAULTS_KEPT
        self._tables: dict[str, Faults] = {}
        for finding in findings:
            self.take(finding)

    def take(self, finding: Finding) -> None:
        """Sort one finding in."""
        if not self._left:
            return
        self._left -= 1
        faults = self.of(finding.table)
        faults.by_place.setdefault((finding.code, finding.field), Fault()).take(finding)
        if finding.row is not None and finding.group is Group.TABLE:
            faults.rows.add(finding.row)

    def of(self, table: str) -> Faults:
        """Give the findings of one table."""
        return self._tables.setdefault(table, Faults())


@dataclass(slots=True)
class Column:
    """One column of the file that the schema knows.

    Parameters
    ----------
    name : str
    shape : mapping
        The schema's field.
    values : Counter
        Cells as they were written, of the rows looked at.
    first : dict
        Row at which each of these was first seen.
    known : frozenset of str or None
        Codes that the column may hold, where they are known.
    missing : frozenset of str
        Texts that stand for an empty cell.
    """

    name: str
    shape: Mapping[str, Any]
    values: Counter[str] = field(default_factory=Counter)
    first: dict[str, int] = field(default_factory=dict)
    known: frozenset[str] | None = None
    missing: frozenset[str] = frozenset({""})

    @property
    def type(self) -> str:
        """Its type in the schema."""
        return str(self.shape.get("type", "string"))

    @property
    def form(self) -> str:
        """How a date of it is written: "date", "datetime" or a pattern."""
        form = str(self.shape.get("format", "default"))
        return form if form.startswith("%") else self.type

    @property
    def is_required(self) -> bool:
        """Whether it may not be empty."""
        constraints = self.shape.get("constraints")
        return isinstance(constraints, dict) and bool(constraints.get("required"))

    def filled(self) -> dict[str, int]:
        """Give its values with their counts, those that stand for nothing left out."""
        return {value: n for value, n in self.values.items() if value.strip() not in self.missing}


@dataclass(slots=True)
class Sheet:
    """One table, read once more as plain text.

    `head` and `tail` hold the first and the last rows with their numbers, `widths` how many rows
    have how many cells, `repeats` the first rows that repeat the heading, `blank` the first ones
    without a cell that holds anything, and `repeat_count` and `blank_count` how many there are.
    `today` is the latest day that the data can know of.
    """

    table: str
    path: Path
    where: str
    layout: Mapping[str, Any]
    schema: Mapping[str, Any]
    faults: dict[tuple[str, str], Fault] = field(default_factory=dict)
    faulty_rows: set[int] = field(default_factory=set)
    labels: list[str] = field(default_factory=list)
    columns: dict[str, Column] = field(default_factory=dict)
    head: list[tuple[int, list[str]]] = field(default_factory=list)
    tail: list[tuple[int, list[str]]] = field(default_factory=list)
    widths: Counter[int] = field(default_factory=Counter)
    repeats: list[int] = field(default_factory=list)
    repeat_count: int = 0
    blank: list[int] = field(default_factory=list)
    blank_count: int = 0
    rows: int = 0
    is_text: bool = True
    today: date = date.max

    @property
    def names(self) -> list[str]:
        """The columns that the schema has."""
        return [str(one["name"]) for one in fields_of(self.schema)]

    def fault(self, code: str, name: str = "") -> Fault:
        """Give the findings of one code in one column, or an empty one."""
        return self.faults.get((code, name), Fault())

    def faults_in(self, name: str, *codes: str) -> Fault:
        """Give the findings of some codes in one column together."""
        whole = Fault()
        for code in codes:
            part = self.fault(code, name)
            whole.count += part.count
            whole.rows += part.rows
            whole.values.update(part.values)
        whole.rows.sort()
        return whole

    def has(self, code: str) -> bool:
        """Whether the table has a finding of this code."""
        return any(one == code for one, _ in self.faults)


def read_sheet(sheet: Sheet) -> None:
    """Read a table once more, as text; memory stays flat, whatever the file holds.

    Parameters
    ----------
    sheet : Sheet
        With its findings: one without any is read to its `LOOKED_AT` th row only.
    """
    try:
        with sheet.path.open(encoding="utf-8-sig", newline="") as file:
            records = records_of(file, reader_options(sheet.layout))
            _read(sheet, records if sheet.faults else islice(records, LOOKED_AT))
    except (csv.Error, UnicodeDecodeError, TypeError):
        sheet.is_text = False


def _read(sheet: Sheet, records: Iterator[list[str]]) -> None:
    sheet.labels = [label.strip() for label in next(records, [])]
    fields = {str(one["name"]): one for one in fields_of(sheet.schema)}
    places: dict[str, int] = {}
    for at, label in enumerate(sheet.labels):
        if label in fields and label not in places:
            places[label] = at
            sheet.columns[label] = Column(
                label,
                fields[label],
                known=_codes_of(fields[label]),
                missing=missing_values(sheet.schema, label),
            )
    tail: deque[tuple[int, list[str]]] = deque(maxlen=TAIL)
    chunk: list[list[str]] = []
    number = 1
    for number, cells in enumerate(records, start=2):
        if len(sheet.head) < HEAD:
            sheet.head.append((number, cells))
        sheet.widths[len(cells)] += 1
        if not any(cells):
            sheet.blank_count += 1
            if len(sheet.blank) < ROWS:
                sheet.blank.append(number)
        else:
            tail.append((number, cells))
            if cells == sheet.labels or [cell.strip() for cell in cells[:2]] == sheet.labels[:2]:
                _repeats(sheet, number, cells)
        if number <= LOOKED_AT:
            chunk.append(cells)
            if len(chunk) == CHUNK:
                _count(sheet, places, chunk, number - len(chunk) + 1)
                chunk = []
    _count(sheet, places, chunk, min(number, LOOKED_AT) - len(chunk) + 1)
    sheet.rows, sheet.tail = number - 1, list(tail)


def _repeats(sheet: Sheet, number: int, cells: list[str]) -> None:
    if [cell.strip() for cell in cells] == sheet.labels:
        sheet.repeat_count += 1
        if len(sheet.repeats) < ROWS:
            sheet.repeats.append(number)


def _codes_of(shape: Mapping[str, Any]) -> frozenset[str] | None:
    codes = categories_of(shape)
    constraints = shape.get("constraints")
    listed = constraints.get("enum") if isinstance(constraints, dict) else None
    if codes is None and not isinstance(listed, list):
        return None
    return frozenset(map(str, codes if codes is not None else listed or ()))


def _count(sheet: Sheet, places: Mapping[str, int], rows: list[list[str]], start: int) -> None:
    for name, at in places.items():
        column = sheet.columns[name]
        if len(column.values) > DISTINCT:
            continue
        cells = [row[at][:LETTERS] if at < len(row) else "" for row in rows]
        new = set(cells) - column.values.keys()
        column.values.update(cells)
        if new:
            for number, cell in enumerate(cells, start=start):
                if cell in new:
                    column.first.setdefault(cell, number)
