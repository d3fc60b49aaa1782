"""Workbooks looked at before they are opened: the zip's members and each sheet as a stream.

A workbook of 4.8 kB may name one far cell, and whoever opens it would ask for hundreds of
gigabytes. Nothing here holds more than one piece of a stream, whatever the file says of itself.

References
----------
ECMA-376 part 1, 18.2 and 18.3 (workbooks and worksheets); OpenDocument 1.3 part 3, 9 (tables).
"""

import posixpath
import re
import zipfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.parsers import expat

from registry.errors import Refusal, TooLarge, Unsound
from registry.guarded.limits import BookLimits
from registry.guarded.sizes import size

WHAT = "The workbook was not opened."
BLOCK_BYTES = 1 << 16
ENTRIES = 1000
RATIO_FREE_BYTES = 1_000_000
CELLS = 20_000_000
"""Cells from the first to the last one in use; each takes some 30 bytes once it is read."""
TOLD = 10_000
_DEEP = 64
_WAITING_BYTES = 1_000_000
_MERGES = 10_000
_PLAIN = (
    "Save the sheet as CSV (UTF-8) and send that, or make the workbook anew with only the data."
)
_REF = re.compile(r"([A-Z]{1,4})([0-9]{1,9})")
_TABLE = "urn:oasis:names:tc:opendocument:xmlns:table:1.0 "
_OFFICE = "urn:oasis:names:tc:opendocument:xmlns:office:1.0 "
_CALC = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0 "


@dataclass
class SheetFacts:
    """What one sheet says of itself.

    Parameters
    ----------
    name : str
        Its name.
    is_hidden : bool
        Whether the sheet is hidden.
    last_row, last_column : int
        Of the cells in use, from 1.
    hidden_rows, hidden_columns : set of int
        From 1.
    merges : list of (first row, first column, last row, last column)
        From 1, all inclusive.
    formulas, unkept : int
        Cells with a formula, and those of them that have no kept value.
    formula_places, unkept_places : list of str
        The first of each, as A1.
    errors : dict of (row, column) to str
        Cells in which a formula failed, and what they say.
    """

    name: str
    is_hidden: bool = False
    last_row: int = 0
    last_column: int = 0
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    merges: list[tuple[int, int, int, int]] = field(default_factory=list)
    formulas: int = 0
    unkept: int = 0
    formula_places: list[str] = field(default_factory=list)
    unkept_places: list[str] = field(default_factory=list)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)

    def sees(self, row: int, column: int, limits: BookLimits) -> None:
        """Note that a cell is in use; refuse one that is too far out."""
        self.last_row = max(self.last_row, row)
        self.last_column = max(self.last_column, column)
        if self.last_row > limits.workbook_rows or self.last_column > limits.columns:
            raise _far(self, limits)
        if self.last_row * self.last_column > CELLS:
            raise TooLarge(
                WHAT,
                f"The sheet “{self.name}” spans {self.last_row:,} rows by"
                f" {self.last_column:,} columns, more than {CELLS:,} cells.",
                _PLAIN,
            )


@dataclass(frozen=True)
class BookFacts:
    """What a workbook says of itself: its sheets, and whether it counts its days from 1904."""

    kind: str
    sheets: tuple[SheetFacts, ...]
    is_1904: bool = False


def _far(sheet: SheetFacts, limits: BookLimits) -> Refusal:
    where = place(sheet.last_row, sheet.last_column)
    return TooLarge(
        WHAT,
        f"The sheet “{sheet.name}” has a cell at {where}; {limits.workbook_rows:,} rows and"
        f" {limits.columns:,} columns are read at most.",
        "Often one stray cell far out is the cause: delete the rows and columns beyond the data,"
        " save, and send it again.",
    )


def place(row: int, column: int) -> str:
    """Give a cell's name.

    >>> place(1, 1), place(1048576, 16384)
    ('A1', 'XFD1048576')
    """
    letters = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row}"


def scan(path: Path, limits: BookLimits) -> BookFacts:
    """Look through a workbook as a stream.

    Parameters
    ----------
    path : Path
        The file; an older .xls, which is no zip, is let through with its size alone.
    limits : BookLimits
        For the bytes, the rows, the columns, a cell, and how far the zip may unfold.

    Raises
    ------
    TooLarge
        When anything of it is over a limit.
    Unsound
        When it is locked, broken, declares a document type, or is of a kind that is not read.
    """
    weight = path.stat().st_size
    if weight > limits.workbook_bytes:
        most = size(limits.workbook_bytes)
        raise TooLarge(WHAT, f"It is {size(weight)}; {most} are read at most.", _PLAIN)
    with path.open("rb") as file:
        if file.read(4) == b"\xd0\xcf\x11\xe0":
            return BookFacts("xls", ())
    try:
        with zipfile.ZipFile(path) as book:
            return _Book(book, weight, limits).facts()
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError) as fault:
        raise Unsound(WHAT, f"It is not a sound workbook: {fault}.", _PLAIN) from None


class _Book:
    """One workbook while it is looked through; what comes out of it is counted over all members."""

    def __init__(self, book: zipfile.ZipFile, weight: int, limits: BookLimits) -> None:
        self.book, self.weight, self.limits = book, weight, limits
        self.unfolded = 0
        self.names = self._members()

    def _members(self) -> set[str]:
        entries = self.book.infolist()
        if len(entries) > ENTRIES:
            raise TooLarge(WHAT, f"It holds {len(entries):,} parts; {ENTRIES:,} at most.", _PLAIN)
        names: set[str] = set()
        for entry in entries:
            name = entry.filename
            if entry.flag_bits & 0x41:
                raise Unsound(WHAT, "It is locked with a password.", "Save it without one.")
            if name.startswith("/") or ".." in name.split("/") or "\\" in name:
                raise Unsound(WHAT, f"A part of it is named “{name[:80]}”.", _PLAIN)
            if name.casefold() in names:
                raise Unsound(WHAT, f"Two parts of it are named “{name[:80]}”.", _PLAIN)
            names.add(name.casefold())
        self._hold(sum(entry.file_size for entry in entries))
        return {entry.filename for entry in entries}

    def _hold(self, count: int) -> None:
        if count > RATIO_FREE_BYTES and count > self.limits.zip_ratio * self.weight:
            why = f"It unfolds to more than {self.limits.zip_ratio} times its size."
            raise TooLarge(WHAT, why, _PLAIN)

    def facts(self) -> BookFacts:
        if "content.xml" in self.names:
            return self._open_document()
        if "xl/workbook.bin" in self.names:
            raise Unsound(
                WHAT,
                "It is a binary workbook (.xlsb), which cannot be looked through safely.",
                "Save it as .xlsx, or the sheet as CSV (UTF-8).",
            )
        if "xl/workbook.xml" not in self.names:
            raise Unsound(WHAT, "There is no workbook in it.", _PLAIN)
        head = _Head()
        self._parse("xl/workbook.xml", head.start, None, None)
        links = _Links()
        rels = "xl/_rels/workbook.xml.rels"
        if rels in self.names:
            self._parse(rels, links.start, None, None)
        for name in self.names:
            if name.endswith("sharedStrings.xml"):
                text = _Texts(self.limits)
                self._parse(name, text.start, text.end, text.text)
        sheets = []
        for name, link, is_hidden in head.sheets:
            facts = SheetFacts(name, is_hidden=is_hidden)
            target = links.targets.get(link, "")
            if target in self.names and "chartsheets" not in target:
                one = _Sheet(facts, self.limits)
                self._parse(target, one.start, one.end, one.text)
            sheets.append(facts)
        return BookFacts("xlsx", tuple(sheets), is_1904=head.is_1904)

    def _open_document(self) -> BookFacts:
        content = _Content(self.limits)
        self._parse("content.xml", content.start, content.end, content.text, spaced=True)
        return BookFacts("ods", tuple(content.sheets))

    def _parse(
        self,
        name: str,
        start: Callable[[str, dict[str, str]], None],
        end: Callable[[str], None] | None,
        text: Callable[[str], None] | None,
        *,
        spaced: bool = False,
    ) -> None:
        """Send one part through an XML parser that knows no document types, block after block."""
        parser = expat.ParserCreate(namespace_separator=" ") if spaced else expat.ParserCreate()
        parser.buffer_text = True
        depth = 0

        def refuse(*_: Any) -> None:
            raise Unsound(
                WHAT,
                "A part of it declares a document type or entities, which no spreadsheet writes and"
                " which can unfold without end.",
                _PLAIN,
            )

        def begin(tag: str, given: dict[str, str]) -> None:
            nonlocal depth
            depth += 1
            if depth > _DEEP:
                raise Unsound(WHAT, f"A part of it is nested over {_DEEP} deep.", _PLAIN)
            start(tag, given)

        def close(tag: str) -> None:
            nonlocal depth
            depth -= 1
            if end is not None:
                end(tag)

        parser.StartDoctypeDeclHandler = refuse
        parser.EntityDeclHandler = refuse
        parser.StartElementHandler = begin
        parser.EndElementHandler = close
        if text is not None:
            parser.CharacterDataHandler = text
        try:
            with self.book.open(name) as part:
                sent = 0
                while block := part.read(BLOCK_BYTES):
                    sent += len(block)
                    self.unfolded += len(block)
                    self._hold(self.unfolded)
                    parser.Parse(block, False)
                    if sent - max(parser.CurrentByteIndex, 0) > _WAITING_BYTES:
                        raise TooLarge(WHAT, "A mark in it never ends.", _PLAIN)
                parser.Parse(b"", True)
        except expat.ExpatError as fault:
            raise Unsound(WHAT, f"Its part {name[:80]} is broken: {fault}.", _PLAIN) from None


def _tag(name: str) -> str:
    return name.rpartition(":")[2] if ":" in name else name


class _Head:
    """Reads the list of sheets and the way in which days are counted."""

    def __init__(self) -> None:
        self.sheets: list[tuple[str, str, bool]] = []
        self.is_1904 = False

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        if _tag(tag) == "workbookPr":
            self.is_1904 = given.get("date1904", "") in {"1", "true"}
        elif _tag(tag) == "sheet" and len(self.sheets) < ENTRIES:
            link = next((value for key, value in given.items() if key.endswith(":id")), "")
            hidden = given.get("state", "visible") != "visible"
            self.sheets.append((given.get("name", ""), link, hidden))


class _Links:
    """Reads where the sheets lie."""

    def __init__(self) -> None:
        self.targets: dict[str, str] = {}

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        if _tag(tag) == "Relationship" and len(self.targets) < ENTRIES:
            target = given.get("Target", "")
            whole = target[1:] if target.startswith("/") else posixpath.join("xl", target)
            self.targets[given.get("Id", "")] = posixpath.normpath(whole)


class _Texts:
    """Weighs the shared texts, one by one."""

    def __init__(self, limits: BookLimits) -> None:
        self.limits, self.weight = limits, 0

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        if _tag(tag) == "si":
            self.weight = 0

    def end(self, tag: str) -> None:
        """Nothing is kept of a text."""

    def text(self, words: str) -> None:
        self.weight += len(words)
        _check_weight(self.weight, self.limits)


def _check_weight(weight: int, limits: BookLimits) -> None:
    if weight > limits.cell_bytes:
        most = limits.cell_bytes // 1024
        raise TooLarge(WHAT, f"One cell of it holds over {most} kB of text.", _PLAIN)


class _Sheet:
    """Reads one worksheet: which cells are in use, and what is hidden, merged, reckoned, failed."""

    def __init__(self, facts: SheetFacts, limits: BookLimits) -> None:
        self.facts, self.limits = facts, limits
        self.row = self.column = self.weight = 0
        self.kind = self.words = ""
        self.has_formula = self.has_value = self.is_reading = self.is_cell = False

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        tag = _tag(tag)
        if self.is_cell and (
            self.row > self.facts.last_row or self.column > self.facts.last_column
        ):
            # A cell with nothing inside is only painted, and no reader makes room for it.
            self.facts.sees(self.row, self.column, self.limits)
        if tag == "c":
            self._cell(given)
        elif tag == "row":
            self.row = _whole(given.get("r"), self.row + 1)
            self.column = 0
            if given.get("hidden") in {"1", "true"}:
                if self.row > self.limits.workbook_rows:
                    self.facts.sees(self.row, 1, self.limits)
                self.facts.hidden_rows.add(self.row)
        elif tag in {"v", "is"}:
            self.has_value = self.is_reading = True
            self.words, self.weight = "", 0
        elif tag == "f":
            self.has_formula, self.weight = True, 0
            self.is_reading = False
        elif tag == "col" and given.get("hidden") in {"1", "true"}:
            first, last = _whole(given.get("min"), 1), _whole(given.get("max"), 1)
            self.facts.hidden_columns |= set(range(first, min(last, self.limits.columns) + 1))
        elif tag == "mergeCell" and len(self.facts.merges) < _MERGES:
            corners = _REF.findall(given.get("ref", ""))
            if len(corners) == 2:
                (left, top), (right, bottom) = corners
                self.facts.merges.append((int(top), _column(left), int(bottom), _column(right)))

    def _cell(self, given: Mapping[str, str]) -> None:
        self.kind = given.get("t", "")
        self.has_formula = self.has_value = self.is_reading = False
        self.words = ""
        if match := _REF.fullmatch(given.get("r", "")):
            self.row, self.column = int(match[2]), _column(match[1])
        else:
            self.column += 1
        self.is_cell = True

    def end(self, tag: str) -> None:
        tag = _tag(tag)
        if tag in {"v", "is"}:
            self.is_reading = False
        elif tag == "c":
            self.is_cell = False
            if self.has_formula:
                where = place(self.row, self.column)
                self.facts.formulas += 1
                if len(self.facts.formula_places) < 5:
                    self.facts.formula_places.append(where)
                if not self.has_value:
                    self.facts.unkept += 1
                    if len(self.facts.unkept_places) < 5:
                        self.facts.unkept_places.append(where)
            if self.kind == "e" and len(self.facts.errors) < TOLD:
                self.facts.errors[self.row, self.column] = self.words.strip() or "#N/A"

    def text(self, words: str) -> None:
        self.weight += len(words)
        _check_weight(self.weight, self.limits)
        if self.is_reading and self.kind == "e" and len(self.words) < 20:
            self.words += words


class _Content:
    """Reads the tables of an OpenDocument spreadsheet; rows and cells may be repeated."""

    def __init__(self, limits: BookLimits) -> None:
        self.limits = limits
        self.sheets: list[SheetFacts] = []
        self.row = self.rows = self.column = self.columns = self.at = self.weight = 0
        self.is_hidden = self.is_cell = self.is_error = self.is_used = self.has_used = False
        self.words = ""
        self.is_calculated = False

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        if not tag.startswith(_TABLE):
            if self.is_cell and tag.endswith(" p"):
                self.is_used = True
            return
        name = tag[len(_TABLE) :]
        if name == "table" and len(self.sheets) < ENTRIES:
            self.sheets.append(SheetFacts(given.get(f"{_TABLE}name", "")))
            self.row = self.rows = self.at = 0
        elif name == "table-column":
            count = _whole(given.get(f"{_TABLE}number-columns-repeated"), 1)
            if given.get(f"{_TABLE}visibility", "visible") != "visible":
                last = min(self.at + count, self.limits.columns)
                self.sheets[-1].hidden_columns |= set(range(self.at + 1, last + 1))
            self.at += count
        elif name == "table-row":
            self.row += self.rows
            self.rows = _whole(given.get(f"{_TABLE}number-rows-repeated"), 1)
            self.column = self.columns = 0
            self.is_hidden = given.get(f"{_TABLE}visibility", "visible") != "visible"
            self.has_used = False
        elif name in {"table-cell", "covered-table-cell"}:
            self._cell(given)

    def _cell(self, given: Mapping[str, str]) -> None:
        self.column += self.columns
        self.columns = _whole(given.get(f"{_TABLE}number-columns-repeated"), 1)
        self.is_cell, self.weight, self.words = True, 0, ""
        self.is_used = f"{_OFFICE}value-type" in given or f"{_TABLE}formula" in given
        self.is_calculated = f"{_TABLE}formula" in given
        self.is_error = given.get(f"{_CALC}value-type") == "error"
        across = _whole(given.get(f"{_TABLE}number-columns-spanned"), 1)
        down = _whole(given.get(f"{_TABLE}number-rows-spanned"), 1)
        if (across > 1 or down > 1) and len(self.sheets[-1].merges) < _MERGES:
            row, column = self.row + 1, self.column + 1
            self.sheets[-1].merges.append((row, column, row + down - 1, column + across - 1))

    def end(self, tag: str) -> None:
        if tag in {f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"}:
            self._end_cell()
        elif tag == f"{_TABLE}table-row" and self.is_hidden and self.has_used:
            last = min(self.row + self.rows, self.limits.workbook_rows)
            self.sheets[-1].hidden_rows |= set(range(self.row + 1, last + 1))

    def _end_cell(self) -> None:
        self.is_cell = False
        if not self.is_used:
            return
        self.has_used = True
        sheet = self.sheets[-1]
        sheet.sees(self.row + self.rows, self.column + self.columns, self.limits)
        where = place(self.row + 1, self.column + 1)
        if self.is_calculated:
            sheet.formulas += 1
            if len(sheet.formula_places) < 5:
                sheet.formula_places.append(where)
        if self.is_error and len(sheet.errors) < TOLD:
            sheet.errors[self.row + 1, self.column + 1] = self.words.strip() or "#N/A"

    def text(self, words: str) -> None:
        if self.is_cell:
            self.weight += len(words)
            _check_weight(self.weight, self.limits)
            if self.is_error and len(self.words) < 20:
                self.words += words


def _whole(text: str | None, otherwise: int) -> int:
    if text is None:
        return otherwise
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise Unsound(WHAT, f"“{text[:40]}” stands where a whole number must.", _PLAIN)
    return int(text)


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number
