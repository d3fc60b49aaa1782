"""One table over the cohorts of a study: columns by their permanent ids, each row with its source.

Columns are read by name out of the typed copies, those that are asked for and no others, a piece
at a time. What was not collected in a cohort is told apart from what is missing in its data.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from archive.engine.roles import FIELD_ID, UNIT
from archive.extending.carrying import (
    ADDED,
    NOT_COLLECTED,
    ROW,
    SOURCE,
    WHAT,
    Carried,
    Cohort,
    carry,
)
from registry.errors import Unsound


@dataclass(frozen=True)
class PooledField:
    """A column of the pooled table.

    Parameters
    ----------
    name, field_id, unit : str
        As the newest dictionary that has the field says them.
    type : pyarrow.DataType
        One that holds the values of every cohort.
    described : mapping
        The field as that dictionary has it.
    collected : frozenset of str
        The identifiers of the versions that have it.
    """

    name: str
    field_id: str
    unit: str
    type: pa.DataType
    described: Mapping[str, Any]
    collected: frozenset[str]


@dataclass(frozen=True)
class Pool:
    """The cohorts as one table.

    Parameters
    ----------
    cohorts : tuple of Cohort
        Oldest first; the last one's dictionary names and orders the columns.

    Raises
    ------
    Unsound
        When something that differs between two dictionaries has no rule, units cannot be
        converted, or two columns would have one name. Raised when it is first read.
    """

    cohorts: tuple[Cohort, ...]

    @cached_property
    def fields(self) -> tuple[PooledField, ...]:
        """The columns, those of the newest dictionary first."""
        return _pooled_fields(self)

    @cached_property
    def schema(self) -> pa.Schema:
        """The columns of the pooled table, with those that say where a row is from."""
        own = [pa.field(field.name, field.type) for field in self.fields]
        return pa.schema([*own, *(pa.field(name, _ADDED_TYPES[name]) for name in ADDED)])

    @cached_property
    def carried(self) -> tuple[Carried, ...]:
        """What is done to each cohort."""
        return tuple(carry(cohort, self.cohorts[-1]) for cohort in self.cohorts)

    def batches(
        self, columns: Sequence[str] | None = None, *, encoded: bool = False
    ) -> Iterator[pa.RecordBatch]:
        """Give the rows of all cohorts, oldest first, a piece at a time.

        Parameters
        ----------
        columns : sequence of str, optional
            Those asked for; all, unless said. Each is read once, the others not at all.
        encoded : bool
            Whether texts are left as codes with their dictionary, as they are stored.

        Raises
        ------
        Unsound
            When there is no such column.
        """
        wanted = list(self.schema.names if columns is None else columns)
        if odd := [name for name in wanted if name not in self.schema.names]:
            raise Unsound(
                WHAT,
                f"There is no column “{odd[0]}”.",
                f"Choose among {', '.join(self.schema.names)}.",
            )
        for number, carried in enumerate(self.carried):
            yield from self._of_one(number, carried, wanted, encoded)

    def write(self, target: Path) -> int:
        """Write the pooled table as Parquet; give the number of its rows."""
        count = 0
        with pq.ParquetWriter(target, self.schema, compression="zstd") as writer:
            for batch in self.batches():
                writer.write_batch(batch)
                count += batch.num_rows
        return count

    def _of_one(
        self, number: int, carried: Carried, wanted: Sequence[str], encoded: bool
    ) -> Iterator[pa.RecordBatch]:
        types = {field.name: field.type for field in self.fields}
        absent = [f.name for f in self.fields if carried.identifier not in f.collected]
        row = 2
        for table in carried.tables(wanted, encoded=encoded):
            count = table.num_rows
            made: list[pa.Array] = []
            for name in wanted:
                if name == SOURCE:
                    made.append(_same(number, [c.identifier for c in self.cohorts], count))
                elif name == ROW:
                    made.append(pa.array(np.arange(row, row + count)))
                elif name == NOT_COLLECTED:
                    made.append(_same(0 if absent else None, [", ".join(absent)], count))
                elif name in table.column_names:
                    made.append(_as(table.column(name), types[name], name))
                else:
                    made.append(pa.nulls(count, types[name]))
            row += count
            yield pa.record_batch(made, names=wanted)


_ADDED_TYPES = {
    SOURCE: pa.dictionary(pa.int32(), pa.string()),
    ROW: pa.int64(),
    NOT_COLLECTED: pa.dictionary(pa.int32(), pa.string()),
}


def _same(code: int | None, words: Sequence[str], count: int) -> pa.Array:
    """Give a column that says one thing in every row."""
    codes = pa.repeat(pa.scalar(code, pa.int32()), count)
    return pa.DictionaryArray.from_arrays(codes, pa.array(words, pa.string()))


def _as(values: pa.ChunkedArray, kind: pa.DataType, name: str) -> pa.Array:
    try:
        is_kept = values.type == kind or (
            pa.types.is_dictionary(values.type) and values.type.value_type == kind
        )
        cast = values if is_kept else pc.cast(values, kind)
    except pa.ArrowInvalid as fault:
        why = f"“{name}” holds a value that its numbers cannot hold ({fault})."
        raise Unsound(WHAT, why, "Carry the cohort over with a rule, or leave it out.") from None
    whole = cast.combine_chunks()
    return whole if isinstance(whole, pa.Array) else pa.concat_arrays(whole.chunks)


# ------------------------------------------------------------------ the columns of the pool


def _pooled_fields(pool: Pool) -> tuple[PooledField, ...]:
    if not pool.cohorts:
        raise Unsound(WHAT, "There is none.", "Choose the versions to pool.")
    identifiers = [cohort.identifier for cohort in pool.cohorts]
    if len(set(identifiers)) < len(identifiers):
        raise Unsound(WHAT, "One version stands twice.", "Choose each version once.")
    order: dict[str, Mapping[str, Any]] = {}
    for carried in reversed(pool.carried):
        for name, field in carried.fields.items():
            order.setdefault(name, field)
    return tuple(_pooled_field(name, field, pool.carried) for name, field in order.items())


def _pooled_field(name: str, field: Mapping[str, Any], cohorts: Sequence[Carried]) -> PooledField:
    having = [one for one in cohorts if name in one.fields]
    return PooledField(
        name,
        str(field.get(FIELD_ID) or ""),
        str(field.get(UNIT) or ""),
        _common(name, having),
        field,
        frozenset(one.identifier for one in having),
    )


def _common(name: str, having: Sequence[Carried]) -> pa.DataType:
    """Give a type for a column that is of several: numbers where none loses a digit, else text."""
    types = {one.types[name] for one in having}
    if len(types) == 1:
        return types.pop()
    if types == {pa.int64(), pa.float64()} and all(
        one.has_whole_floats(name) for one in having if one.types[name] == pa.int64()
    ):
        return pa.float64()
    return pa.string()
