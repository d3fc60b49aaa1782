"""A file as numbered rows of cells, whatever it is: a text, or one sheet of a workbook."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from archive.engine.intake import text
from archive.engine.limits import Limits
from registry.errors import TooLarge
from registry.guarded.book import Book, Cell, Row
from registry.guarded.workbook import Merge


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
    """One sheet of an open workbook.

    `filled_after` is the row after which a merged cell counts for each row that it covers; None
    where it counts for the first one only.
    """

    book: Book
    name: str
    filled_after: int | None = None

    def rows(self) -> Iterator[Row]:
        """Give the rows, each with its number on the sheet."""
        rows = self.book.rows(self.name)
        if self.filled_after is None:
            return rows
        return _filled(rows, self.book.sheet(self.name).merges_under(self.filled_after))


def _filled(rows: Iterator[Row], merges: list[Merge]) -> Iterator[Row]:
    """Write the value of a merged cell into each row beneath its first one that it covers."""
    waiting = sorted(merges, reverse=True)
    open_ones: list[tuple[int, int, Cell]] = []
    for number, read in rows:
        cells = list(read)
        open_ones = [one for one in open_ones if one[0] >= number]
        for _, column, value in open_ones:
            cells += [""] * (column - len(cells))
            cells[column - 1] = value
        while waiting and waiting[-1][0] <= number:
            top, left, bottom, _ = waiting.pop()
            if top == number and left <= len(cells):
                open_ones.append((bottom, left, cells[left - 1]))
        yield number, cells


type Grid = TextGrid | SheetGrid
