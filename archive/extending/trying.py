"""Rules tried on a whole table before they are accepted: first rows as they read, and counts.

Where a pool refuses at the first value that a rule does not cover, a trial leaves that value out,
counts it and goes on, so that whoever reviews the rules sees all that is in their way at once.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from archive.engine.roles import PLAUSIBLE, UNIT, fields_of
from archive.extending.applying import applied, changed, is_text
from archive.extending.carrying import BATCH_ROWS, Cohort, carry
from archive.extending.codes import labels_of
from archive.extending.covering import blanked, uncovered
from archive.extending.looking import is_number, texts_of
from archive.extending.rules import Derive, Rename, Rule, columns_of, leaves
from registry.errors import Unsound

EXAMPLES = 5
"""Different values that are named of each kind. The house's own choice, no source."""

type Fields = Mapping[str, Mapping[str, Any]]


@dataclass
class Counted:
    """Values of one kind: how many, and the first few that differ."""

    number: int = 0
    examples: list[str] = field(default_factory=list)

    def add(self, columns: Sequence[pa.ChunkedArray], mask: pa.ChunkedArray) -> int:
        """Count the rows that a mask marks, and name what stands there; give how many."""
        found: int = pc.sum(mask).as_py() or 0
        self.number += found
        if found and len(self.examples) < EXAMPLES:
            cells = [pc.cast(one.filter(mask), pa.string()).to_pylist() for one in columns]
            texts = (" and ".join(map(str, row)) for row in zip(*cells, strict=True))
            self.examples = list(dict.fromkeys([*self.examples, *texts]))[:EXAMPLES]
        return found


@dataclass
class Step:
    """What a rule came to: rows that it gives a value, leaves empty, or cannot read."""

    rule: Rule
    rows: int = 0
    empty: int = 0
    unread: Counted = field(default_factory=Counted)

    @property
    def reads(self) -> Sequence[str]:
        """The columns that it reads."""
        match self.rule:
            case Derive():
                return columns_of(self.rule.expression)
            case Rename():
                return (self.rule.old,)
        return (self.rule.field,)

    def take(self, table: pa.Table) -> pa.Table:
        """Apply the rule to some rows; a value that it does not cover is left out and counted.

        Raises
        ------
        Unsound
            When it cannot be applied to the table at all.
        """
        unread = 0
        try:
            made = applied([self.rule], table)
        except Unsound:
            mask = uncovered(self.rule, table)
            unread = self.unread.add([table.column(name) for name in self.reads], mask)
            if not unread:
                raise
            made = applied([self.rule], blanked(table, self.reads, mask))
            if isinstance(self.rule, Derive):  # it only read them
                for name in set(self.reads) - {self.rule.into}:
                    made = changed(made, name, table.column(name))
        self.rows += table.num_rows
        self.empty += made.column(leaves(self.rule)[0]).null_count - unread
        return made

    def told(self) -> dict[str, Any]:
        """Give it as JSON takes it; the three numbers come to all rows."""
        return {
            "said": self.rule.said,
            "values": self.rows - self.empty - self.unread.number,
            "empty": self.empty,
            "unread": self.unread.number,
            "examples": self.unread.examples,
        }


BEYOND = {"unlisted": "categories", "outside": "constraints", "unlikely": PLAUSIBLE}
"""What a value may be by the newer dictionary, and by which property of its field."""


def beyond(values: pa.ChunkedArray, described: Mapping[str, Any], what: str) -> pa.ChunkedArray:
    """Say of each row whether its value is one of which the newer dictionary does not know."""
    none = pa.chunked_array([pa.repeat(pa.scalar(False), len(values))])
    if what == "unlisted":
        listed = labels_of(described)
        if listed is None or not is_text(values.type):
            return none
        known = pc.is_in(values, value_set=pa.array(map(str, listed), pa.string()))
        return pc.and_(pc.is_valid(values), pc.invert(known))
    ends = described.get(BEYOND[what])
    if not isinstance(ends, Mapping) or not is_number(values.type):
        return none
    for name, passes in (("minimum", pc.less), ("maximum", pc.greater)):
        if isinstance(end := ends.get(name), int | float):
            none = pc.or_(none, pc.fill_null(passes(values, float(end)), False))
    return none


def tried(cohort: Cohort, new: Mapping[str, Any], *, rows: int, columns: int) -> dict[str, Any]:
    """Read a table by its rules, as a pool would, and tell what comes of it.

    Parameters
    ----------
    cohort : Cohort
        The table, with the rules that are tried.
    new : mapping
        The Data Resource of the newer dictionary.
    rows, columns : int
        How many are shown at most.

    Returns
    -------
    dict
        `count` of the rows; `before` and `after`, each with `columns` and the first `rows` as
        texts, None where one is empty; `steps`, one a rule, units that differ first; `beyond`,
        columns with values that are in no list (`unlisted`), outside what is allowed (`outside`)
        or of what is likely (`unlikely`) by the newer dictionary; `lacking`, its columns that
        nothing fills.

    Raises
    ------
    Unsound
        When the rules do not fit the table, whatever its values.
    """
    carried = carry(cohort, Cohort("", cohort.path, new))
    steps = [Step(rule) for rule in carried.rules]
    found = {(name, what): Counted() for name in carried.fields for what in BEYOND}
    own = {one["name"]: one for one in cohort.fields}
    read = {name for step in steps for name in step.reads}
    written = {carried.names.get(name, "") for step in steps for name in leaves(step.rule)}
    count, pages = 0, list[dict[str, Any]]()
    with pq.ParquetFile(cohort.path) as file:
        empty = file.schema_arrow.empty_table()
        batches = map(pa.Table.from_batches, ([one] for one in file.iter_batches(BATCH_ROWS)))
        for raw in batches if file.metadata.num_rows else [empty]:
            made = raw
            for step in steps:
                made = step.take(made)
            made = made.rename_columns([carried.names[name] for name in made.column_names])
            for (name, what), counted in found.items():
                values = made.column(name)
                counted.add([values], beyond(values, carried.fields[name], what))
            count += raw.num_rows
            pages = pages or [
                _page(raw.slice(0, rows), own, read, columns),
                _page(made.slice(0, rows), carried.fields, written, columns),
            ]
    return {
        "count": count,
        "before": pages[0],
        "after": pages[1],
        "steps": [step.told() for step in steps],
        "beyond": [
            {"column": name, "what": what, "count": one.number, "examples": one.examples}
            for (name, what), one in found.items()
            if one.number
        ],
        "lacking": [
            one["name"] for one in fields_of(new["schema"]) if one["name"] not in carried.fields
        ],
    }


def _page(table: pa.Table, fields: Fields, first: set[str], most: int) -> dict[str, Any]:
    """Give the columns of some rows and their cells: first what the rules read or write."""
    names = sorted(table.column_names, key=lambda name: (name not in first, name not in fields))
    names = names[:most]
    cells = [texts_of(table.column(name).combine_chunks()).to_pylist() for name in names]
    return {
        "columns": [
            {
                "name": name,
                "unit": str(fields.get(name, {}).get(UNIT) or ""),
                "is_number": is_number(table.column(name).type),
            }
            for name in names
        ],
        "rows": [list(row) for row in zip(*cells, strict=True)],
    }
