"""A chunk of rows, column by column, as the checks are given it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from archive.engine.findings import Finding

CHUNK_ROWS = 20_000
CHUNK_CELLS = 400_000
CHUNK_LETTERS = 30_000_000


@dataclass(slots=True)
class Chunk:
    """Rows of one table, in order.

    Parameters
    ----------
    rows : list of int
        Record numbers; the header is 1.
    columns : mapping of name to list
        Typed values; None where the cell is empty or of the wrong type.
    written : list of list of str
        The cells as they stand in the file.
    places : mapping of name to int
        Where a column stands in `written`.
    """

    rows: list[int]
    columns: Mapping[str, list[Any]]
    written: list[list[str]]
    places: Mapping[str, int]

    def cell(self, name: str, number: int) -> str:
        """The cell as it was written; "" where the row is too short."""
        cells, at = self.written[number], self.places[name]
        return cells[at] if at < len(cells) else ""


class Check(Protocol):
    """What every check of our own can do.

    A check that judges each row by a few of its cells alone names their columns in `reads`; the
    fast way then shows it one row of each combination. One that must see every row says None, and
    its table is read the slow way.
    """

    @property
    def reads(self) -> tuple[str, ...] | None:
        """The columns that decide on a row."""
        ...

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        ...

    def close(self) -> Iterator[Finding]:
        """Say what only the whole table can tell."""
        ...
