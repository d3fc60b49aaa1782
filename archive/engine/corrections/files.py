"""Corrections of a whole file: its encoding, the sign between its cells, the name it bears."""

from dataclasses import dataclass
from typing import ClassVar

from archive.engine.corrections.correction import Correction, Reading, Step, refuse


@dataclass(frozen=True, slots=True)
class Recode(Correction):
    """Read the file in the encoding in which it was saved, and write it in UTF-8."""

    kind: ClassVar[str] = "recode"
    turn: ClassVar[int] = 0
    encoding: str

    def reading(self, plain: Reading) -> Reading:
        """Read it in that encoding."""
        return plain.with_encoding(self.encoding)


@dataclass(frozen=True, slots=True)
class Redelimit(Correction):
    """Read the cells apart at another sign, and write the one that the dictionary expects."""

    kind: ClassVar[str] = "redelimit"
    turn: ClassVar[int] = 0
    delimiter: str

    def reading(self, plain: Reading) -> Reading:
        """Read it with that sign."""
        return plain.with_delimiter(self.delimiter)

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Refuse a row that does not come apart as the heading does."""
        width = len(labels)

        def step(row: int, cells: list[str]) -> list[str]:
            if cells and len(cells) != width:
                refuse(f"Row {row:,} comes apart into {len(cells)} cells, the heading into {width}")
            return cells

        return labels, step


@dataclass(frozen=True, slots=True)
class SwapFiles(Correction):
    """Give the file the name of another one, and that one its name."""

    kind: ClassVar[str] = "swap_files"
    turn: ClassVar[int] = 0
    other: str
