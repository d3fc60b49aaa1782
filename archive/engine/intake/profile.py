"""What the rows hold, column by column, and where a table ends: read as a stream."""

from array import array
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from archive.engine.intake.grid import Grid
from archive.engine.intake.names import Namesake
from archive.engine.intake.values import SERIALS, kind_of, said
from registry.guarded.book import Cell, Row

PLACES = 4
DISTINCT = 60
_MEMO = 100_000
NUMERIC = frozenset({"integer", "point", "number", "whole"})
COMMAS = frozenset({"comma", "thousand", "points and comma", "commas and point"})
DAYS = frozenset({"day first", "month first", "either", "same"})
_TIMES = frozenset({"iso time", "moment"}) | DAYS
_FITS: dict[str, frozenset[str]] = {
    "integer": frozenset({"integer", "whole", "thousand"}),
    "number": NUMERIC | COMMAS,
    "date": DAYS | {"iso", "date"},
    "datetime": _TIMES | {"iso", "date"},
    "time": frozenset({"clock", "time"}),
    "year": frozenset({"integer", "whole"}),
}


@dataclass
class Column:
    """What one column holds.

    Parameters
    ----------
    kinds : Counter
        Kinds of cells, with how often each comes.
    examples : dict of kind to list of (row, text)
        The first of each kind.
    values : Counter or None
        Different texts, as long as they are few.
    """

    kinds: Counter[str] = field(default_factory=Counter)
    examples: dict[str, list[tuple[int, str]]] = field(default_factory=dict)
    values: Counter[str] | None = field(default_factory=Counter)
    text_numbers: int = 0
    outside: int = 0

    @property
    def filled(self) -> int:
        """Cells that hold anything."""
        return self.kinds.total() - self.kinds["blank"]

    def count(self, kinds: Iterable[str]) -> int:
        """Give how many cells are of these kinds."""
        return sum(self.kinds[kind] for kind in kinds)

    def shown(self, *kinds: str) -> str:
        """Give an example of a kind in words, such as “12,5 in row 4”."""
        for kind in kinds:
            for row, text in self.examples.get(kind, ()):
                return f"“{text[:40]}” in row {row}"
        return ""

    def places(self, *kinds: str) -> tuple[str, ...]:
        """Give the first places of these kinds in words."""
        found = sorted(one for kind in kinds for one in self.examples.get(kind, ()))
        return tuple(f"row {row}: {text[:40]}" for row, text in found[:PLACES])

    def fit(self, field: Namesake) -> float:
        """Say what share of its filled cells can be a field's, 0 to 1; 1 where none is filled."""
        whole = self.filled - self.kinds["missing"] - self.kinds["error"]
        if whole <= 0:
            return 1.0
        if field.codes and self.values is not None:
            return sum(self.values[code] for code in field.codes) / whole
        if field.codes:
            return 0.0
        if field.type == "boolean":
            return self._booleans(field) / whole
        kinds = _FITS.get(field.type)
        if kinds is None:
            return 1.0
        fits = self.count(kinds)
        if field.type in {"date", "datetime"} and not fits and not self.outside:
            # Days may stand as the numbers that a workbook counts.
            fits = self.count(("integer", "whole", "number")) * 0.6  # type: ignore[assignment]  # why: a share
        return min(1.0, fits / whole)

    def _booleans(self, field: Namesake) -> int:
        words = set(field.words) or {"true", "false", "True", "False", "TRUE", "FALSE", "1", "0"}
        said_so = sum(self.values[word] for word in words) if self.values is not None else 0
        return max(said_so, self.kinds["boolean"])


class Profiler:
    """Reads rows and keeps what each column holds."""

    def __init__(self) -> None:
        self.columns: list[Column] = []
        self.rows = 0
        self.short = 0
        self._memo: dict[str, str] = {}

    def read(self, rows: Iterable[Row], width: int) -> None:
        """Read the rows of a table whose headings are so many."""
        self._widen(width)
        for number, cells in rows:
            self.rows += 1
            if len(cells) < width:
                self.short += 1
            elif len(cells) > len(self.columns):
                last = max(
                    (at for at, cell in enumerate(cells, 1) if said(cell).strip()), default=0
                )
                self._widen(last)
            for column, cell in zip(self.columns, cells, strict=False):
                self._see(column, number, cell)
            for column in self.columns[len(cells) :]:
                column.kinds["blank"] += 1

    def _widen(self, width: int) -> None:
        while len(self.columns) < width:
            column = Column()
            column.kinds["blank"] = self.rows
            self.columns.append(column)

    def _see(self, column: Column, number: int, cell: Cell) -> None:
        if isinstance(cell, str):
            kind = self._memo.get(cell)
            if kind is None:
                kind = kind_of(cell)
                if len(self._memo) < _MEMO:
                    self._memo[cell] = kind
            if kind in NUMERIC or kind in COMMAS:
                column.text_numbers += 1
        else:
            kind = kind_of(cell)
        column.kinds[kind] += 1
        if kind == "blank":
            return
        kept = column.examples.setdefault(kind, [])
        if len(kept) < PLACES:
            kept.append((number, said(cell).strip()))
        if kind in {"integer", "whole", "number"} and not 0 < float(cell) < SERIALS.stop:  # type: ignore[arg-type]  # why: its kind is a number's
            column.outside += 1
        if column.values is not None:
            column.values[said(cell).strip()] += 1
            if len(column.values) > DISTINCT:
                column.values = None


@dataclass(frozen=True)
class Foot:
    """How a table ends.

    Parameters
    ----------
    end : str
        "all", "blank" or "narrow", as proposed.
    narrow_cells : int
        Rows at the foot that fill no more cells than these are taken for notes.
    notes : tuple of (row, text)
        The first of what stands beneath the table.
    count : int
        How many rows of notes there are.
    blanks : int
        Blank rows inside the table.
    trailing : int
        Blank rows at the end.
    is_parted : bool
        Whether a blank row parts the notes from the table.
    """

    end: str
    narrow_cells: int
    notes: tuple[tuple[int, str], ...]
    count: int
    blanks: int
    trailing: int
    is_parted: bool


def foot_of(grid: Grid, after: int, width: int, hidden: set[int]) -> Foot:
    """Find where a table ends: notes at its foot fill few cells, or stand beneath a blank row.

    Parameters
    ----------
    grid : TextGrid or SheetGrid
        The file.
    after : int
        The last row of the headings.
    width : int
        How many headings there are.
    hidden : set of int
        Rows that are left out.
    """
    numbers, counts = array("Q"), array("H")
    tail: list[tuple[int, str]] = []
    for number, cells in grid.rows():
        if number <= after or number in hidden:
            continue
        texts = [said(cell).strip() for cell in cells]
        filled = [text for text in texts if text]
        numbers.append(number)
        counts.append(len(filled))
        tail.append((number, " ".join(filled)))
        if len(tail) > 200:
            del tail[:100]
    usual = Counter(count for count in counts if count).most_common(1)
    narrow = max(1, usual[0][0] // 3) if usual else 1
    last = len(counts)
    while last and counts[last - 1] <= narrow:
        last -= 1
    wide = max(1, max(usual[0][0], width) // 2) if usual else 1
    low = len(counts)
    while low and counts[low - 1] <= wide:
        low -= 1
    parted = next((at for at in range(low, last) if not counts[at]), last)
    if 0 < parted < last:
        # Beneath a blank row a note may fill more cells, where the sign between cells is in it.
        last, narrow = parted, wide
    first_blank = next((at for at, count in enumerate(counts) if not count), len(counts))
    notes = sum(1 for count in counts[last:] if count)
    is_parted = last < len(counts) and counts[last] == 0
    trailing = 0
    while trailing < len(counts) and counts[len(counts) - 1 - trailing] == 0:
        trailing += 1
    is_table_narrow = bool(usual) and usual[0][0] <= narrow
    if not notes or last == 0 or (is_table_narrow and not is_parted):
        blanks = sum(1 for count in counts[: len(counts) - trailing] if not count)
        return Foot("all", narrow, (), 0, blanks, trailing, is_parted=False)
    end = "blank" if is_parted and first_blank == last else "narrow"
    foot = [one for one in tail if one[1] and one[0] >= numbers[last]]
    blanks = sum(1 for count in counts[:last] if not count)
    return Foot(end, narrow, tuple(foot[:PLACES]), notes, blanks, trailing, is_parted)


def last_full(grid: Grid, after: int, narrow: int, hidden: set[int]) -> int:
    """Give the number of the last row that fills more than `narrow` cells."""
    last = after
    for number, cells in grid.rows():
        filled = sum(bool(said(cell).strip()) for cell in cells)
        if number > last and number not in hidden and filled > narrow:
            last = number
    return last


def body_of(
    grid: Grid,
    *,
    after: int,
    end: str,
    narrow: int,
    hidden: set[int],
    keeps_blanks: bool = False,
) -> Iterator[Row]:
    """Give the rows of the table alone: after the headings, before the notes, blank ones left out.

    Blank rows at the very end are never kept: nothing tells them from the end of the file.
    """
    stop = last_full(grid, after, narrow, hidden) if end == "narrow" else None
    waiting: list[Row] = []
    for number, cells in grid.rows():
        if number <= after or number in hidden:
            continue
        if stop is not None and number > stop:
            return
        if not any(said(cell).strip() for cell in cells):
            if end == "blank":
                return
            if keeps_blanks:
                waiting.append((number, cells))
            continue
        yield from waiting
        waiting.clear()
        yield number, cells
