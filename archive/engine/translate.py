"""frictionless' errors in plain words: same code, same row, same column, another sentence."""

import re
from collections.abc import Iterable, Sequence
from typing import Any

from archive.engine.codes import CODES, found
from archive.engine.findings import Finding, shorten

KINDS = {
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "date": "a date such as 2026-05-31",
    "datetime": "a date and time such as 2026-05-31T14:05:00",
    "time": "a time such as 14:05:00",
    "year": "a year",
    "yearmonth": "a month such as 2026-05",
    "duration": "a length of time such as PT15M",
    "string": "a text",
    "array": "a JSON list",
    "object": "a JSON object",
    "list": "a list",
    "geopoint": "a point such as 18.06, 59.33",
    "geojson": "a GeoJSON object",
}
BOUNDS = {
    "required": "it stands for an empty cell, and must not",
    "minimum": "it is less than {0}",
    "maximum": "it is more than {0}",
    "exclusiveMinimum": "it must be more than {0}",
    "exclusiveMaximum": "it must be less than {0}",
    "minLength": "it is shorter than {0} signs",
    "maxLength": "it is longer than {0} signs",
    "pattern": "it is not written in the form {0}",
    "enum": "it is none of {0}",
}
_TYPE = re.compile(r'type is "([^/"]*)/(.*)"', re.DOTALL)
_BOUND = re.compile(r'constraint "(\w+)" is "(.*)"', re.DOTALL)
_QUOTED = re.compile(r"'([^']*)'")
_EARLIER = re.compile(r"position (\d+)")


def translate(
    error: Any, table: str, key: tuple[str, ...] = (), names: Sequence[str] = ()
) -> Finding:
    """Give one of frictionless' errors as a finding.

    Parameters
    ----------
    error : frictionless.Error
    table : str
        Name of the table, "" for the descriptor.
    key : tuple of str
        The table's primary key, for the place of its errors.
    names : sequence of str
        The columns as they stand in the file, so that a key can be named.
    """
    rows = getattr(error, "row_numbers", None) or [None]
    said = ""
    if error.type == "primary-key":
        cells = dict(zip(names, error.cells, strict=False))
        said = key_said([cells.get(name) for name in key])
    return _translated(error, getattr(error, "row_number", rows[0]), table, key, said)


def key_said(cells: Iterable[str | None]) -> str:
    """Write the cells of a key as they stand in the file."""
    return ", ".join(cell or "" for cell in cells)


class AnyRow(int):
    """The number of a row that is written in later."""

    def __format__(self, _how: str) -> str:
        return HOLE


HOLE = "\0"


def translate_row(mould: Any, row: int, table: str, key: tuple[str, ...] = ()) -> Finding:
    """Give an error as `translate` does, worded once for all rows that have the like.

    Parameters
    ----------
    mould : archive.engine.fast.render.Mould
        What the error says, whichever row it is of; it keeps the words.
    row : int
        The row's number.
    table : str
    key : tuple of str
    """
    if mould.worded is None:
        said = mould.cell or ""
        like = _translated(mould, AnyRow(1), table, key, said)
        if HOLE in f"{like.field}{said}{mould.note}":
            return _translated(mould, row, table, key, said)
        mould.worded = like, like.message.split(HOLE), like.remedy.split(HOLE)
    like, message, remedy = mould.worded
    return Finding(
        like.code, table, row, like.field, like.value,
        f"{row:,}".join(message), str(row).join(remedy), like.group,
    )  # fmt: skip


def _translated(
    error: Any, row: int | None, table: str, key: tuple[str, ...], said: str
) -> Finding:
    code = error.type if error.type in CODES else "error"
    field, value = _place(error, key, said)
    message = _message(error, table, row, field, value)
    return found(code, message, table=table, row=row, field=field, value=value)


def _place(error: Any, key: tuple[str, ...], said: str) -> tuple[str, str]:
    match error.type:
        case "primary-key":
            return ", ".join(key), said if _EARLIER.search(error.note) else ""
        case "foreign-key":
            return ", ".join(error.field_names), ", ".join(error.field_cells)
        case "constraint-error" if _is_empty(error):
            return error.field_name, ""
        case _:
            value = getattr(error, "cell", getattr(error, "label", ""))
            return getattr(error, "field_name", "") or "", value or ""


def _message(error: Any, table: str, row: int | None, field: str, value: str) -> str:
    at = f"row {row:,}" if row else "the header"
    cell = shorten(getattr(error, "cell", ""))
    match error.type:
        case "type-error":
            return f"“{cell}” in {at}, column “{field}”, is not {_kind(error.note)}."
        case "constraint-error" if _is_empty(error):
            return f"Row {row:,}, column “{field}”, is empty, and must not be."
        case "constraint-error":
            return f"“{cell}” in {at}, column “{field}”: {_bound(error.note)}."
        case "unique-error":
            earlier = _EARLIER.search(error.note)
            where = f" of row {_grouped(earlier)}" if earlier else ""
            return f"“{cell}” in {at}, column “{field}”, repeats the value{where}."
        case "primary-key":
            earlier = _EARLIER.search(error.note)
            if earlier is None:
                return f"Row {row:,} has no key: {field} is empty."
            said = f"{field} = “{shorten(value)}”"
            return f"Row {row:,} has the same key, {said}, as row {_grouped(earlier)}."
        case "foreign-key":
            there = error.reference_name or table
            said = ", ".join(error.field_cells)
            columns = ", ".join(error.reference_field_names)
            return f"“{said}” in {at}, {field}, is not in table “{there}” ({columns})."
        case "extra-cell":
            return f"Row {row:,} has a surplus cell “{cell}” at place {error.field_number}."
        case "missing-cell":
            return f"Row {row:,} ends before column “{field}”."
        case "blank-row":
            return f"Row {row:,} is empty."
        case _:
            return _header_message(error, field)


def _grouped(earlier: re.Match[str]) -> str:
    return f"{int(earlier.group(1)):,}"


def _is_empty(error: Any) -> bool:
    """Whether nothing stands in a cell that must hold something; what is not there reads "None"."""
    told = _BOUND.search(error.note)
    return told is not None and told.group(1) == "required" and error.cell in {None, "", "None"}


def _header_message(error: Any, field: str) -> str:
    number = getattr(error, "field_number", "")
    label = shorten(getattr(error, "label", ""))
    match error.type:
        case "missing-label":
            return f"The file has no column “{field}”."
        case "extra-label":
            return f"Column {number}, “{label}”, is not in the dictionary."
        case "blank-label":
            return f"Column {number} has no name in the header."
        case "duplicate-label":
            return f"Column {number} is called “{label}” like another one."
        case "incorrect-label":
            return f"Column {number} is called “{label}” where “{field}” is expected."
        case "blank-header" | "unmatched-header":
            return "The first row names no column of the dictionary."
        case "hash-count" | "byte-count" | "row-count" | "field-count":
            return f"{CODES[error.type].title}: {error.note}."
        case _:
            return str(error.note or error.message)


def _kind(note: str) -> str:
    told = _TYPE.search(note)
    if told is None:
        return f"as declared ({note})"
    kind = KINDS.get(told.group(1), f"of type {told.group(1)}")
    form = told.group(2)
    return kind if form in {"default", ""} else f"{kind.split(' such as ')[0]} in the form {form}"


def _bound(note: str) -> str:
    told = _BOUND.search(note)
    if told is None or told.group(1) not in BOUNDS:
        return note
    return BOUNDS[told.group(1)].format(_QUOTED.sub("“\\1”", told.group(2).strip("[]")))
