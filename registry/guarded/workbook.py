"""What a workbook says of itself: how far its sheets reach, what is hidden, merged or failed."""

from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field

from registry.errors import Refusal, TooLarge, Unsound
from registry.guarded.limits import BookLimits

WHAT = "The workbook was not opened."
PLAIN = "Save the sheet as CSV (UTF-8) and send that, or make the workbook anew with only the data."
CELLS = 20_000_000
"""Cells from the first to the last one in use; each takes some 30 bytes once it is read."""
ENTRIES = 1000
MERGES = 10_000
FIRST = 5
_COLUMNS = 1 << 15
_WORDS = 200


@dataclass
class Failures:
    """Cells in which a formula failed, and what they say; nine bytes for each.

    Examples
    --------
    >>> failed = Failures()
    >>> failed.add(3, 2, "#N/A")
    >>> len(failed), list(failed.by_row())
    (1, [(3, [(2, '#N/A')])])
    """

    at: "array[int]" = field(default_factory=lambda: array("Q"))
    which: bytearray = field(default_factory=bytearray)
    words: list[str] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.at)

    def add(self, row: int, column: int, words: str) -> None:
        """Note one cell, rows and columns from 1."""
        if words not in self.words:
            if len(self.words) == _WORDS:
                words = self.words[0]
            else:
                self.words.append(words)
        self.at.append(row * _COLUMNS + column)
        self.which.append(self.words.index(words))

    def by_row(self) -> Iterator[tuple[int, list[tuple[int, str]]]]:
        """Give each row that has any, downward, with its columns and words."""
        order = range(len(self.at))
        if any(later < sooner for sooner, later in zip(self.at, self.at[1:], strict=False)):
            order = sorted(order, key=self.at.__getitem__)  # type: ignore[assignment]  # why: either is gone through
        row = 0
        found: list[tuple[int, str]] = []
        for one in order:
            here, column = divmod(self.at[one], _COLUMNS)
            if here != row and found:
                yield row, found
                found = []
            row = here
            found.append((column, self.words[self.which[one]]))
        if found:
            yield row, found

    def under(self, after: int) -> tuple[int, list[str]]:
        """Count those in the rows after one, and give the first in words."""
        least = (after + 1) * _COLUMNS
        below = [one for one in self.at if one >= least] if after else list(self.at)
        first = sorted(below)[:FIRST]
        told = [
            f"{place(*divmod(one, _COLUMNS))}: {self.words[self.which[self.at.index(one)]]}"
            for one in first
        ]
        return len(below), told


type Merge = tuple[int, int, int, int]
"""First row, first column, last row, last column; from 1, all inclusive."""


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
    merges : list of Merge
        Groups of cells that are merged.
    formulas, unkept : int
        Cells with a formula, and those of them that have no kept value.
    formula_places, unkept_places : list of str
        The first of each, as A1.
    errors : Failures
        Cells in which a formula failed.
    """

    name: str
    is_hidden: bool = False
    last_row: int = 0
    last_column: int = 0
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    merges: list[Merge] = field(default_factory=list)
    formulas: int = 0
    unkept: int = 0
    formula_places: list[str] = field(default_factory=list)
    unkept_places: list[str] = field(default_factory=list)
    errors: Failures = field(default_factory=Failures)

    def merges_under(self, after: int) -> list[Merge]:
        """Give the merged cells under a row that cover more than one row."""
        return [one for one in self.merges if one[0] > after and one[2] > one[0]]

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
                PLAIN,
            )


@dataclass(frozen=True)
class BookFacts:
    """What a workbook says of itself: its sheets, its first day, and how many remarks it has."""

    kind: str
    sheets: tuple[SheetFacts, ...]
    is_1904: bool = False
    remarks: int = 0


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


def check_weight(weight: int, limits: BookLimits) -> None:
    """Refuse a cell that holds too much text."""
    if weight > limits.cell_bytes:
        most = limits.cell_bytes // 1024
        raise TooLarge(WHAT, f"One cell of it holds over {most} kB of text.", PLAIN)


def whole_of(text: str | None, otherwise: int) -> int:
    """Read a whole number, or give the other one where there is none."""
    if text is None:
        return otherwise
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise Unsound(WHAT, f"“{text[:40]}” stands where a whole number must.", PLAIN)
    return int(text)


def column_of(letters: str) -> int:
    """Give the number of a column, from 1, by its letters."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number
