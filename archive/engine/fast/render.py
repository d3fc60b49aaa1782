"""frictionless' errors without their cost: light records whose message is rendered when asked for.

Each of frictionless' own error objects takes half a millisecond to make. The templates are its
own; that the text comes out the same is held by a test.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

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


@dataclass(slots=True)
class LightError:
    """One error of a row, with the attributes that frictionless' own would have.

    Parameters
    ----------
    type, note : str
    row_number : int
    cells : list of str
        The whole record, as written.
    cell, field_name, field_number
        Of errors of one cell.
    field_names, field_cells, reference_name, reference_field_names
        Of errors of a foreign key.
    """

    type: str
    note: str
    row_number: int
    cells: list[str]
    cell: str | None = None
    field_name: str | None = None
    field_number: int | None = None
    field_names: Sequence[str] = ()
    field_cells: Sequence[str] = ()
    reference_name: str = ""
    reference_field_names: Sequence[str] = ()

    @property
    def message(self) -> str:
        """The sentence that frictionless would say."""
        return TEMPLATES[self.type].format(
            note=self.note,
            rowNumber=self.row_number,
            cell=self.cell,
            fieldName=self.field_name,
            fieldNumber=self.field_number,
        )


def as_six(error: Any) -> tuple[str, int | None, int | None, str, str, str, list[str]]:
    """Give what an error says, light or frictionless' own, as plain values to compare."""
    if type(error) is LightError:
        return (
            error.type,
            error.row_number,
            error.field_number,
            error.field_name or "",
            error.note,
            error.message,
            error.cells,
        )
    return (
        error.type,
        getattr(error, "row_number", None),
        getattr(error, "field_number", None),
        getattr(error, "field_name", None) or "",
        error.note,
        error.message,
        list(getattr(error, "cells", None) or []),
    )
