"""Findings put together for a reader: one entry for each kind and column, its rows in short."""

from collections.abc import Iterable
from dataclasses import dataclass
from dataclasses import field as part
from typing import Any

from archive.engine.codes import CODES, Place
from archive.engine.findings import Finding, Group

EXAMPLES = 5
LABELS = 60
"""Examples of faults of the heading, where each is another column."""

RUNS = 8
ENTRIES = 300
FIRST = (
    "descriptor-unreadable",
    "scheme-error",
    "encoding-error",
    "unclosed-quote",
    "unmatched-header",
    "missing-label",
    "incorrect-label",
    "extra-label",
    "duplicate-label",
    "blank-label",
)
"""What is said first: until it is put right, what follows may only follow from it."""

TOGETHER = frozenset({"incorrect-label", "duplicate-label", "extra-label", "blank-label"})
"""Faults of the heading that are one entry, however many columns have them."""

CELL_CODES = frozenset({"missing-cell", "constraint-error", "null-in-key", "type-error"})


@dataclass(slots=True)
class Entry:
    """All findings of one code in one column of one table.

    Parameters
    ----------
    group : Group
    code, table, field : str
    count : int
        How many findings.
    runs : list of [int, int]
        The first stretches of rows, both ends included.
    rows : int
        How many rows there are in all stretches, told or not.
    told_rows : int
        How many of them stand in `runs`.
    examples : list of Finding
        The first few.
    folded : int
        How many findings only follow from this one, and are not told by themselves.
    """

    group: Group
    code: str
    table: str
    field: str
    count: int = 0
    runs: list[list[int]] = part(default_factory=list)
    rows: int = 0
    told_rows: int = 0
    examples: list[Finding] = part(default_factory=list)
    folded: int = 0
    _last: int = 0

    def take(self, finding: Finding) -> None:
        """Add one finding."""
        self.count += 1
        if len(self.examples) < (LABELS if self.code in TOGETHER else EXAMPLES):
            self.examples.append(finding)
        row = finding.row
        if row is None or row == self._last:
            return
        self.rows += 1
        if self.runs and row == self.runs[-1][1] + 1 and self.told_rows == self.rows - 1:
            self.runs[-1][1] = row
            self.told_rows += 1
        elif len(self.runs) < RUNS:
            self.runs.append([row, row])
            self.told_rows += 1
        self._last = row

    @property
    def remedy(self) -> str:
        """What to do about all of them."""
        first = self.examples[0]
        if self.count == 1:
            return first.remedy
        place = Place(self.table, first.row, self.field, first.value, is_many=True)
        return CODES[self.code].remedy(place)

    def as_dict(self) -> dict[str, Any]:
        """Give it as plain values, ready for JSON."""
        return {
            "group": self.group.value,
            "code": self.code,
            "table": self.table,
            "field": self.field,
            "count": self.count,
            "remedy": self.remedy,
            "runs": self.runs,
            "rows_more": self.rows - self.told_rows,
            "examples": [finding.as_dict() for finding in self.examples],
            "folded": self.folded,
        }


class Grouping:
    """Puts findings together by code and column, as they come."""

    def __init__(self) -> None:
        self._entries: dict[tuple[str, str, str, str], Entry] = {}

    def take(self, finding: Finding) -> None:
        """Add one finding, in the order of the report."""
        field = "" if finding.code in TOGETHER else finding.field
        key = (finding.group.value, finding.code, finding.table, field)
        entry = self._entries.get(key)
        if entry is None:
            entry = self._entries[key] = Entry(finding.group, finding.code, finding.table, field)
        entry.take(finding)

    def entries(self) -> list[Entry]:
        """Give the entries; what only follows from another is folded in.

        A missing column is one entry, and the empty cells in each of its rows are not told again;
        so are the cells that a surplus column has. What keeps a file from being read comes first,
        then what is most frequent.
        """
        return sorted(_folded(list(self._entries.values())), key=_order)[:ENTRIES]


def grouped(findings: Iterable[Finding]) -> list[Entry]:
    """Put findings together, as `Grouping` does; they are read once."""
    grouping = Grouping()
    for finding in findings:
        grouping.take(finding)
    return grouping.entries()


def _folded(entries: list[Entry]) -> list[Entry]:
    heads = {
        (one.table, one.field): one for one in entries if one.code == "missing-label" and one.field
    }
    extra = {one.table: one for one in entries if one.code == "extra-label"}
    limits = {(one.table, one.field): one for one in entries if one.code == "constraint-error"}
    told = []
    for one in entries:
        head = heads.get((one.table, one.field)) if one.code in CELL_CODES else None
        if one.code == "extra-cell":
            head = extra.get(one.table)
        if one.code == "null-in-key" and head is None:
            # An empty cell that must be filled, and is part of the key, is one thing to put right.
            limit = limits.get((one.table, one.field))
            head = limit if limit and (limit.runs, limit.rows) == (one.runs, one.rows) else None
        if head is None:
            told.append(one)
        else:
            head.folded += one.count
    return told


def _order(entry: Entry) -> tuple[int, int]:
    place = FIRST.index(entry.code) if entry.code in FIRST else len(FIRST)
    return (place, -entry.count)


def rows_in_short(runs: Iterable[Iterable[int]], more: int) -> str:
    """Write stretches of rows as short as can be.

    >>> rows_in_short([[4, 4], [9, 9], [12, 40]], 310)
    '4, 9, 12–40 and 310 more'
    """
    parts = []
    for first, last in runs:
        parts.append(f"{first:,}" if first == last else f"{first:,}–{last:,}")
    said = ", ".join(parts)
    return f"{said} and {more:,} more" if more else said
