"""What a correction is: a frozen rule that reads a table and writes it again, cell for cell."""

import codecs
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, ClassVar, NoReturn

from archive.engine.reading import reader_options
from registry.errors import Unsound

REMEMBERED = 20_000
"""Cells of which a correction remembers what they became: columns repeat themselves."""

type Step = Callable[[int, list[str]], list[str] | None]
"""Takes a row's number and its cells; gives the cells as they are to be, or None to leave it out"""


@dataclass(frozen=True, slots=True)
class Reading:
    """How the bytes of a table become rows: its encoding and the options of ``csv.reader``.

    `above` is how many rows stand above the heading; they are no part of the table.
    """

    encoding: str = "utf-8-sig"
    options: Mapping[str, Any] = field(default_factory=dict)
    above: int = 0

    @classmethod
    def of(cls, layout: Mapping[str, Any]) -> "Reading":
        """Give how a table with this pinned layout is read."""
        return cls(options=reader_options(layout))

    def is_like(self, other: "Reading") -> bool:
        """Whether both read the same cells, wherever the heading stands."""
        return (self.encoding, self.options) == (other.encoding, other.options)

    def with_delimiter(self, delimiter: str) -> "Reading":
        """Give the same with another sign between the cells."""
        return replace(self, options={**self.options, "delimiter": delimiter})

    def with_above(self, above: int) -> "Reading":
        """Give the same with the heading further down."""
        return replace(self, above=above)

    def with_encoding(self, encoding: str) -> "Reading":
        """Give the same with another encoding."""
        codecs.lookup(encoding)
        return replace(self, encoding=encoding)


@dataclass(frozen=True, slots=True)
class Correction:
    """A rule that can be repeated: the same bytes in give the same bytes out.

    Notes
    -----
    `turn` orders corrections that are made together: files first, then headings, cells and rows.
    A rule never guesses: it is refused at the first cell that could mean two things.
    """

    kind: ClassVar[str] = ""
    turn: ClassVar[int] = 2

    def reading(self, plain: Reading) -> Reading:
        """Give how the table is to be read."""
        return plain

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Give the headings as they are to be, and what is done with each row after them."""
        return labels, keep

    def as_dict(self) -> dict[str, Any]:
        """Give it as plain values, ready for JSON."""
        return {"kind": self.kind, **asdict(self)}


def keep(row: int, cells: list[str]) -> list[str]:
    """Leave a row as it is."""
    return cells


def place_of(labels: Sequence[str], column: str) -> int:
    """Give where a column stands.

    Raises
    ------
    Unsound
        When the table has no such column, or two of them.
    """
    plain = [label.strip() for label in labels]
    if plain.count(column) != 1:
        count = "no" if column not in plain else "more than one"
        refuse(f"The table has {count} column “{column}”.")
    return plain.index(column)


def on_cells(labels: list[str], columns: Sequence[str], change: Callable[[str], str]) -> Step:
    """Give the step that changes the cells of some columns and leaves all others."""
    places = [place_of(labels, column) for column in columns]
    known: dict[str, str] = {}

    def changed(row: int, at: int, cell: str) -> str:
        try:
            made = change(cell)
        except Unclear as unclear:
            column = labels[at].strip()
            refuse(f"“{cell[:60]}” in row {row:,}, column “{column}”, {unclear}.")
        if len(known) < REMEMBERED:
            known[cell] = made
        return made

    def step(row: int, cells: list[str]) -> list[str]:
        after = list(cells)
        for at in places:
            if at < len(after):
                made = known.get(after[at])
                after[at] = changed(row, at, after[at]) if made is None else made
        return after

    return step


class Unclear(Exception):
    """A cell could mean two things; the text says why, after the cell."""


def refuse(why: str) -> NoReturn:
    """Refuse the correction.

    Raises
    ------
    Unsound
    """
    raise Unsound(
        "The correction was not made.",
        why,
        "Correct the cells from your notes, and add the file again.",
    )
