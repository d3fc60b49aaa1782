"""Corrections that leave rows out: above the heading, blank, headings in the middle, totals."""

from dataclasses import dataclass
from typing import ClassVar

from archive.engine.corrections.correction import Correction, Reading, Step, keep, refuse


@dataclass(frozen=True, slots=True)
class DropAbove(Correction):
    """Leave out so many rows that stand above the heading, which begins with this cell."""

    kind: ClassVar[str] = "drop_above"
    turn: ClassVar[int] = 0
    rows: int
    first: str

    def reading(self, plain: Reading) -> Reading:
        """Begin at the heading."""
        return plain.with_above(self.rows)

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Leave the rest, if the heading is still where it was seen."""
        if not labels or labels[0].strip() != self.first:
            refuse(f"Row {self.rows + 1:,} is not the heading that was looked at.")
        return labels, keep


@dataclass(frozen=True, slots=True)
class DropBlankRows(Correction):
    """Leave out rows in which no cell holds anything."""

    kind: ClassVar[str] = "drop_blank_rows"
    turn: ClassVar[int] = 3

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Leave them out."""
        return labels, lambda row, cells: cells if any(map(str.strip, cells)) else None


@dataclass(frozen=True, slots=True)
class DropHeadings(Correction):
    """Leave out rows that repeat the heading."""

    kind: ClassVar[str] = "drop_headings"
    turn: ClassVar[int] = 3

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Leave them out."""
        plain = [label.strip() for label in labels]
        return labels, lambda row, cells: None if [c.strip() for c in cells] == plain else cells


@dataclass(frozen=True, slots=True)
class DropRow(Correction):
    """Leave out one row, which must hold just these cells."""

    kind: ClassVar[str] = "drop_row"
    turn: ClassVar[int] = 3
    row: int
    cells: tuple[str, ...]

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Leave it out, if it is still the same."""

        def step(row: int, cells: list[str]) -> list[str] | None:
            if row != self.row:
                return cells
            if tuple(cells) != self.cells:
                refuse(f"Row {row:,} is not the one that was looked at.")
            return None

        return labels, step
