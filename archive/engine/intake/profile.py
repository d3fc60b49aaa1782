"""What the rows hold, column by column: read as a stream."""

import itertools
import re
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache

import numpy as np

from archive.engine.intake.days import day_of, has_short_year
from archive.engine.intake.decisions import several
from archive.engine.intake.extent import PLACES, Seen, is_blank
from archive.engine.intake.names import Namesake
from archive.engine.intake.values import SERIALS, kind_of, said
from registry.guarded.book import Cell, Row

DISTINCT = 60
BATCH = 2000
_MEMO = 100_000
NUMERIC = frozenset({"integer", "compact", "point", "number", "whole"})
TEXT_NUMBERS = ("integer", "compact", "point")
COMMAS = frozenset({"comma", "thousand", "points and comma", "commas and point"})
DAYS = frozenset({"day first", "month first", "either", "same"})
SURE_DAYS = frozenset({"year first", "named", "compact"})
"""Days that can be read in one way only, and that are written otherwise than the archive's."""
COUNTED = ("integer", "whole", "number", "point")
_TIMES = frozenset({"iso time", "moment"}) | DAYS | SURE_DAYS
_FITS: dict[str, frozenset[str]] = {
    "integer": frozenset({"integer", "compact", "whole", "thousand"}),
    "number": NUMERIC | COMMAS,
    "date": DAYS | SURE_DAYS | {"iso", "date"},
    "datetime": _TIMES | {"iso", "date"},
    "time": frozenset({"clock", "full clock", "time"}),
    "year": frozenset({"integer", "whole"}),
}
_SHORT_YEARS = DAYS | {"named"}


@dataclass
class Span:
    """What the days of a column would be by one order: from when to when, and how often back."""

    first: datetime | None = None
    last: datetime | None = None
    back: int = 0
    _before: datetime | None = None

    def add(self, moment: datetime | None) -> None:
        """Go on to the next day, downward."""
        if moment is None:
            return
        self.first = min(self.first or moment, moment)
        self.last = max(self.last or moment, moment)
        self.back += self._before is not None and moment < self._before
        self._before = moment

    @property
    def words(self) -> str:
        """Say it in words; empty where there is no day."""
        if self.first is None or self.last is None:
            return ""
        steps = f"going back {several(self.back, 'time')}" if self.back else "never going back"
        return f"{self.first:%-d %B %Y} to {self.last:%-d %B %Y}, {steps}"


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
    text_numbers : int
        Numbers that stand as text.
    outside : int
        Whole numbers that no workbook counts its days with.
    short_years : int
        Days with a year of two digits.
    late_days : int
        Days of a workbook's own that are after the twelfth of their month.
    spans : dict of order to Span
        What its days in three numbers would be by "dmy" and by "mdy".
    """

    kinds: Counter[str] = field(default_factory=Counter)
    examples: dict[str, list[tuple[int, str]]] = field(default_factory=dict)
    values: Counter[str] | None = field(default_factory=Counter)
    text_numbers: int = 0
    outside: int = 0
    short_years: int = 0
    late_days: int = 0
    spans: dict[str, Span] = field(default_factory=lambda: {"dmy": Span(), "mdy": Span()})

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

    def weigh(self, kind: str, cell: Cell, text: str, count: int) -> None:
        """Count what is told of some kinds of cells, and the different texts."""
        if kind in COUNTED and not 0 < float(cell) < SERIALS.stop:  # type: ignore[arg-type]  # why: its kind is a number's
            self.outside += count
        elif kind in _SHORT_YEARS and has_short_year(text):
            self.short_years += count
        elif isinstance(cell, date) and cell.day > 12:
            self.late_days += count
        if self.values is not None:
            self.values[text] += count
            if len(self.values) > DISTINCT:
                self.values = None

    @property
    def samples(self) -> list[str]:
        """Give some of what it holds, to be shown."""
        if self.values is not None:
            return list(itertools.islice(self.values, PLACES))
        return [text for kept in self.examples.values() for _, text in kept][:PLACES]

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
            fits = self.count(COUNTED) * 0.6  # type: ignore[assignment]  # why: a share
        return min(1.0, fits / whole)

    def _booleans(self, field: Namesake) -> int:
        words = set(field.words) or {"true", "false", "True", "False", "TRUE", "FALSE", "1", "0"}
        said_so = sum(self.values[word] for word in words) if self.values is not None else 0
        return max(said_so, self.kinds["boolean"])


_PLAIN = {
    "integer": re.compile(r"(?:[+-]?(?:[0-9]{1,7}|[0-9]{9,15})\n)+"),
    "point": re.compile(r"(?:[+-]?[0-9]{1,15}\.[0-9]{1,15}\n)+"),
    # Three digits behind a comma may be thousands.
    "comma": re.compile(r"(?:[+-]?[0-9]{1,15},(?:[0-9]{1,2}|[0-9]{4,15})\n)+"),
}
"""Many numbers at once, one a line; eight digits may be a day, and longer ones are looked at."""

MANY = 100


def plain_kind(texts: Collection[Cell]) -> str:
    """Give the kind of many different texts that are plain numbers alike; "" for any others.

    Examples
    --------
    >>> plain_kind([str(number) for number in range(200)])
    'integer'
    """
    if len(texts) < MANY:
        return ""
    filled: list[str] = [text for text in texts if text]  # type: ignore[misc]  # why: asked of texts
    lines = "".join(f"{text}\n" for text in filled)
    if lines.count("\n") != len(filled):
        return ""
    for kind, pattern in _PLAIN.items():
        if pattern.fullmatch(lines):
            return kind
    return ""


@cache
def _day(text: str, order: str) -> datetime | None:
    return day_of(text, order)


class Profiler:
    """Reads rows and keeps what each column holds."""

    def __init__(self) -> None:
        self.columns: list[Column] = []
        self.rows = 0
        self.short = 0
        self.long = Seen()
        self._kinds: dict[str, str] = {}

    def read(self, rows: Iterable[Row], width: int) -> None:
        """Read the rows of a table whose headings are so many."""
        self._widen(width)
        for part in itertools.batched(rows, BATCH):
            self._read(part, width)

    def _read(self, part: tuple[Row, ...], width: int) -> None:
        for number, cells in part:
            if len(cells) < width:
                self.short += 1
            elif len(cells) > width and not is_blank(cells[width:]):
                if width:
                    self.long.add(number, cells)
                self._widen(max(at for at, cell in enumerate(cells, 1) if said(cell).strip()))
        upright = itertools.zip_longest(*(cells for _, cells in part), fillvalue="")
        numbers = [number for number, _ in part]
        seen = 0
        for column, downward in zip(self.columns, upright, strict=False):
            self._see(column, numbers, downward)
            seen += 1
        for column in self.columns[seen:]:
            column.kinds["blank"] += len(part)
        self.rows += len(part)

    def _widen(self, width: int) -> None:
        while len(self.columns) < width:
            column = Column()
            column.kinds["blank"] = self.rows
            self.columns.append(column)

    def _see(self, column: Column, numbers: list[int], cells: tuple[Cell, ...]) -> None:
        """See many cells of a column; what is the same is looked at once."""
        types = set(map(type, cells))
        counted = Counter(cells)
        if types == {str} and (kind := plain_kind(counted)):
            self._see_plain(column, kind, numbers, cells, counted)
            return
        # By type too, for 1, 1.0 and true are one key to a dictionary.
        parted = [
            (
                one,
                Counter(cell for cell in cells if type(cell) is one) if types != {one} else counted,
            )
            for one in types
        ]
        every = ((one, cell, n) for one, counts in parted for cell, n in counts.items())
        for kind_of_cell, cell, count in every:
            kind = self._kind(cell)
            column.kinds[kind] += count
            if kind == "blank":
                continue
            text = said(cell).strip()
            if kind_of_cell is str and (kind in NUMERIC or kind in COMMAS):
                column.text_numbers += count
            if len(column.examples.get(kind, ())) < PLACES:
                self._keep(column, kind, text, numbers, cells, cell)
            column.weigh(kind, cell, text, count)
        if not DAYS.isdisjoint(column.kinds):
            for cell in cells:
                if isinstance(cell, str) and self._kind(cell) in DAYS:
                    for order, span in column.spans.items():
                        span.add(_day(cell.strip(), order))

    def _see_plain(
        self,
        column: Column,
        kind: str,
        numbers: list[int],
        cells: tuple[Cell, ...],
        counted: Counter[Cell],
    ) -> None:
        """See many cells, empty or plain numbers of one kind as text, without a look at each."""
        blank = counted.pop("", 0)
        column.kinds["blank"] += blank
        column.kinds[kind] += len(cells) - blank
        column.text_numbers += len(cells) - blank
        for cell in itertools.islice(counted, PLACES):
            if len(column.examples.get(kind, ())) < PLACES:
                self._keep(column, kind, str(cell), numbers, cells, cell)
        if kind in COUNTED:
            values = np.array(list(counted), np.float64)
            outside = ~((values > 0) & (values < SERIALS.stop))
            column.outside += int(np.array(list(counted.values()))[outside].sum())
        if column.values is not None:
            column.values.update(counted)  # type: ignore[arg-type]  # why: all of them are texts
            if len(column.values) > DISTINCT:
                column.values = None

    def _kind(self, cell: Cell) -> str:
        if not isinstance(cell, str):
            return kind_of(cell)
        kind = self._kinds.get(cell)
        if kind is None:
            kind = kind_of(cell)
            if len(self._kinds) < _MEMO:
                self._kinds[cell] = kind
        return kind

    @staticmethod
    def _keep(
        column: Column,
        kind: str,
        text: str,
        numbers: list[int],
        cells: tuple[Cell, ...],
        cell: Cell,
    ) -> None:
        kept = column.examples.setdefault(kind, [])
        for at, one in enumerate(cells):
            if one == cell and type(one) is type(cell):
                kept.append((numbers[at], text))
                if len(kept) == PLACES:
                    return
