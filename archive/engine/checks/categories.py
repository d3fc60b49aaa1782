"""categories: each value is one of the listed codes."""

from collections.abc import Iterator, Mapping
from typing import Any

from archive.engine.checks.chunk import Chunk
from archive.engine.codes import found
from archive.engine.findings import Finding

SHOWN = 8


class Categories:
    """Find values of a coded column that are not among its categories.

    References
    ----------
    Data Package 2.0, Table Schema, "categories" of string and integer fields.
    """

    def __init__(self, table: str, fields: Mapping[str, list[Any]]) -> None:
        self.table = table
        self.reads = tuple(fields)
        self.codes = {name: frozenset(codes) for name, codes in fields.items()}
        self.said = {name: _some(codes) for name, codes in fields.items()}

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        for name, codes in self.codes.items():
            for number, value in enumerate(chunk.columns.get(name, ())):
                if value is not None and value not in codes:
                    row, cell = chunk.rows[number], chunk.cell(name, number)
                    message = (
                        f"“{cell}” in row {row:,}, column “{name}”, is not on the list:"
                        f" {self.said[name]}."
                    )
                    yield found(
                        "category-error", message, table=self.table, row=row, field=name, value=cell
                    )

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()


def categories_of(field: Mapping[str, Any]) -> list[Any] | None:
    """Give the values of a field's categories without their labels."""
    listed = field.get("categories")
    if not isinstance(listed, list):
        return None
    return [item["value"] if isinstance(item, dict) else item for item in listed]


def _some(codes: list[Any]) -> str:
    more = f" and {len(codes) - SHOWN} more" if len(codes) > SHOWN else ""
    return ", ".join(str(code) for code in codes[:SHOWN]) + more
