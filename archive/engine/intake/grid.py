"""A file as numbered rows of cells, whatever it is: a text, or one sheet of a workbook."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from archive.engine.intake import text
from archive.engine.limits import Limits
from registry.errors import TooLarge
from registry.guarded.book import Book, Row


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


@dataclass(frozen=True)
class SheetGrid:
    """One sheet of an open workbook."""

    book: Book
    name: str

    def rows(self) -> Iterator[Row]:
        """Give the rows, each with its number on the sheet."""
        return self.book.rows(self.name)


type Grid = TextGrid | SheetGrid
