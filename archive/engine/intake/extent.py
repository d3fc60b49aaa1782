"""Where the table stands among the rows: what is above, inside and beneath it and is no data."""

from array import array
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from archive.engine.intake.grid import Grid
from archive.engine.intake.values import kind_of, said
from registry.guarded.book import Cell, Row

PLACES = 4
SUMS = frozenset(
    {"total", "totals", "grand total", "subtotal", "sum", "mean", "average", "avg", "median"}
    | {"sd", "s.d", "st dev", "stdev", "std dev", "se", "s.e", "min", "max", "minimum", "maximum"}
)
"""Words before totals and averages in a sheet. From memory, no source."""
_RECKONED = frozenset(
    {"blank", "missing", "error", "integer", "point", "number", "whole", "comma", "thousand"}
    | {"points and comma", "commas and point"}
)


@dataclass(frozen=True, slots=True)
class Extent:
    """Which rows are the table's.

    Parameters
    ----------
    after : int
        The last row of the headings, 0 where there are none.
    end : str
        "all", "blank" or "narrow".
    narrow : int
        For "narrow": rows at the foot that fill no more cells than these are notes.
    hidden : frozenset of int
        Rows that are left out.
    keeps_blanks : bool
        Whether blank rows inside stay.
    headings : tuple of tuple of str
        The rows of the headings, where they are left out when they come again; else empty.
    drops_sums : bool
        Whether rows of totals are left out.
    """

    after: int
    end: str = "all"
    narrow: int = 0
    hidden: frozenset[int] = frozenset()
    keeps_blanks: bool = False
    headings: tuple[tuple[str, ...], ...] = ()
    drops_sums: bool = False


def body_of(grid: Grid, extent: Extent) -> Iterator[Row]:
    """Give the rows of the table alone.

    Blank rows at the very end are never kept: nothing tells them from the end of the file.
    """
    stop = _last_full(grid, extent) if extent.end == "narrow" else None
    waiting: list[Row] = []
    for number, cells in grid.rows():
        if number <= extent.after or number in extent.hidden:
            continue
        if stop is not None and number > stop:
            return
        if is_blank(cells):
            if extent.end == "blank":
                return
            if extent.keeps_blanks:
                waiting.append((number, cells))
            continue
        if extent.headings and words_of(cells) in extent.headings:
            continue
        if extent.drops_sums and is_sum(cells):
            continue
        yield from waiting
        waiting.clear()
        yield number, cells


def _last_full(grid: Grid, extent: Extent) -> int:
    """Give the number of the last row that fills more than the narrow cells."""
    last = extent.after
    for number, cells in grid.rows():
        if number > last and number not in extent.hidden and _filled(cells) > extent.narrow:
            last = number
    return last


def is_blank(cells: list[Cell]) -> bool:
    """Whether no cell of a row holds anything."""
    return not _filled(cells)


def _filled(cells: list[Cell]) -> int:
    try:
        # Nearly every row is of texts alone, and there may be millions.
        return sum(map(bool, map(str.strip, cells)))  # type: ignore[arg-type]  # why: else see below
    except TypeError:
        return sum(not isinstance(cell, str) or bool(cell.strip()) for cell in cells)


def words_of(cells: list[Cell]) -> tuple[str, ...]:
    """Give a row's texts without the blanks at its end, to be compared with the headings."""
    texts = [" ".join(said(cell).split()) for cell in cells]
    while texts and not texts[-1]:
        texts.pop()
    return tuple(texts)


def is_sum(cells: list[Cell]) -> bool:
    """Whether a row begins with a word such as “Total”, and holds nothing but numbers after it.

    Examples
    --------
    >>> is_sum(["Total", "", "12,5"]), is_sum(["Total", "REST", "12.5"]), is_sum(["Max"])
    (True, False, False)
    """
    at = 0
    if not (cells and isinstance(cells[0], str) and cells[0].strip()):
        at = next((at for at, cell in enumerate(cells) if said(cell).strip()), -1)
    if at < 0 or not isinstance(cells[at], str):
        return False
    if said(cells[at]).strip(" :.=\t").casefold() not in SUMS:
        return False
    kinds = [kind_of(cell) for cell in cells[at + 1 :]]
    return any(kind != "blank" for kind in kinds) and _RECKONED.issuperset(kinds)


@dataclass
class Seen:
    """Rows of one sort: how many, and the first of them with their words."""

    rows: "array[int]" = field(default_factory=lambda: array("Q"))
    first: list[tuple[int, str]] = field(default_factory=list)

    @property
    def count(self) -> int:
        """Give how many there are."""
        return len(self.rows)

    def before(self, end: int) -> "Seen":
        """Give those that stand above a row."""
        rows = array("Q", (row for row in self.rows if row < end))
        return Seen(rows, [one for one in self.first if one[0] < end])

    def add(self, number: int, cells: list[Cell]) -> None:
        """Count one row."""
        self.rows.append(number)
        if len(self.first) < PLACES:
            self.first.append((number, " ".join(" ".join(map(said, cells)).split())))

    @property
    def shown(self) -> str:
        """Give the first of them in words."""
        return "; ".join(f"row {row}: {words[:60]}" for row, words in self.first)


@dataclass(frozen=True)
class Foot:
    """How a table ends, and what stands in it that is no data.

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
    repeats, sums : Seen
        Rows that are the headings again, and rows of totals.
    are_sums_last : bool
        Whether no other row of the table stands under the first of the totals.
    """

    end: str
    narrow_cells: int
    notes: tuple[tuple[int, str], ...]
    count: int
    blanks: int
    trailing: int
    is_parted: bool
    repeats: Seen
    sums: Seen
    are_sums_last: bool


def foot_of(grid: Grid, extent: Extent, width: int) -> Foot:
    """Find where a table ends: notes at its foot fill few cells, or stand beneath a blank row.

    Parameters
    ----------
    grid : TextGrid or SheetGrid
        The file.
    extent : Extent
        Where its headings end and what they are; its own end is not looked at.
    width : int
        How many headings there are.
    """
    numbers, counts = array("Q"), array("H")
    tail: list[tuple[int, str]] = []
    repeats, sums = Seen(), Seen()
    firsts = {row[:1] for row in extent.headings}
    under = 0
    for number, cells in grid.rows():
        if number <= extent.after or number in extent.hidden:
            continue
        filled = _filled(cells)
        numbers.append(number)
        counts.append(filled)
        tail.append((number, ""))
        if filled < 12:
            tail[-1] = (number, " ".join(said(cell).strip() for cell in cells).strip())
        if len(tail) > 200:
            del tail[:100]
        if filled and is_sum(cells):
            sums.add(number, cells)
            under = 0
        elif filled and words_of(cells[:1]) in firsts:
            if words_of(cells) in extent.headings:
                repeats.add(number, cells)
        else:
            under += bool(filled)
    return _footed(numbers, counts, tail, width, repeats, sums, under)


def _footed(
    numbers: "array[int]",
    counts: "array[int]",
    tail: list[tuple[int, str]],
    width: int,
    repeats: Seen,
    sums: Seen,
    under: int,
) -> Foot:
    """Weigh how many cells the rows fill, from the foot upward."""
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
        last, notes, is_parted = len(counts) - trailing, 0, False
    end = "all"
    if notes:
        end = "blank" if is_parted and first_blank == last else "narrow"
    foot = [one for one in tail if notes and one[1] and one[0] >= numbers[last]]
    if notes:
        # Totals beneath the table are notes already.
        repeats, sums = repeats.before(numbers[last]), sums.before(numbers[last])
    return Foot(
        end,
        narrow,
        tuple(foot[:PLACES]),
        notes,
        sum(1 for count in counts[:last] if not count),
        trailing,
        is_parted,
        repeats,
        sums,
        under <= notes,
    )
