"""Messages rendered late are those that frictionless would have made at once."""

import pytest
from frictionless import errors

from archive.engine.fast.render import TEMPLATES, LightError, Mould, as_six

AWKWARD = ["plain", 'with "quotes"', "{note}", "{}", "%s", "é\n", ""]


@pytest.mark.parametrize("cell", AWKWARD)
@pytest.mark.parametrize("note", AWKWARD)
def test_each_kind_of_error_says_what_frictionless_says(cell, note):
    cells = [cell, "b"]
    record = b"as it stands in the file"
    shared = {"note": note, "cells": cells, "row_number": 4}
    of_cell = {"cell": cell, "field_name": cell, "field_number": 2}
    for kind in (
        errors.TypeError, errors.ConstraintError, errors.UniqueError, errors.ExtraCellError,
        errors.MissingCellError,
    ):  # fmt: skip
        light = LightError(Mould(kind.type, note, cell, cell, 2), 4, record)
        assert as_six(light) == as_six(kind(**shared, **of_cell))
    for kind in (errors.BlankRowError, errors.PrimaryKeyError):
        assert as_six(LightError(Mould(kind.type, note), 4, record)) == as_six(kind(**shared))
    link = {
        "field_names": ["a"],
        "field_cells": [cell],
        "reference_name": "other",
        "reference_field_names": ["b"],
    }
    light = LightError(Mould("foreign-key", note, **link), 4, record)
    assert as_six(light) == as_six(errors.ForeignKeyError(**shared, **link))


def test_every_kind_of_error_that_a_row_can_have_is_known():
    assert set(TEMPLATES) == {
        "type-error", "constraint-error", "unique-error", "extra-cell", "missing-cell",
        "blank-row", "primary-key", "foreign-key",
    }  # fmt: skip
