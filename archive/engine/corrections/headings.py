"""Corrections of the heading: columns renamed, and a column of running numbers left out."""

from dataclasses import dataclass
from typing import ClassVar

from archive.engine.corrections.correction import Correction, Step, keep, place_of, refuse


@dataclass(frozen=True, slots=True)
class RenameColumns(Correction):
    """Write headings as the dictionary has them; each pair is the old and the new name."""

    kind: ClassVar[str] = "rename_columns"
    turn: ClassVar[int] = 1
    names: tuple[tuple[str, str], ...]

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Rename them."""
        renamed = list(labels)
        for old, new in self.names:
            renamed[place_of(labels, old)] = new
        if len(set(renamed)) != len(renamed):
            refuse("Two columns would bear the same name.")
        return renamed, keep


@dataclass(frozen=True, slots=True)
class DropNumbers(Correction):
    """Leave out a first column without a heading that only counts the rows.

    `has_label` says whether the heading has an empty cell for it.
    """

    kind: ClassVar[str] = "drop_numbers"
    turn: ClassVar[int] = 1
    has_label: bool

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Leave out the first cell of each row, once it is seen to count."""
        if self.has_label and (not labels or labels[0].strip()):
            refuse("The first column has a heading.")
        width = len(labels) + (not self.has_label)
        last: int | None = None

        def step(row: int, cells: list[str]) -> list[str]:
            nonlocal last
            if not any(cells):
                return cells
            said = cells[0].strip()
            if len(cells) != width:
                refuse(f"Row {row:,} has {len(cells)} cells where {width} are expected.")
            if not said.isdecimal() or (last is not None and int(said) != last + 1):
                refuse(f"“{said[:60]}” in row {row:,} does not count on.")
            last = int(said)
            return cells[1:]

        return (labels[1:] if self.has_label else labels), step
