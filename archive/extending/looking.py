"""A pool looked at: one page of its rows, and its columns summarised by group.

A row is no replicate: what is summarised here describes the table, and tests nothing.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from archive.extending.carrying import NOT_COLLECTED, SOURCE
from archive.extending.pooling import Pool
from archive.extending.sifting import Condition, sifted
from registry.errors import TooLarge, Unsound

MOST_GROUPS = 500
"""Groups that are laid out on one page. The house's own choice, no source."""
NEVER = 0
"""Stands for a cell that its cohort did not collect; None for one that is missing in the data."""

type Cell = str | int | None


def columns_told(pool: Pool) -> list[dict[str, Any]]:
    """Give each column with its unit, its type, its id and how many cohorts collected it."""
    return [
        {
            "name": field.name,
            "title": str(field.described.get("title") or field.name),
            "unit": field.unit,
            "id": field.field_id,
            "type": str(field.type),
            "is_number": is_number(field.type),
            "collected": sorted(field.collected),
        }
        for field in pool.fields
    ]


def is_number(kind: pa.DataType) -> bool:
    """Whether a column of that type can be summed up."""
    return bool(pa.types.is_integer(kind) or pa.types.is_floating(kind))


def page_of_rows(
    pool: Pool, conditions: Sequence[Condition], *, first: int, size: int
) -> tuple[list[list[Cell]], int]:
    """Give some of the rows that meet the conditions, and how many do.

    Parameters
    ----------
    first : int
        How many rows are passed over.
    size : int
        How many are given at most.

    Returns
    -------
    rows : list of list
        A cell as it is written in data; `None` where it is missing, `NEVER` where it was not
        collected. Every column of the pool's schema but the last, which says what was not.
    count : int
    """
    names = pool.schema.names
    counts = [batch.num_rows for batch in sifted(pool, [SOURCE], conditions)]
    total = sum(counts)
    rows: list[list[Cell]] = []
    seen = 0
    if first < total:
        for batch in sifted(pool, names, conditions):
            start, end = max(first - seen, 0), first + size - seen
            if start < batch.num_rows:
                rows += _cells(batch.slice(start, end - start), names)
            seen += batch.num_rows
            if len(rows) >= size or seen >= first + size:
                break
    return rows[:size], total


def _cells(batch: pa.RecordBatch, names: Sequence[str]) -> list[list[Cell]]:
    if not batch.num_rows:
        return []
    absent = set((batch.column(NOT_COLLECTED)[0].as_py() or "").split(", "))
    columns = [
        [NEVER] * batch.num_rows if name in absent else texts_of(batch.column(name)).to_pylist()
        for name in names
        if name != NOT_COLLECTED
    ]
    return [list(row) for row in zip(*columns, strict=True)]


def texts_of(cells: pa.Array) -> pa.Array:
    """Write cells as the standard's default formats have them.

    References
    ----------
    Data Package Standard 2.0, Table Schema, "Field Types".
    """
    kind = cells.type
    if pa.types.is_dictionary(kind):
        return pc.cast(cells, kind.value_type)
    if pa.types.is_timestamp(kind):
        return pc.strftime(pc.cast(cells, pa.timestamp("s")), "%Y-%m-%dT%H:%M:%S")
    if pa.types.is_floating(kind):
        # Python's own shortest form: it survives the way back to the same number.
        written = [None if one is None else _number(one) for one in cells.to_pylist()]
        return pa.array(written, pa.string())
    return pc.cast(cells, pa.string())


def _number(value: float) -> str:
    whole = repr(value)
    return whole.removesuffix(".0")


# ------------------------------------------------------------------ summaries


@dataclass
class Group:
    """The rows that have one combination of values, and what their numbers come to."""

    count: int = 0
    n: int = 0
    mean: float = 0.0
    squares: float = 0.0
    least: float = math.inf
    most: float = -math.inf

    def add(self, count: int, n: int, told: Sequence[float]) -> None:
        """Add rows of which mean, sum of squares about it, least and most are told.

        References
        ----------
        Chan, Golub and LeVeque 1983, American Statistician 37: 242-247, equation 1.5.
        """
        self.count += count
        if not n:
            return
        mean, squares, least, most = told
        apart = mean - self.mean
        both = self.n + n
        self.mean += apart * n / both
        self.squares += squares + apart * apart * self.n * n / both
        self.n, self.least, self.most = both, min(self.least, least), max(self.most, most)

    def told(self) -> dict[str, Any]:
        """Give it as JSON takes it; the deviation is that of a sample."""
        if not self.n:
            return {"count": self.count, "n": 0}
        deviation = math.sqrt(self.squares / (self.n - 1)) if self.n > 1 else None
        return {
            "count": self.count,
            "n": self.n,
            "mean": self.mean,
            "deviation": deviation,
            "least": self.least,
            "most": self.most,
        }


def summary(
    pool: Pool, conditions: Sequence[Condition], *, by: Sequence[str], of: str = ""
) -> list[tuple[list[str | None], dict[str, Any]]]:
    """Count the rows of each combination of values, and sum a column of numbers up.

    Parameters
    ----------
    by : sequence of str
        Columns, one or more.
    of : str
        A column of numbers, or "".

    Returns
    -------
    list of (values, told)
        In the order of first sight: cohorts oldest first.

    Raises
    ------
    Unsound
        When there is no such column, or it holds no numbers.
    TooLarge
        When there are more than `MOST_GROUPS` combinations.
    """
    types = {field.name: field.type for field in pool.schema}
    for name in (*by, *([of] if of else [])):
        if name not in types:
            raise Unsound("Nothing was summed up.", f"There is no column “{name}”.", "Choose one.")
    if of and not is_number(types[of]):
        why = f"“{of}” does not hold numbers."
        raise Unsound("Nothing was summed up.", why, "Choose a column of numbers, or none.")
    groups: dict[tuple[str | None, ...], Group] = {}
    wanted = list(dict.fromkeys([*by, *([of] if of else [])]))
    for batch in sifted(pool, wanted, conditions):
        _add(groups, batch, by, of)
    return [(list(key), one.told()) for key, one in groups.items()]


def _add(
    groups: dict[tuple[str | None, ...], Group], batch: pa.RecordBatch, by: Sequence[str], of: str
) -> None:
    keys = [f"by{at}" for at in range(len(by))]
    columns = [texts_of(batch.column(name)) for name in by]
    values = pc.cast(batch.column(of), pa.float64()) if of else pa.nulls(batch.num_rows)
    table = pa.table([*columns, values], names=[*keys, "of"])
    sums = [("of", "count", pc.CountOptions("all"))]
    if of:
        sums += [("of", name, None) for name in ("count", "mean", "variance", "min", "max")]
    found = table.group_by(keys).aggregate(sums)
    rows = zip(*(found.column(at).to_pylist() for at in range(found.num_columns)), strict=True)
    for row in sorted(rows, key=lambda one: [str(part) for part in one[: len(by)]]):
        key, (count, *told) = row[: len(by)], row[len(by) :]
        if key not in groups and len(groups) >= MOST_GROUPS:
            raise TooLarge(
                "Nothing was summed up.",
                f"There are more than {MOST_GROUPS} combinations of {', '.join(by)}.",
                "Group by columns of fewer values, or sift the rows first.",
            )
        n = told[0] if told else 0
        numbers = (told[1], told[2] * n, told[3], told[4]) if n else ()
        groups.setdefault(key, Group()).add(count, n, numbers)
