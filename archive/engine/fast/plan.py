"""Which tables can be read the fast way, and how each of their columns is proved."""

import csv
import io
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from pathlib import Path
from typing import Any

import numpy as np

from archive.engine.fast.memo import BAD, NULL, VOID
from archive.engine.fast.prove import (
    ASK,
    DATE,
    DATETIME,
    EITHER,
    INTEGER,
    NAIVE,
    NUMBER,
    SCALES,
    TEXT,
    TIME,
    ZONED,
    Columns,
)
from archive.engine.fast.scan import Layout

Reader = Callable[[Any], tuple[Any, dict[str, str] | None]]

LEAST, MOST = -(1 << 62), 1 << 62
_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - times without a zone are compared as they are
_BOUNDS = ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum")
UTF_8 = frozenset({"utf-8", "utf8", "utf-8-sig"})
ASCII = frozenset({"ascii", "us-ascii", "iso8859-1", "iso-8859-1", "latin-1", "cp1252"})


class Slow(Exception):
    """The table must be read the slow way; the argument says why, in words for the report."""


class Odd(Slow):
    """The bytes are not plainly sound: somebody must look at them whole before they are judged."""


@dataclass(frozen=True, slots=True)
class Column:
    """One expected column: where it stands, and frictionless' own reader of its cells."""

    name: str
    number: int
    kind: str
    reader: Reader


@dataclass(frozen=True, slots=True)
class Source:
    """A table's file and how its bytes become cells."""

    path: Path
    layout: Layout
    options: dict[str, Any]
    is_utf8: bool
    has_mark: bool
    first_row: int

    def records(self, lines: Iterable[str]) -> Iterator[list[str]]:
        """Cut lines into records as csv.reader does."""
        return csv.reader(lines, **self.options)


class Cutter:
    """Cuts record after record as csv.reader does, with one reader for all of them."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self._lines: deque[str] = deque()
        self._records = source.records(self)

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        if not self._lines:
            raise StopIteration
        return self._lines.popleft()

    def __call__(self, data: bytes) -> list[str]:
        """Cut the first record of some bytes.

        Raises
        ------
        csv.Error
        """
        text = data.decode("utf-8")
        if "\r" in text or 0 <= text.find("\n") < len(text) - 1:
            # The kernel stops at a line break to translate; this is for cells beyond the last
            # column.
            newline = None if self.source.layout.translates else ""
            self._lines.extend(io.StringIO(text, newline=newline))
        else:
            self._lines.append(text)
        try:
            return next(self._records)
        except csv.Error:
            self._records = self.source.records(self)
            raise
        finally:
            self._lines.clear()


def source_of(resource: Any) -> Source:
    """Say how an opened resource is read.

    Raises
    ------
    Slow
    """
    if resource.data is not None or resource.scheme != "file" or resource.extrapaths:
        raise Slow("it is no single file")
    if resource.compression or resource.format not in {"csv", "tsv"}:
        raise Slow("it is no plain CSV file")
    encoding = str(resource.encoding).lower().replace("_", "-")
    if encoding not in UTF_8 | ASCII:
        raise Slow(f"its encoding is {encoding}")
    dialect = resource.dialect
    if dialect.comment_char or dialect.comment_rows or dialect.skip_blank_rows:
        raise Slow("its layout leaves out rows")
    if not dialect.header_case:
        raise Slow("its columns are known in any case of letters")
    if dialect.header and dialect.header_rows != [1]:
        raise Slow("its header is not the first row alone")
    if not resource.labels:
        raise Slow("it has no header")
    control = next((one for one in dialect.controls if one.type == "csv"), None)
    if control is None:
        raise Slow("its layout is not known")
    return Source(
        path=Path(resource.normpath),
        layout=_layout(control.to_python(), translates=resource.format != "csv"),
        options={"dialect": control.to_python()},
        is_utf8=encoding in UTF_8,
        has_mark=encoding == "utf-8-sig",
        first_row=2 if dialect.header else 1,
    )


def _layout(config: Any, *, translates: bool) -> Layout:
    quote = config.quotechar or ""
    if config.escapechar or not config.doublequote:
        raise Slow("its layout has an escape sign")
    signs = [config.delimiter, *([quote] if quote else [])]
    if any(len(sign) != 1 or not sign.isascii() or sign in "\r\n\0" for sign in signs):
        raise Slow("its layout has signs of its own")
    if config.delimiter == quote:
        raise Slow("its delimiter is its quotation mark")
    skips = bool(config.skipinitialspace)
    if skips and (config.delimiter == " " or quote == " "):
        raise Slow("its delimiter is a space")
    return Layout(ord(config.delimiter), ord(quote) if quote else 256, skips, translates)


def columns_of(
    resource: Any, guard: Callable[[Reader], Reader] | None = None
) -> tuple[list[Column], list[Any]]:
    """Give the expected columns of an opened resource, and frictionless' fields behind them.

    `guard` is laid around the reader of each column with a pattern.

    Raises
    ------
    Slow
    """
    fields = list(resource.header.get_expected_fields())
    if len({field.name for field in fields}) != len(fields) or not fields:
        raise Slow("two of its columns have one name")
    columns = []
    for number, field in enumerate(fields, start=1):
        # As frictionless' own `create_cell_handlers`, without its copies of the fields.
        reader = field.create_cell_reader()
        if guard and "pattern" in field.constraints:
            reader = guard(reader)
        columns.append(Column(field.name, number, field.type, reader))
    return columns, fields


def kernel_columns(
    columns: Sequence[Column],
    fields: Sequence[Any],
    *,
    slots: dict[int, int],
    numbers: dict[int, int],
    days: dict[int, int],
    judged: frozenset[str],
) -> Columns:
    """Put down for the kernel how each column is proved.

    Parameters
    ----------
    columns : sequence of Column
    fields : sequence of frictionless.Field
    slots, numbers, days : mapping of column to place
        Whose digests, numbers and days are asked for.
    judged : frozenset of str
        Columns each of whose distinct texts must be seen by a check of our own.

    Raises
    ------
    Slow
    """
    count = len(columns)
    shape = Columns(
        kind=np.zeros(count, np.uint8),
        sign=np.zeros(count, np.uint8),
        zone=np.zeros(count, np.uint8),
        low=np.full((count, SCALES), LEAST, np.int64),
        high=np.full((count, SCALES), MOST, np.int64),
        looked_up=np.zeros(count, np.bool_),
        empty=np.zeros(count, np.uint8),
        slot=np.array([slots.get(at, -1) for at in range(count)], np.int64),
        number=np.array([numbers.get(at, -1) for at in range(count)], np.int64),
        day=np.array([days.get(at, -1) for at in range(count)], np.int64),
    )
    for at, field in enumerate(fields):
        value, notes = columns[at].reader("")
        shape.empty[at] = bits(value, notes)
        if value is not None and field.type not in {"string", "any"}:
            raise Slow(f"an empty cell of “{field.name}” is a value")
        shape.looked_up[at] = bool(set(missing_of(field)) - {""})
        if field.name in judged:
            if value is not None:
                raise Slow(f"an empty cell of “{field.name}” is a value")
        elif "enum" not in field.constraints and "pattern" not in field.constraints:
            shape.kind[at] = _kind(field, at, shape)
    return shape


def bits(value: Any, notes: dict[str, str] | None) -> int:
    """Sum up what frictionless' reader said of a cell."""
    if notes:
        void = VOID if "type" in notes else NULL if value is None else 0
        return BAD | void
    return NULL if value is None else 0


def missing_of(field: Any) -> list[str]:
    """Give the texts that stand for an empty cell, as the field's reader takes them."""
    if not field.has_defined("missing_values") and field.schema:
        return list(field.schema.missing_values)
    return list(field.missing_values)


def _kind(field: Any, at: int, shape: Columns) -> int:
    limits = field.constraints
    shape.zone[at] = EITHER
    match field.type:
        case "any":
            return TEXT
        case "string" if field.format == "default":
            shape.low[at, 0] = limits.get("minLength", LEAST)
            shape.high[at, 0] = limits.get("maxLength", MOST)
            return TEXT
        case "integer":
            return INTEGER if _bound(field, at, shape, 1) else ASK
        case "number":
            sign = field.decimal_char
            if field.float_number or len(sign) != 1 or not sign.isascii() or sign in "-0123456789":
                return ASK
            if any(one in field.group_char for one in f"-0123456789{sign}"):
                return ASK
            shape.sign[at] = ord(sign)
            return NUMBER if _bound(field, at, shape, SCALES) else ASK
        case "date" if field.format in {"default", "%Y-%m-%d"}:
            return DATE if _bound(field, at, shape, 1) else ASK
        case "datetime" if field.format == "default":
            shape.sign[at] = ord("T")
            return DATETIME if _bound(field, at, shape, 1) else ASK
        case "datetime" if field.format in {"%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M:%S"}:
            shape.sign[at] = ord(field.format[8])
            if not _bound(field, at, shape, 1) or shape.zone[at] == ZONED:
                return ASK
            shape.zone[at] = NAIVE
            return DATETIME
        case "time" if field.format in {"default", "%H:%M:%S"}:
            return TIME if _bound(field, at, shape, 1) else ASK
        case _:
            return ASK


def _bound(field: Any, at: int, shape: Columns, scales: int) -> bool:
    """Put down least and greatest value, exactly; False where the kernel cannot compare them."""
    read = field.create_value_reader()
    for name in _BOUNDS:
        if field.constraints.get(name) is None:
            continue
        exact = _measure(read(field.constraints[name]), field.type)
        if exact is None:
            return False
        value, zone = exact
        if zone is not None:
            if shape.zone[at] not in {EITHER, zone}:
                return False
            shape.zone[at] = zone
        for scale in range(scales):
            scaled = value.scaleb(scale)
            if name in {"minimum", "exclusiveMinimum"}:
                limit = _whole(scaled, ROUND_CEILING)
                if name == "exclusiveMinimum" and limit == scaled:
                    limit += 1
                shape.low[at, scale] = max(shape.low[at, scale], min(limit, MOST))
            else:
                limit = _whole(scaled, ROUND_FLOOR)
                if name == "exclusiveMaximum" and limit == scaled:
                    limit -= 1
                shape.high[at, scale] = min(shape.high[at, scale], max(limit, LEAST))
    return True


def _whole(value: Decimal, rounding: str) -> int:
    return int(value.to_integral_value(rounding))


def _measure(value: Any, kind: str) -> tuple[Decimal, int | None] | None:
    if kind in {"integer", "number"} and type(value) in {int, Decimal}:
        exact = Decimal(value)
        # Beyond this the scaled bound would be rounded.
        fits = exact.is_finite() and len(exact.as_tuple().digits) <= 25 and abs(exact) < 10**25
        return (exact, None) if fits and exact.adjusted() > -30 else None
    if kind == "date" and type(value) is date:
        return Decimal(value.toordinal() - _EPOCH.toordinal()), None
    if kind == "datetime" and isinstance(value, datetime) and not value.microsecond:
        shift = value.utcoffset()
        naive = value.replace(tzinfo=None)
        seconds = (naive - _EPOCH).days * 86_400 + (naive - _EPOCH).seconds
        if shift is None:
            return Decimal(seconds), NAIVE
        if not shift.microseconds:
            return Decimal(seconds - shift.days * 86_400 - shift.seconds), ZONED
    if kind == "time" and isinstance(value, time) and not value.tzinfo and not value.microsecond:
        return Decimal(value.hour * 3_600 + value.minute * 60 + value.second), None
    return None
