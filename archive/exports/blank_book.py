"""A blank workbook to write data into: a sheet for each table, drop-downs, units and notes.

What a cell may hold is asked by the workbook, and decided by the check: a value outside the limits
is warned of and can be written all the same, since the data say what happened.
"""

import io
from collections.abc import Mapping, Sequence
from typing import Any

import xlsxwriter  # type: ignore[import-untyped]  # why: it ships no types

from archive.engine.roles import fields_of
from archive.sheets import Column, column_of

ROWS = 2_000
"""Rows that are made ready; those below may be written too, without drop-downs."""

COLUMNS, CODES = "columns", "codes"
_NOTE, _TITLE, _NAME = 255, 32, 31
_FORMATS = {"date": "yyyy-mm-dd", "time": "hh:mm:ss", "datetime": "yyyy-mm-dd hh:mm:ss"}
_NUMBERS = frozenset({"integer", "number", "year"})
_FORBIDDEN = str.maketrans(dict.fromkeys("[]:*?/\\'", "-"))


def blank_book(tables: Sequence[Mapping[str, Any]]) -> bytes:
    """Make the workbook of a dictionary.

    Parameters
    ----------
    tables : sequence of mapping
        Data Resources, each with its schema.

    Returns
    -------
    bytes
        An XLSX file: one sheet for each table, headed by the names of its fields; then “columns”,
        which explains each field, and “codes”, which explains each code. Text columns hold what is
        typed, so that 007 stays 007.
    """
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True, "strings_to_formulas": False}) as book:
        head = book.add_format({"bold": True, "bottom": 1})
        names = _sheet_names([str(table["name"]) for table in tables])
        sheets = [book.add_worksheet(name) for name in names]
        _explain(book, head, tables)
        lists = _codes(book, head, tables)
        for sheet, table in zip(sheets, tables, strict=True):
            sheet.freeze_panes(1, 0)
            for at, field in enumerate(fields_of(table["schema"])):
                _column(book, sheet, at, field, head, lists.get((str(table["name"]), at), ""))
    return made.getvalue()


def _sheet_names(tables: Sequence[str]) -> list[str]:
    """Give names that a workbook takes: short, without some signs, and each its own."""
    taken, names = {COLUMNS, CODES}, []
    for table in tables:
        name = table.translate(_FORBIDDEN)[:_NAME]
        number = 1
        while name.lower() in taken:
            number += 1
            name = f"{table.translate(_FORBIDDEN)[: _NAME - 4]} {number}"
        taken.add(name.lower())
        names.append(name)
    return names


def _column(
    book: Any, sheet: Any, at: int, field: Mapping[str, Any], head: Any, codes: str
) -> None:
    column, kind = column_of(field), str(field.get("type", "string"))
    shown = _FORMATS.get(kind, "General" if kind in _NUMBERS else "@")
    width = max(12, min(40, len(column.name) + 4))
    sheet.set_column(at, at, width, book.add_format({"num_format": shown}))
    sheet.write_string(0, at, column.name, head)
    note = _note(column)
    if note:
        sheet.write_comment(0, at, note, {"x_scale": 2})
    asked: dict[str, Any] = {"validate": "any"}
    if codes:
        asked = {"validate": "list", "source": codes}
    elif kind in _NUMBERS and (bounds := _bounds(field)):
        asked = {"validate": "integer" if kind != "number" else "decimal"} | bounds
    told = {"input_title": column.title[:_TITLE], "input_message": note[:_NOTE]} if note else {}
    if note or codes or len(asked) > 1:
        warned = {
            "error_type": "warning",
            "error_title": "Not as agreed",
            "error_message": f"{column.title[:60]}: the dictionary expects another value."[:_NOTE],
        }
        sheet.data_validation(1, at, ROWS, at, asked | told | warned)


def _note(column: Column) -> str:
    said = [
        column.meaning,
        f"In {column.unit}." if column.unit else "",
        f"{column.bounds}." if column.bounds else "",
        "Must be filled." if column.is_required else "",
    ]
    return " ".join(filter(None, said))


def _bounds(field: Mapping[str, Any]) -> dict[str, Any]:
    limits = field.get("constraints") or {}
    low, high = limits.get("minimum"), limits.get("maximum")
    if not all(end is None or type(end) in {int, float} for end in (low, high)):
        return {}
    if low is not None and high is not None:
        return {"criteria": "between", "minimum": low, "maximum": high}
    if low is not None:
        return {"criteria": ">=", "value": low}
    return {"criteria": "<=", "value": high} if high is not None else {}


def _explain(book: Any, head: Any, tables: Sequence[Mapping[str, Any]]) -> None:
    sheet = book.add_worksheet(COLUMNS)
    heads = ["table", "column", "title", "meaning", "unit", "limits", "must be filled"]
    for at, (word, width) in enumerate(zip(heads, [16, 20, 24, 60, 12, 18, 14], strict=True)):
        sheet.set_column(at, at, width)
        sheet.write_string(0, at, word, head)
    row = 0
    for table in tables:
        for field in fields_of(table["schema"]):
            row += 1
            one = column_of(field)
            must = "yes" if one.is_required else ""
            said = [table["name"], one.name, one.title, one.meaning, one.unit, one.bounds, must]
            for at, text in enumerate(said):
                if text:
                    sheet.write_string(row, at, str(text))


def _codes(book: Any, head: Any, tables: Sequence[Mapping[str, Any]]) -> dict[tuple[str, int], str]:
    """Write the codes of each coded field, and give where its drop-down finds them."""
    sheet = book.add_worksheet(CODES)
    for at, (word, width) in enumerate(
        [("table", 16), ("column", 20), ("code", 16), ("means", 60)]
    ):
        sheet.set_column(at, at, width)
        sheet.write_string(0, at, word, head)
    row, places = 0, {}
    for table in tables:
        for at, field in enumerate(fields_of(table["schema"])):
            codes = column_of(field).codes
            for code, means in codes:
                row += 1
                for number, text in enumerate([table["name"], field["name"], code, means]):
                    sheet.write_string(row, number, str(text))
            if codes:
                first = row - len(codes) + 2
                places[str(table["name"]), at] = f"='{CODES}'!$C${first}:$C${row + 1}"
    return places
