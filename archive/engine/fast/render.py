"""frictionless' errors without their cost: light records whose message is rendered when asked for.

Each of frictionless' own error objects takes half a millisecond to make. The templates are its
own; that the text comes out the same is held by a test.
"""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, NamedTuple

from frictionless import errors

TEMPLATES: dict[str, str] = {
    kind.type: kind.template
    for kind in (
        errors.TypeError,
        errors.ConstraintError,
        errors.UniqueError,
        errors.ExtraCellError,
        errors.MissingCellError,
        errors.BlankRowError,
        errors.PrimaryKeyError,
        errors.ForeignKeyError,
    )
}


HALVES = {kind: tuple(said.split("{rowNumber}")) for kind, said in TEMPLATES.items()}
"""Each sentence before and after the number of the row, which it names once."""


class Mould:
    """What alike errors of many rows have in common: everything but the row.

    Parameters
    ----------
    type, note : str
    cell, field_name, field_number
        Of errors of one cell.
    field_names, field_cells, reference_name, reference_field_names
        Of errors of a foreign key.

    before, after : str
        The sentence on both sides of the row's number.
    worded : tuple or None
        Our own words for it, kept by whoever made them.
    """

    __slots__ = (
        "after", "before", "cell", "field_cells", "field_name", "field_names", "field_number",
        "note", "reference_field_names", "reference_name", "type", "worded",
    )  # fmt: skip

    def __init__(
        self,
        type: str,
        note: str,
        cell: str | None = None,
        field_name: str | None = None,
        field_number: int | None = None,
        *,
        field_names: Sequence[str] = (),
        field_cells: Sequence[str] = (),
        reference_name: str = "",
        reference_field_names: Sequence[str] = (),
    ) -> None:
        self.type, self.note, self.cell = type, note, cell
        self.field_name, self.field_number = field_name, field_number
        self.field_names, self.field_cells = field_names, field_cells
        self.reference_name, self.reference_field_names = reference_name, reference_field_names
        words = {"note": note, "cell": cell, "fieldName": field_name, "fieldNumber": field_number}
        self.before, self.after = [half.format_map(words) for half in HALVES[type]]
        self.worded: Any = None


class LightError(NamedTuple):
    """One error of a row: its mould, the row's number, and its bytes as they stand in the file."""

    mould: Mould
    row_number: int
    record: bytes

    @property
    def message(self) -> str:
        """The sentence that frictionless would say."""
        return f"{self.mould.before}{self.row_number}{self.mould.after}"


light = partial(tuple.__new__, LightError)
"""Makes a LightError of its three parts in one step of C; there may be very many."""


def as_six(error: Any) -> tuple[str, int | None, int | None, str, str, str]:
    """Give what an error says, light or frictionless' own, as plain values to compare."""
    if type(error) is LightError:
        mould, row, _ = error
        message = f"{mould.before}{row}{mould.after}"
        name = mould.field_name or ""
        return (mould.type, row, mould.field_number, name, mould.note, message)
    return (
        error.type,
        getattr(error, "row_number", None),
        getattr(error, "field_number", None),
        getattr(error, "field_name", None) or "",
        error.note,
        error.message,
    )


def cells_of(error: Any, cut: Callable[[bytes], list[str]]) -> list[str]:
    """Give the cells of an error's row, light or frictionless' own; none for what has no row."""
    if type(error) is LightError:
        return cut(error.record)
    return list(getattr(error, "cells", None) or [])
