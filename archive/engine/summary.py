"""Columns at a glance, gathered while the rows go by; numbers are spilled to a file, not kept."""

import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from archive.engine.checks.chunk import Chunk
from archive.engine.checks.plausible import unlikely_values
from archive.engine.checks.unusual import far_values
from archive.engine.counted import moment_of
from archive.engine.findings import VALUE_LENGTH, Finding, shorten
from archive.engine.reports import ColumnSummary
from archive.engine.roles import ROLE, UNIT, FieldRole, role_of

DISTINCT_CAP = 10_000
VALUES_SHOWN = 50
BINS = 20
NUMERIC = frozenset({"number", "integer", "year"})
MOMENTS = frozenset({"date", "datetime", "time"})
MEASURED = frozenset({FieldRole.OUTCOME, FieldRole.COVARIATE})


class TableSummary:
    """Gathers a summary of each column of one table.

    Notes
    -----
    Numbers and moments go to a temporary file as float64, one record a row, so that quartiles and
    histograms are exact and memory stays flat. Distinct values are counted up to 10,000 a column.
    """

    def __init__(self, table: str, fields: Sequence[Mapping[str, Any]]) -> None:
        self.table = table
        self.fields = {str(field["name"]): field for field in fields}
        self.numeric = [
            name for name, field in self.fields.items() if field.get("type") in NUMERIC | MOMENTS
        ]
        self.rows = 0
        self.filled: Counter[str] = Counter()
        self.values: dict[str, Counter[Any]] = {name: Counter() for name in self.fields}
        self.ends: dict[tuple[str, bool], tuple[Any, Any]] = {}
        self._numbers = tempfile.TemporaryFile()  # noqa: SIM115 - closed by close()
        self._rows = tempfile.TemporaryFile()  # noqa: SIM115 - closed by close()

    def take(self, chunk: Chunk) -> None:
        """Add a chunk of rows."""
        self.rows += len(chunk.rows)
        for name in self.fields:
            values = [value for value in chunk.columns.get(name, ()) if value is not None]
            self.filled[name] += len(values)
            self._count(name, values)
            if self.fields[name].get("type") not in NUMERIC:
                self._stretch(name, values)
        if self.numeric:
            matrix = np.full((len(chunk.rows), len(self.numeric)), np.nan)
            for at, name in enumerate(self.numeric):
                if name in chunk.columns:
                    matrix[:, at] = _floats(chunk.columns[name])
            matrix.tofile(self._numbers)
            np.array(chunk.rows, np.int64).tofile(self._rows)

    def _count(self, name: str, values: list[Any]) -> None:
        seen = self.values[name]
        if len(seen) <= DISTINCT_CAP:
            is_short = all(len(value) <= VALUE_LENGTH for value in values if type(value) is str)
            try:
                seen.update(Counter(values if is_short else map(_token, values)))
            except TypeError:
                # Lists and objects are counted by their text.
                seen.update(map(_hashable, values))

    def _stretch(self, name: str, values: list[Any]) -> None:
        # A time with a zone and one without have no order between them.
        ordered = [value for value in values if isinstance(value, date | time)]
        for zoned in (False, True):
            part = [value for value in ordered if _zoned(value) is zoned]
            if part:
                least, greatest = self.ends.get((name, zoned), (part[0], part[0]))
                self.ends[name, zoned] = (min(least, *part), max(greatest, *part))

    def close(self) -> tuple[tuple[ColumnSummary, ...], list[Finding]]:
        """Give the summaries, and the numbers that stand far from their column."""
        numbers, rows = self._read()
        far: list[Finding] = []
        columns = []
        for name, field in self.fields.items():
            column = numbers[:, self.numeric.index(name)] if name in self.numeric else None
            is_number = field.get("type") in NUMERIC
            if column is not None and is_number and role_of(field) in MEASURED:
                far += far_values(self.table, name, rows, column)
            if column is not None and is_number:
                far += unlikely_values(self.table, field, rows, column)
            columns.append(self._summary(name, field, column))
        self._numbers.close()
        self._rows.close()
        return tuple(columns), far

    def _read(self) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        if not self.numeric or not self.rows:
            return np.empty((0, len(self.numeric))), np.empty(0, np.int64)
        self._numbers.flush()
        self._rows.flush()
        shape = (self.rows, len(self.numeric))
        numbers = np.memmap(self._numbers, np.float64, "r", shape=shape)
        return numbers, np.memmap(self._rows, np.int64, "r", shape=(self.rows,))

    def _summary(
        self, name: str, field: Mapping[str, Any], column: NDArray[np.float64] | None
    ) -> ColumnSummary:
        seen = self.values[name]
        is_capped = len(seen) > DISTINCT_CAP
        least, greatest = "", ""
        bins: tuple[int, ...] = ()
        if column is not None and field.get("type") in NUMERIC:
            least, greatest, bins = spread(column)
        elif ends := self.ends.get((name, False)) or self.ends.get((name, True)):
            least, greatest = map(text_of, ends)
            # Moments with a zone and without one stand on no common line.
            has_both = {(name, False), (name, True)} <= self.ends.keys()
            if column is not None and len(seen) > VALUES_SHOWN and not has_both:
                bins = spread(column)[2]
        return ColumnSummary(
            name=name,
            type=str(field.get("type", "string")),
            role=str(field.get(ROLE, "")),
            unit=str(field.get(UNIT, "")),
            filled=self.filled[name] / self.rows if self.rows else 0.0,
            distinct=min(len(seen), DISTINCT_CAP + 1),
            is_capped=is_capped,
            values=(
                in_order((text_of(value), count) for value, count in seen.items())
                if len(seen) <= VALUES_SHOWN
                else ()
            ),
            least=least,
            greatest=greatest,
            bins=bins,
        )

    def __iter__(self) -> Iterator[str]:
        return iter(self.fields)


def _zoned(value: Any) -> bool:
    return getattr(value, "tzinfo", None) is not None


def _floats(values: list[Any]) -> NDArray[np.float64]:
    try:
        return np.array(values, dtype=object).astype(np.float64)
    except (OverflowError, TypeError, ValueError):
        return np.array([_float(value) for value in values])


def _float(value: Any) -> float:
    if isinstance(value, date | time):
        return moment_of(value)
    try:
        return float(value)
    except (OverflowError, TypeError, ValueError):
        return float("nan")


def in_order(counted: Iterable[tuple[str, int]]) -> tuple[tuple[str, int], ...]:
    """Put the most frequent value first, equally frequent ones by their text."""
    return tuple(sorted(counted, key=lambda one: (-one[1], one[0])))


def _hashable(value: Any) -> Any:
    try:
        hash(value)
    except TypeError:
        return _token(value)
    return value


class Long(NamedTuple):
    """A long text as it is counted: by its head and its hash, so that memory stays flat."""

    head: str
    mark: int


def _token(value: Any) -> str | Long:
    text = text_of(value)
    return text if len(text) <= VALUE_LENGTH else Long(shorten(text), hash(text))


def text_of(value: Any) -> str:
    """Give a typed value as a person writes it."""
    if isinstance(value, Long):
        return value.head
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value.normalize():f}" if value.is_finite() else str(value)
    return str(value)


def spread(column: NDArray[np.float64]) -> tuple[str, str, tuple[int, ...]]:
    """Give the least and the greatest number as text, and the counts over equal steps."""
    finite = np.asarray(column[np.isfinite(column)])
    if not finite.size:
        return "", "", ()
    least, greatest = float(finite.min()), float(finite.max())
    # A span that overflows has no equal steps.
    if not np.isfinite(greatest - least):
        return f"{least:.12g}", f"{greatest:.12g}", ()
    counts, _ = np.histogram(finite, bins=BINS if greatest > least else 1)
    return f"{least:.12g}", f"{greatest:.12g}", tuple(int(count) for count in counts)
