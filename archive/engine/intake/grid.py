"""A file as numbered rows of cells, whatever it is: a text, or one sheet of a workbook."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from archive.engine.intake import text
from archive.engine.intake.scan import WHAT, BookFacts, SheetFacts, scan
from archive.engine.intake.values import Cell
from archive.engine.limits import Limits
from registry.errors import TooLarge, Unsound

type Row = tuple[int, list[Cell]]


@dataclass(frozen=True)
class TextGrid:
    """A text with the way it is cut."""

    path: Path
    encoding: str
    delimiter: str
    quote: str
    limits: Limits

    def rows(self) -> Iterator[Row]:
        """Give the rows, each with its first line's number."""
        cut = text.rows_of(
            self.path,
            self.encoding,
            self.delimiter,
            self.quote,
            cell_bytes=self.limits.cell_bytes,
        )
        for number, cells in cut:
            if len(cells) > self.limits.columns:
                raise TooLarge(
                    text.WHAT,
                    f"Line {number} has {len(cells):,} columns; {self.limits.columns} at most.",
                    "Look whether the delimiter is right, and leave out what is not data.",
                )
            yield number, list(cells)


class Book:
    """A workbook that was looked through, and is open for reading."""

    def __init__(self, path: Path, limits: Limits) -> None:
        self.limits = limits
        self.facts: BookFacts = scan(path, limits)
        try:
            self.book = CalamineWorkbook.from_path(path)
        except (CalamineError, OSError, ValueError) as fault:
            raise _broken(fault) from None
        self._kept: CalamineSheet | None = None
        self.names: list[str] = list(self.book.sheet_names)

    def sheet(self, name: str) -> SheetFacts:
        """Give what is known of one sheet; of an older .xls only its name."""
        for sheet in self.facts.sheets:
            if sheet.name == name:
                return sheet
        return SheetFacts(name)

    def _opened(self, name: str) -> CalamineSheet:
        """Give a sheet; the last one that was read is kept, since it is read more than once."""
        if self._kept is None or self._kept.name != name:
            self._kept = None
            try:
                self._kept = self.book.get_sheet_by_name(name)
            except (CalamineError, OSError, ValueError) as fault:
                raise _broken(fault) from None
        return self._kept

    def rows(self, name: str) -> Iterator[Row]:
        """Give the rows of a sheet from its first one, cells from column A, failures in place."""
        facts = self.sheet(name)
        sheet = self._opened(name)
        if sheet.start is None or sheet.end is None:
            return
        if sheet.end[0] >= self.limits.workbook_rows or sheet.end[1] >= self.limits.columns:
            raise TooLarge(
                WHAT,
                f"The sheet “{name}” is larger than {self.limits.workbook_rows:,} rows or"
                f" {self.limits.columns:,} columns.",
                "Delete what lies beyond the data, save, and send it again.",
            )
        offset: list[Cell] = [""] * sheet.start[1]
        failed: dict[int, list[tuple[int, str]]] = {}
        for (at, column), words in facts.errors.items():
            failed.setdefault(at, []).append((column, words))
        for number, cells in enumerate(sheet.iter_rows(), start=1):
            row: list[Cell] = offset + list(cells)
            for column, words in failed.get(number, ()):
                row += [""] * (column - len(row))
                row[column - 1] = words
            yield number, row


def _broken(fault: Exception) -> Unsound:
    return Unsound(
        WHAT,
        f"It cannot be read: {fault}.",
        "Open it where it was made, save it as .xlsx, or the sheet as CSV (UTF-8), and send that.",
    )


@dataclass(frozen=True)
class SheetGrid:
    """One sheet of an open workbook."""

    book: Book
    name: str

    def rows(self) -> Iterator[Row]:
        """Give the rows, each with its number on the sheet."""
        return self.book.rows(self.name)


type Grid = TextGrid | SheetGrid
