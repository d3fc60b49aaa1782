"""What is done to one cohort so that its columns are those of the newest: units, rules, names."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from archive.engine.roles import FIELD_ID, UNIT, fields_of
from archive.extending.applying import applied
from archive.extending.changes import Verdict
from archive.extending.rules import Convert, Rule, leaves, touched, unmet
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


def carry(cohort: Cohort, newest: Cohort) -> Carried:
    """Work out what makes a cohort's columns those of the newest.

    Raises
    ------
    Unsound
        When something that differs has no rule, or two columns would have one name.
    """
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
    made = {name for rule in cohort.rules for name in leaves(rule)}
    empty = applied(rules, columns.empty_table())
    names: dict[str, str] = {}
    described: dict[str, Mapping[str, Any]] = {}
    for name in empty.column_names:
        own = fields.get(name, {})
        if name in called:
            pooled = called[name]
        elif name in theirs and (name not in fields or name in made):
            pooled = name  # a rule made it, or said that it is the same
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
