"""A table laid as an accepted one's copy has it, and asked; what is found, by its rows."""

from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from archive.analysis.asked.found import Found
from archive.analysis.asked.kinds import Request
from archive.analysis.asked.running import run

type Columns = dict[str, list[Any]]


def asked_of(
    folder: Path,
    kind: str,
    table: Columns,
    columns: dict[str, str] | str,
    facts: dict[str, Any] | None = None,
    **options: Any,
) -> Found:
    """Lay columns and ask; columns as words are taken as named like their slots."""
    if isinstance(columns, str):
        columns = {one: one for one in columns.split()}
    path = folder / "table.parquet"
    pq.write_table(pa.table(table), path)
    return run(Request(kind, "table", columns, options), {"2026": path}, facts or {})


def rows_of(found: Found, name: str) -> dict[Any, tuple[Any, ...]]:
    """Give the rows of a table by their first cell."""
    return {row[0]: row[1:] for one in found.tables if one.name == name for row in one.rows}


def cell(found: Found, table: str, row: Any, head: str) -> Any:
    """Give one number of a table by its row and its heading."""
    one = next(one for one in found.tables if one.name == table)
    return rows_of(found, table)[row][one.heads.index(head) - 1]


def named(found: Found, name: str) -> Any:
    """Give a test by its name."""
    return next(one for one in found.tests if one.name == name)
