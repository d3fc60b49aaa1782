"""A pool written out: CSV, columns, and two forms that spreadsheet programs open safely."""

import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv as pcsv
import pyarrow.parquet as pq
import xlsxwriter  # type: ignore[import-untyped]  # why: it ships no types

from archive.engine.roles import FIELD_ID, UNIT
from archive.exports.safe_csv import safe_copy
from archive.extending.carrying import BATCH_ROWS, NOT_COLLECTED, ROW, SOURCE
from archive.extending.looking import is_number, texts_of
from archive.extending.pooling import Pool, PooledField
from archive.extending.sifting import Condition, sifted
from registry.errors import TooLarge
from registry.guarded.cells import safe_cell

FORMS = ("csv", "parquet", "spreadsheet", "xlsx")
BOOK_ROWS = 1_000_000
"""Rows that a workbook takes: the house's limit, below the format's own of 1,048,576."""
_SURE = 1 << 53
_CELL, _SHEET = 32_767, 31
"""Characters of a cell of a workbook, and of a sheet's name (limits of the format)."""
_SHEET_ODD = re.compile(r"[][:*?/\\']")


def write(pool: Pool, conditions: Sequence[Condition], target: Path, form: str) -> int:
    """Write the rows of a pool that meet the conditions; give how many there are.

    Parameters
    ----------
    form : str
        One of `FORMS`. "csv" and "parquet" hold the values as they are; "spreadsheet" and "xlsx"
        are for spreadsheet programs: a text that begins like a formula has an apostrophe before it.

    Raises
    ------
    TooLarge
        When a workbook would have more than `BOOK_ROWS` rows.
    """
    if form == "parquet":
        return _write_columns(pool, conditions, target)
    if form == "xlsx":
        names = pool.schema.names
        return _write_book(names, sifted(pool, names, conditions), target, "pooled")
    if form == "csv":
        return _write_csv(pool, conditions, target)
    plain = target.with_name(f"{target.name}.plain")
    try:
        count = _write_csv(pool, conditions, plain)
        with plain.open("rb") as source, target.open("wb") as copy:
            copy.writelines(safe_copy(source))
    finally:
        plain.unlink(missing_ok=True)
    return count


def _write_columns(pool: Pool, conditions: Sequence[Condition], target: Path) -> int:
    count = 0
    with pq.ParquetWriter(target, pool.schema, compression="zstd") as writer:
        for batch in sifted(pool, pool.schema.names, conditions):
            writer.write_batch(batch)
            count += batch.num_rows
    return count


def _write_csv(pool: Pool, conditions: Sequence[Condition], target: Path) -> int:
    count = 0
    schema = pa.schema([pa.field(one.name, _in_csv(one.type)) for one in pool.schema])
    with pcsv.CSVWriter(target, schema) as writer:
        for batch in sifted(pool, schema.names, conditions):
            arrays = [
                cells if cells.type == field.type else texts_of(cells)
                for cells, field in zip(batch.columns, schema, strict=True)
            ]
            writer.write_batch(pa.record_batch(arrays, schema=schema))
            count += batch.num_rows
    return count


def _in_csv(kind: pa.DataType) -> pa.DataType:
    """Give the type that is handed to the writer: texts for what it would write otherwise."""
    is_plain = is_number(kind) or pa.types.is_boolean(kind) or pa.types.is_date(kind)
    return kind if is_plain else pa.string()


def write_book(copy: Path, target: Path, title: str) -> int:
    """Write the typed copy of one table as a workbook; give how many rows it has.

    Raises
    ------
    TooLarge
        When it would have more than `BOOK_ROWS` rows.
    """
    with pq.ParquetFile(copy) as file:
        return _write_book(file.schema_arrow.names, file.iter_batches(BATCH_ROWS), target, title)


def _write_book(
    names: Sequence[str], batches: Iterable[pa.RecordBatch], target: Path, title: str
) -> int:
    count = 0
    with xlsxwriter.Workbook(str(target), {"constant_memory": True}) as book:
        sheet = book.add_worksheet(_SHEET_ODD.sub("-", title)[:_SHEET])
        head = book.add_format({"bold": True})
        for at, name in enumerate(names):
            sheet.write_string(0, at, safe_cell(name), head)
        sheet.freeze_panes(1, 0)
        for batch in batches:
            if count + batch.num_rows > BOOK_ROWS:
                raise TooLarge(
                    "The workbook was not made.",
                    f"It would have more than {BOOK_ROWS:,} rows.",
                    "Take fewer rows, or the CSV, which has no such limit.",
                )
            for row in zip(*map(_for_book, batch.columns), strict=True):
                count += 1
                for at, cell in enumerate(row):
                    if isinstance(cell, str):
                        sheet.write_string(count, at, safe_cell(cell)[:_CELL])
                    elif cell is not None:
                        sheet.write_number(count, at, cell)
    return count


def _for_book(cells: pa.Array) -> Iterator[Any]:
    """Give cells as numbers where a spreadsheet program holds them whole, else as texts."""
    if not is_number(cells.type):
        yield from texts_of(cells).to_pylist()
        return
    is_whole = pa.types.is_integer(cells.type)
    for cell in cells.to_pylist():
        # A floating number holds no more: 9007199254740993 would become its neighbour.
        yield str(cell) if is_whole and cell is not None and abs(cell) > _SURE else cell


# ------------------------------------------------------------------ the table described


def described(pool: Pool, *, name: str, title: str, description: str) -> dict[str, Any]:
    """Give the Data Resource of a pool that is written as CSV.

    Notes
    -----
    What one cohort never collected is empty in its rows, so that no column must be filled, and
    codes that two cohorts share do not stand once: keys and constraints stay with the sources.
    """
    fields = [_field(field) for field in pool.fields]
    return {
        "name": name,
        "title": title,
        "description": description,
        "path": f"{name}.csv",
        "type": "table",
        "schema": {"fieldsMatch": "equal", "missingValues": [""], "fields": [*fields, *_ADDED]},
    }


_KEPT = ("title", "description", "rdfType", "categories", "categoriesOrdered", UNIT, FIELD_ID)
_TYPES = (
    (pa.types.is_integer, "integer"),
    (pa.types.is_floating, "number"),
    (pa.types.is_boolean, "boolean"),
    (pa.types.is_date, "date"),
    (pa.types.is_timestamp, "datetime"),
)
_ADDED = [
    {
        "name": SOURCE,
        "type": "string",
        "title": "Source",
        "description": "Identifier of the version that the row is from.",
    },
    {
        "name": ROW,
        "type": "integer",
        "title": "Row in the source",
        "description": "Counted as in a spreadsheet: the header is row 1.",
    },
    {
        "name": NOT_COLLECTED,
        "type": "string",
        "title": "Not collected",
        "description": "The columns that this row’s cohort did not collect; elsewhere an empty"
        " cell is missing in the data.",
    },
]


def _field(field: PooledField) -> dict[str, Any]:
    kind = next((told for is_one, told in _TYPES if is_one(field.type)), "string")
    kept = {key: field.described[key] for key in _KEPT if key in field.described}
    if kind != "string":
        kept = {key: value for key, value in kept.items() if not key.startswith("categories")}
    return {"name": field.name, "type": kind, **kept}
