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

from archive.engine.roles import FIELD_ID, UNIT, fields_of
from archive.extending.applying import applied
from archive.extending.changes import Verdict
from archive.extending.rules import Convert, Rule, touched, unmet
from archive.extending.tables import Pair, paired, table_changes
from archive.extending.units import are_alike
from registry.errors import Unsound

SOURCE, ROW, NOT_COLLECTED = "_source", "_source_row", "_not_collected"
"""The columns that every pooled table has: the version that a row is from, its row there (the
header is row 1), and the columns that its cohort did not collect, by name."""
ADDED = (SOURCE, ROW, NOT_COLLECTED)
BATCH_ROWS = 1 << 17
WHAT = "The cohorts were not pooled."
_WHOLE_FLOAT = 1 << 53


@dataclass(frozen=True)
class Cohort:
    """One table of one version.

    Parameters
    ----------
    identifier : str
        The version's permanent identifier.
    path : Path
        The typed copy of its table.
    resource : mapping
        The Data Resource with the schema that it was checked with.
    rules : tuple of Rule
        What carries it over to the newest cohort's dictionary, beside names and units, which the
        permanent ids and the unit codes settle.
    """

    identifier: str
    path: Path
    resource: Mapping[str, Any]
    rules: tuple[Rule, ...] = ()

    @property
    def fields(self) -> list[dict[str, Any]]:
        """Its fields, as its dictionary has them."""
        return fields_of(self.resource["schema"])


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
    def carried(self) -> tuple["Carried", ...]:
        """What is done to each cohort."""
        return tuple(_carried(cohort, self.cohorts[-1]) for cohort in self.cohorts)

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
        self, number: int, carried: "Carried", wanted: Sequence[str], encoded: bool
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


# ------------------------------------------------------------------ what is done to a cohort


@dataclass(frozen=True)
class Carried:
    """What is done to a cohort to make its columns those of the pool.

    Parameters
    ----------
    identifier : str
    path : Path
    rules : tuple of Rule
        The conversions of its units, then its own.
    names : mapping of str to str
        Its columns after the rules, each with its name in the pool.
    fields : mapping of str to mapping
        The field that describes each of the pool's columns that it has.
    """

    identifier: str
    path: Path
    rules: tuple[Rule, ...]
    names: Mapping[str, str]
    fields: Mapping[str, Mapping[str, Any]]

    @cached_property
    def types(self) -> dict[str, pa.DataType]:
        """The type of each of its columns, by its name in the pool."""
        empty = applied(self.rules, self._file.schema_arrow.empty_table())
        return {self.names[name]: empty.schema.field(name).type for name in empty.column_names}

    @cached_property
    def _file(self) -> pq.ParquetFile:
        return pq.ParquetFile(self.path)

    def tables(self, wanted: Sequence[str], *, encoded: bool) -> Iterator[pa.Table]:
        """Give its rows, a piece at a time, with the pool's names."""
        columns = None
        if not self.rules:
            columns = [name for name, pooled in self.names.items() if pooled in set(wanted)]
        if columns == []:
            # What is the same in every row needs no column; only how many rows there are.
            yield from self._rows_alone()
            return
        schema = self._file.schema_arrow
        texts = [one.name for one in schema if encoded and pa.types.is_string(one.type)]
        file = pq.ParquetFile(self.path, read_dictionary=texts) if texts else self._file
        for batch in file.iter_batches(BATCH_ROWS, columns=columns):
            table = applied(self.rules, pa.Table.from_batches([batch]))
            yield table.rename_columns([self.names[name] for name in table.column_names])

    def _rows_alone(self) -> Iterator[pa.Table]:
        left = self._file.metadata.num_rows
        while left:
            yield pa.table({"": pa.nulls(min(left, BATCH_ROWS))})
            left -= min(left, BATCH_ROWS)

    def has_whole_floats(self, name: str) -> bool:
        """Whether every whole number of a column is one exactly as a floating number too."""
        (own,) = (key for key, pooled in self.names.items() if pooled == name)
        if any(own in touched(rule) for rule in self.rules):
            return False
        metadata = self._file.metadata
        at = self._file.schema_arrow.names.index(own)
        for group in range(metadata.num_row_groups):
            told = metadata.row_group(group).column(at).statistics
            if told is None or (
                told.has_min_max and not -_WHOLE_FLOAT <= told.min <= told.max <= _WHOLE_FLOAT
            ):
                return False
        return True


def _carried(cohort: Cohort, newest: Cohort) -> Carried:
    before, now = cohort.resource["schema"], newest.resource["schema"]
    pairs = paired(before, now)
    columns = pq.read_schema(cohort.path)
    rules = cohort.rules
    if cohort is not newest:
        _all_met(cohort, newest)
        rules = (*_conversions(pairs, rules, columns.names), *rules)
    fields = {field["name"]: field for field in cohort.fields}
    theirs = {field["name"]: field for field in newest.fields}
    called = {was["name"]: is_["name"] for was, is_ in pairs}
    empty = applied(rules, columns.empty_table())
    names: dict[str, str] = {}
    described: dict[str, Mapping[str, Any]] = {}
    for name in empty.column_names:
        own = fields.get(name, {})
        if name in called:
            pooled = called[name]
        elif name in theirs and name not in fields:
            pooled = name  # a rule made it
        else:
            # A name that stands for another field now is told apart by its id.
            pooled = f"{name}__{own.get(FIELD_ID, 'old')}" if name in theirs else name
        if pooled in described or pooled in ADDED:
            raise Unsound(
                WHAT,
                f"Two columns of {cohort.identifier} would be called “{pooled}”.",
                "Rename one of them by a rule.",
            )
        names[name], described[pooled] = pooled, theirs.get(pooled, own)
    return Carried(cohort.identifier, cohort.path, rules, names, described)


def _all_met(cohort: Cohort, newest: Cohort) -> None:
    told = [
        one
        for one in table_changes(cohort.resource, newest.resource)
        if one.verdict is Verdict.MAPPING and one.mapping not in {"rename", "unit"}
    ]
    pairs = paired(cohort.resource["schema"], newest.resource["schema"])
    if left := unmet(told, cohort.rules, {was["name"]: is_["name"] for was, is_ in pairs}):
        raise Unsound(
            WHAT,
            f"Between the dictionary of {cohort.identifier} and the newest, this has no rule:"
            f" {' '.join(left)}",
            "Write a rule for it and have it reviewed, or leave the cohort out.",
        )


def _conversions(
    pairs: Sequence[Pair], rules: Sequence[Rule], columns: Sequence[str]
) -> Iterator[Rule]:
    """Convert the units that differ, where no rule of the cohort does."""
    done = {rule.field for rule in rules if isinstance(rule, Convert)}
    for was, is_ in pairs:
        old, new = was.get(UNIT), is_.get(UNIT)
        is_open = was["name"] in columns and not done & {was["name"], is_["name"]}
        if is_open and old and new and not are_alike(old, new):
            yield Convert(was["name"], old, new)


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
