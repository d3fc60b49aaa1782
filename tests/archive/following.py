"""Somebody who repairs a spoiled package by the words of its report, and knows nothing else.

What they have is the spreadsheet that they spoiled and their notes, which are the sound package.
They look into their notes only at the places that a remedy names.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from archive.engine.causes import Suspicion
from archive.engine.findings import Finding
from tests.archive.spoiled import Package

NAME = "“([^”]+)”"


@dataclass
class Desk:
    """The spreadsheet, the notes, and the finding or suspicion whose remedy is being read."""

    sheet: Package
    notes: Package
    said: Finding | Suspicion
    row: int | None
    columns: tuple[str, ...]
    is_refused: bool

    @property
    def rows(self) -> list[list[str]]:
        """The rows of the table that is spoken of."""
        return self.sheet.tanks if self.said.table == "tanks" else self.sheet.checks

    @property
    def truth(self) -> list[list[str]]:
        """The same table in the notes."""
        return self.notes.tanks if self.said.table == "tanks" else self.notes.checks

    def look_up(self, row: int, column: str) -> None:
        """Write one cell again from the notes."""
        at, there = self.rows[0].index(column), self.truth[0].index(column)
        self.rows[row - 1][at] = self.truth[row - 1][there]

    def in_column(self, column: str, change: Callable[[str], str]) -> None:
        """Change each cell of a column; from the notes where the report says that only they know.

        What was no such cell before stays as it was: a spreadsheet changes only what it can read.
        """
        at = self.rows[0].index(column)
        for row, cells in enumerate(self.rows[1:], start=2):
            if self.is_refused:
                self.look_up(row, column)
            elif at < len(cells):
                cells[at] = change(cells[at])

    def edit(self, change: Callable[[list[str]], None]) -> None:
        """Change the raw lines of the checks in a plain editor."""
        lines = self.sheet.raw["checks.csv"].decode().split("\r\n")
        change(lines)
        self.sheet.raw["checks.csv"] = "\r\n".join(lines).encode()


type Deed = Callable[..., object]


def _from_notes(desk: Desk, row: str, column: str) -> None:
    desk.look_up(int(row.replace(",", "")), column)


def _each_from_notes(desk: Desk, row: str) -> None:
    for column in desk.columns:
        _from_notes(desk, row, column)


def _out(desk: Desk, row: str) -> None:
    del desk.rows[int(row) - 1]


def _as_day(desk: Desk, column: str, form: str) -> None:
    """Write dates in a form that is shown by an example; the notes say which day is meant."""
    at = desk.truth[0].index(column)
    days = {cells[0]: cells[at] for cells in desk.truth}
    assert re.fullmatch(r"[0-9/:T-]+", form)
    place = desk.rows[0].index(column)
    for cells in desk.rows[1:]:
        cells[place] = days[cells[0]]


def _number(cell: str) -> str:
    return cell.replace(".", "").replace(",", ".") if "," in cell else cell


def _digits(cell: str) -> str:
    return re.sub("[ ,'\u00a0\u202f]", "", cell)


def _bare(cell: str) -> str:
    return re.sub(r"^([0-9.+-]+)\s*\D*$", r"\1", cell)


def _emptied(desk: Desk, column: str) -> None:
    """Leave empty what the report shows as a word; an animal is always in the notes."""
    assert isinstance(desk.said, Suspicion)
    words = set(re.findall(NAME, desk.said.what)) - {column}
    desk.in_column(column, lambda cell: "" if cell in words else cell)


def _alike(desk: Desk, column: str) -> None:
    desk.in_column(column, lambda cell: re.sub(r"\s", "", cell))
    known = {cells[desk.truth[0].index(column)] for cells in desk.truth[1:]}
    folded = {code.casefold(): code for code in known}
    desk.in_column(column, lambda cell: folded.get(cell.casefold(), cell))


def _zeros(desk: Desk, column: str) -> None:
    desk.in_column(column, lambda cell: cell.zfill(3))


def _trimmed(desk: Desk) -> None:
    for column in desk.columns:
        desk.in_column(column, str.strip)


def _headed(desk: Desk, *_: str) -> None:
    desk.rows[0] = list(desk.truth[0])


def _over_own_columns(desk: Desk) -> None:
    """End each row where the heading ends, for what stands after it is a separator too many."""
    for cells in desk.rows:
        del cells[len(desk.rows[0]) :]


def _heading_back(desk: Desk, names: str) -> None:
    desk.rows.insert(0, names.split(", "))


def _first_out(desk: Desk) -> None:
    for row, cells in enumerate(desk.rows):
        if row or not cells[0]:
            del cells[0]


def _saved(desk: Desk) -> None:
    desk.sheet.encoding, desk.sheet.delimiter = "utf-8", ","


def _saved_with_commas(desk: Desk) -> None:
    desk.sheet.delimiter = ","


def _first_file(desk: Desk) -> None:
    desk.sheet.checks = desk.notes.checks


def _swapped(desk: Desk, *_: str) -> None:
    desk.sheet.tanks, desk.sheet.checks = desk.sheet.checks, desk.sheet.tanks


def _no_blank_rows(desk: Desk) -> None:
    desk.rows[:] = [cells for cells in desk.rows if any(cells)]


def _headings_out(desk: Desk) -> None:
    first, *others = desk.rows
    desk.rows[:] = [first, *[cells for cells in others if cells != first]]


def _above_out(desk: Desk, count: str) -> None:
    del desk.rows[: int(count)]


def _cut(desk: Desk, row: str) -> None:
    del desk.rows[int(row) - 1][len(desk.rows[0]) :]


def _filled_up(desk: Desk, row: str) -> None:
    cells = desk.rows[int(row) - 1]
    cells += [""] * (len(desk.rows[0]) - len(cells))


def _column_out(desk: Desk, column: str) -> None:
    at = desk.rows[0].index(column)
    for cells in desk.rows:
        del cells[at]


def _nameless_out(desk: Desk) -> None:
    _column_out(desk, "")


def _column_added(desk: Desk, column: str) -> None:
    at = desk.truth[0].index(column)
    for cells, true in zip(desk.rows, desk.truth, strict=True):
        cells.insert(at, true[at])


def _quotes_out(desk: Desk, row: str) -> None:
    def change(lines: list[str]) -> None:
        lines[int(row) - 1] = lines[int(row) - 1].replace('"', "")

    desk.edit(change)


RULES: Sequence[tuple[str, Deed]] = [
    (rf"(?:Correct|Look up) row ([\d,]+), column {NAME}", _from_notes),
    (rf"Write one of the dictionary's codes into row ([\d,]+), column {NAME}", _from_notes),
    (r"Give row ([\d,]+) a key of its own", _each_from_notes),
    (r"Row ([\d,]+) has the same .+ as an earlier row\. Correct the wrong one", _each_from_notes),
    (r"Correct the name in row ([\d,]+)", _each_from_notes),
    (r"Take the surplus cell out of row (\d+)", _cut),
    (r"Add the missing separators to row (\d+)", _filled_up),
    (rf"Take column {NAME} out", _column_out),
    (r"Take the column without a name out", _nameless_out),
    (rf"Add column {NAME} to the file", _column_added),
    (r"Give each column its own name, as the dictionary has it", _headed),
    (rf"Rename the column to {NAME}, or put the columns in the dictionary's order", _headed),
    (r"Write the headings just as the dictionary has them, in the first row", _headed),
    (r"In row (\d+), put quotation marks around the whole cell or take them out", _quotes_out),
    (r"Find the quotation mark in row (\d+) .* close or remove it", _quotes_out),
    (r"Take row (\d+) out of the table", _out),
    (rf"Write each date of column {NAME} as (\S+)\. In a spreadsheet", _as_day),
    (rf"Set the format of column {NAME} to a date \((\S+)\)", _as_day),
    (rf"Write the numbers of column {NAME} with a point",
     lambda desk, column: desk.in_column(column, _number)),
    (rf"Write the numbers of column {NAME} without a sign between thousands",
     lambda desk, column: desk.in_column(column, _digits)),
    (rf"Take the unit out of each cell of column {NAME}",
     lambda desk, column: desk.in_column(column, _bare)),
    (rf"Leave the cells of column {NAME} empty where nothing was measured", _emptied),
    (rf"Write each code of column {NAME} just as the list or the register has it", _alike),
    (rf"Set the format of column {NAME} to text in the spreadsheet, write the zeros again", _zeros),
    (r"Take the spaces before and after the words out of these cells", _trimmed),
    (r"Take the first column out, and leave everything else as it is", _first_out),
    (r"See where .* each row ends with a separator too many", _over_own_columns),
    (r"Save the table as CSV with commas between the cells", _saved_with_commas),
    (r"Save the table as “CSV UTF-8” in the spreadsheet", _saved),
    (r"Open the first file, from before it was mangled", _first_file),
    (r"Give (\S+) and (\S+) each other's name", _swapped),
    (r"Delete the blank rows", _no_blank_rows),
    (r"Take these rows out: the heading stands once", _headings_out),
    (r"Take out the (\d+) rows? above the heading", _above_out),
    (r"Put a row above the data that names the columns: (.+), each above", _heading_back),
    (r"See whether a quotation mark in row \d+ swallowed .* leave it", lambda desk: None),
]  # fmt: skip
"""What somebody does when they read these words; a remedy of other words is one too few here."""


def follow(
    sheet: Package,
    notes: Package,
    suspicions: Iterable[Suspicion],
    findings: Iterable[Finding],
) -> None:
    """Do what the report says: each cause's remedy, or, where none is suspected, each finding's.

    Raises
    ------
    LookupError
        When a remedy is not understood.
    """
    causes = list(suspicions)
    if causes:
        for one in causes:
            desk = Desk(sheet, notes, one, None, one.columns, bool(one.refused))
            _do(desk, one.remedy)
    else:
        for said in findings:
            columns = tuple(said.field.split(", ")) if said.field else ()
            _do(Desk(sheet, notes, said, said.row, columns, False), said.remedy)


def _do(desk: Desk, remedy: str) -> None:
    for pattern, deed in RULES:
        if told := re.match(pattern, remedy, re.DOTALL):
            deed(desk, *told.groups())
            return
    raise LookupError(remedy)
