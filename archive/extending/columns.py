"""A table's columns as typed Parquet, made once beside the CSV, which stays what it is.

A column has a type only where every cell of it stands for one value of that type, and that value
holds all that was written; where one does not, the column is kept as the text that was written.
Nothing is guessed from a sample: types are the dictionary's, and a code "NA" is a text.

References
----------
Apache Parquet format 2; IEEE 754-2019, 5.12.2: 15 significant digits of a decimal number survive
the way to binary64 and back.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from itertools import islice
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from archive.engine.descriptor import file_format, pin_layout
from archive.engine.reading import reader_options
from archive.engine.records import records_of
from archive.engine.roles import FIELD_ID, UNIT, fields_of, missing_values
from archive.extending.fields import kind_of, truths
from registry.errors import Unsound

ROWS = 1 << 17
"""Rows of one row group: some tens of megabytes in memory, whatever the size of the table."""

_TYPES = {
    "integer": pa.int64(),
    "number": pa.float64(),
    "boolean": pa.bool_(),
    "date": pa.date32(),
    "datetime": pa.timestamp("ms"),
}
_FORMS = {
    "integer": r"^-?[0-9]{1,18}$",
    "number": r"^-?[0-9]+(\.[0-9]+)?$",
    "date": r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
    "datetime": r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}$",
}
"""Lexical forms that Arrow reads as frictionless does."""
_SURE_DIGITS = 15


class TextNeededError(Exception):
    """A cell says more than the type of its column could hold."""

    def __init__(self, column: int) -> None:
        super().__init__(column)
        self.column = column


@dataclass(frozen=True, slots=True)
class Column:
    """How a column is read and kept."""

    name: str
    kind: str
    missing: frozenset[str]
    field: Mapping[str, Any]

    @property
    def is_required(self) -> bool:
        """Whether no cell is empty: a column that says so is read in half the time."""
        return bool((self.field.get("constraints") or {}).get("required"))

    @property
    def type(self) -> pa.DataType:
        """The column's type in the copy."""
        return _TYPES.get(self.kind, pa.string())


def write_columns(source: Path, target: Path, resource: Mapping[str, Any]) -> int:
    """Write the columns of an accepted table as Parquet.

    Parameters
    ----------
    source : Path
        The CSV as it was accepted: the check found it valid.
    target : Path
        Where the copy is put; whole, or not at all.
    resource : mapping
        The Data Resource with its schema and dialect.

    Returns
    -------
    int
        Rows written.

    Raises
    ------
    Unsound
        When its layout is one that this reader does not know.
    """
    kept_as_text: set[int] = set()
    part = target.with_name(f"{target.name}.part")
    try:
        while True:
            try:
                rows = _write(source, part, resource, kept_as_text)
                break
            except TextNeededError as wider:
                kept_as_text.add(wider.column)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return rows


def _write(source: Path, part: Path, resource: Mapping[str, Any], as_text: set[int]) -> int:
    layout = pin_layout(resource.get("dialect") or {}, file_format(resource))
    if layout.get("headerRows") != [1] or layout.get("commentRows") or layout.get("commentChar"):
        raise Unsound(
            "No copy of the columns was made.",
            "The table’s header is not its first row, or it has rows of comments.",
            "The table itself is whole, and is read as it is.",
        )
    with source.open(encoding="utf-8-sig", newline="") as file:
        records = records_of(file, reader_options(layout["csv"]))
        columns = _columns(next(records, []), resource["schema"], as_text)
        schema = pa.schema(
            [pa.field(c.name, c.type, not c.is_required, metadata=_facts(c)) for c in columns]
        )
        count = 0
        with pq.ParquetWriter(part, schema, compression="zstd") as writer:
            for rows in _chunks(records):
                count += len(rows)
                texts = zip(*rows, strict=True)
                arrays = [
                    typed(pa.array(cells, pa.string()), column, at)
                    for at, (cells, column) in enumerate(zip(texts, columns, strict=True))
                ]
                writer.write_batch(pa.record_batch(arrays, schema=schema))
    return count


def _chunks(records: Iterator[list[str]]) -> Iterator[list[list[str]]]:
    while rows := list(islice(records, ROWS)):
        yield rows


def _columns(labels: Sequence[str], schema: Mapping[str, Any], as_text: set[int]) -> list[Column]:
    fields = {field["name"]: field for field in fields_of(schema)}
    columns = []
    for at, label in enumerate(labels):
        field = fields.get(label, {"name": label, "type": "string"})
        kind = "string" if at in as_text or not _is_plain(field) else kind_of(field)
        columns.append(Column(label, kind, missing_values(schema, label), field))
    return columns


def _is_plain(field: Mapping[str, Any]) -> bool:
    """Whether its cells are written as its type is written by default."""
    form = field.get("format") or "default"
    return form == "default" and field.get("bareNumber", True) and not field.get("floatNumber")


def _facts(column: Column) -> dict[str, str]:
    said = {key: column.field.get(key) for key in (FIELD_ID, UNIT, "type")}
    return {key: str(value) for key, value in said.items() if value}


def typed(texts: pa.Array, column: Column, at: int = 0) -> pa.Array:
    """Give cells as values of their column's type; None for those that stand for an empty cell.

    Raises
    ------
    TextNeededError
        When the type would not hold what is written.
    """
    is_missing = pc.is_in(texts, pa.array(sorted(column.missing), pa.string()))
    texts = pc.if_else(is_missing, pa.scalar(None, pa.string()), texts)
    if column.kind == "boolean":
        return _truths(texts, truths(column.field), at)
    if column.kind not in _TYPES:
        return texts
    if column.kind == "number":
        texts = _with_points(texts, column.field)
    form = _FORMS[column.kind]
    is_canonical = pc.all(pc.match_substring_regex(texts, form)).as_py() is not False
    if is_canonical and column.kind == "number":
        digits = pc.utf8_length(pc.replace_substring_regex(texts, r"[-.]", ""))
        is_canonical = (pc.max(digits).as_py() or 0) <= _SURE_DIGITS
    if is_canonical:
        return pc.cast(texts, column.type)
    if column.kind in {"integer", "number"}:
        return _each(texts, _READ[column.kind], column.type, at)
    raise TextNeededError(at)


def _with_points(texts: pa.Array, field: Mapping[str, Any]) -> pa.Array:
    group, point = field.get("groupChar") or "", field.get("decimalChar") or "."
    if group:
        texts = pc.replace_substring(texts, group, "")
    return pc.replace_substring(texts, point, ".") if point != "." else texts


def _truths(texts: pa.Array, stand_for: Mapping[str, bool], at: int) -> pa.Array:
    known = pc.is_in(texts, pa.array(list(stand_for), pa.string()))
    if pc.any(pc.and_(pc.is_valid(texts), pc.invert(known))).as_py():
        raise TextNeededError(at)
    true = pa.array([text for text, truth in stand_for.items() if truth], pa.string())
    return pc.if_else(pc.is_valid(texts), pc.is_in(texts, true), pa.scalar(None, pa.bool_()))


def _each(texts: pa.Array, read: Any, kind: pa.DataType, at: int) -> pa.Array:
    """Read each different text once, with Python's own numbers, as frictionless does."""
    encoded = texts.dictionary_encode()
    try:
        values = [read(text) for text in encoded.dictionary.to_pylist()]
        return pa.array(values, kind).take(encoded.indices)
    except (ArithmeticError, ValueError, pa.ArrowInvalid):
        raise TextNeededError(at) from None


def _whole(text: str) -> int:
    return int(text.strip())


def _number(text: str) -> float:
    exact, near = Decimal(text.strip()), float(text)
    if exact.is_nan() or (exact.is_finite() and Decimal(repr(near)) != exact):
        raise InvalidOperation
    return near


_READ = {"integer": _whole, "number": _number}
