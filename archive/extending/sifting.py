"""Which rows of a pool are asked for: conditions on columns, by what the column holds."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from archive.extending.carrying import NOT_COLLECTED
from archive.extending.pooling import Pool
from registry.errors import Unsound

WHAT = "The rows were not sifted."


class How(StrEnum):
    """What is asked of a cell."""

    IS = "is"
    IS_NOT = "is not"
    LEAST = "at least"
    MOST = "at most"
    HOLDS = "has in it"
    FILLED = "is filled"
    MISSING = "is missing"


NEEDS_NO_VALUE = frozenset({How.FILLED, How.MISSING})


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition: a column, what is asked, and of which value."""

    column: str
    how: How
    value: str = ""


def sifted(
    pool: Pool, columns: Sequence[str], conditions: Sequence[Condition]
) -> Iterator[pa.RecordBatch]:
    """Give the rows that meet every condition, a piece at a time, in the pool's order.

    Parameters
    ----------
    pool : Pool
    columns : sequence of str
        Those to give; the ones that are only asked of are read and left out.
    conditions : sequence of Condition

    Raises
    ------
    Unsound
        When a column is not there, or a value is none that its column could hold.
    """
    if not conditions:
        yield from pool.batches(columns)
        return
    sieves = [Sieve(pool, one) for one in conditions]
    read = list(dict.fromkeys([*columns, *(name for one in sieves for name in one.reads)]))
    for batch in pool.batches(read):
        kept = sieves[0].mask(batch)
        for one in sieves[1:]:
            kept = pc.and_(kept, one.mask(batch))
        yield batch.filter(kept).select(list(columns))


class Sieve:
    """A condition with its value read as the column's type reads it."""

    def __init__(self, pool: Pool, condition: Condition) -> None:
        types = {field.name: field.type for field in pool.schema}
        if condition.column not in types:
            raise Unsound(
                WHAT,
                f"There is no column “{condition.column}”.",
                f"Choose among {', '.join(types)}.",
            )
        kind = types[condition.column]
        self.kind = kind.value_type if pa.types.is_dictionary(kind) else kind
        self.condition = condition
        own = {field.name for field in pool.fields}
        # What a cohort did not collect is not missing in its data.
        self.is_told_apart = condition.column in own and condition.how is How.MISSING
        self.value = None if condition.how in NEEDS_NO_VALUE else self._read(condition)

    @property
    def reads(self) -> list[str]:
        """The columns that it looks at."""
        return [self.condition.column, *([NOT_COLLECTED] if self.is_told_apart else [])]

    def _read(self, condition: Condition) -> Any:
        if condition.how is How.HOLDS:
            return condition.value
        if pa.types.is_string(self.kind):
            return pa.scalar(condition.value, self.kind)
        try:
            return pa.scalar(_value(condition.value.strip(), self.kind), self.kind)
        except (ValueError, OverflowError):
            raise Unsound(
                WHAT,
                f"“{condition.value}” is none of {condition.column}’s values ({self.kind}).",
                "Write numbers with a point, and days as 2026-03-01.",
            ) from None

    def mask(self, batch: pa.RecordBatch) -> pa.Array:
        """Give, for each row, whether it meets the condition; a missing cell meets none."""
        cells = batch.column(self.condition.column)
        if pa.types.is_dictionary(cells.type):
            cells = pc.cast(cells, cells.type.value_type)
        match self.condition.how:
            case How.FILLED:
                return pc.is_valid(cells)
            case How.MISSING:
                return self._missing(batch, cells)
            case How.HOLDS:
                texts = cells if pa.types.is_string(cells.type) else pc.cast(cells, pa.string())
                found = pc.match_substring(texts, self.value, ignore_case=True)
            case how:
                found = _COMPARE[how](cells, self.value)
        return pc.fill_null(found, False)

    def _missing(self, batch: pa.RecordBatch, cells: pa.Array) -> pa.Array:
        empty = pc.is_null(cells)
        if not self.is_told_apart or not batch.num_rows:
            return empty
        absent = batch.column(NOT_COLLECTED)[0].as_py() or ""
        is_absent = self.condition.column in absent.split(", ")
        return pc.and_(empty, pa.scalar(not is_absent))


_COMPARE = {
    How.IS: pc.equal,
    How.IS_NOT: pc.not_equal,
    How.LEAST: pc.greater_equal,
    How.MOST: pc.less_equal,
}


def _value(text: str, kind: pa.DataType) -> Any:
    if pa.types.is_integer(kind):
        return int(text)
    if pa.types.is_floating(kind):
        return float(text)
    if pa.types.is_boolean(kind):
        if text.lower() not in _TRUTHS:
            raise ValueError(text)
        return _TRUTHS[text.lower()]
    if pa.types.is_date(kind):
        return date.fromisoformat(text)
    whole = text if re.search("[T ]", text) else f"{text}T00:00:00"
    return datetime.fromisoformat(whole).replace(tzinfo=UTC).replace(tzinfo=None)


_TRUTHS = {"true": True, "false": False}
