"""A workbook that was weighed, and is then opened: its sheets as rows of cells."""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from registry.errors import TooLarge, Unsound
from registry.guarded.limits import BookLimits
from registry.guarded.scan import scan
from registry.guarded.workbook import WHAT, BookFacts, SheetFacts

type Cell = str | int | float | bool | date | datetime | time | timedelta
type Row = tuple[int, list[Cell]]


class Book:
    """A workbook that was looked through, and is open for reading."""

    def __init__(self, path: Path, limits: BookLimits) -> None:
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
        failures = facts.errors.by_row()
        failed, told = next(failures, (0, []))
        for number, cells in enumerate(sheet.iter_rows(), start=1):
            row: list[Cell] = offset + list(cells)
            if number == failed:
                for column, words in told:
                    row += [""] * (column - len(row))
                    row[column - 1] = words
                failed, told = next(failures, (0, []))
            yield number, row


def _broken(fault: Exception) -> Unsound:
    return Unsound(
        WHAT,
        f"It cannot be read: {fault}.",
        "Open it where it was made, save it as .xlsx, or the sheet as CSV (UTF-8), and send that.",
    )
