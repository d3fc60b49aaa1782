"""Columns at a glance, from what the kernel counted; numbers are spilled to a file, not kept."""

import tempfile
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from archive.engine.checks.plausible import unlikely_values
from archive.engine.checks.unusual import far_values
from archive.engine.fast.first_pass import FirstPass, Seen
from archive.engine.fast.memo import NULL, VOID
from archive.engine.findings import Finding, shorten
from archive.engine.reports import ColumnSummary
from archive.engine.roles import ROLE, UNIT, role_of
from archive.engine.summary import (
    DISTINCT_CAP,
    MEASURED,
    NUMERIC,
    VALUES_SHOWN,
    in_order,
    spread,
    text_of,
)

_DAY = date(1970, 1, 1)
_INSTANT = datetime(1970, 1, 1, tzinfo=UTC)


class Glance:
    """Gathers the summary of each column, as `archive.engine.summary.TableSummary` does.

    Parameters
    ----------
    table : str
    fields : sequence of mapping
        Of the descriptor's schema, with roles and units.
    numbers : sequence of str
        The columns of numbers and moments, in the order of the kernel's.
    """

    def __init__(
        self, table: str, fields: Sequence[Mapping[str, Any]], numbers: Sequence[str]
    ) -> None:
        self.table = table
        self.fields = {str(field["name"]): field for field in fields}
        self.numbers = list(numbers)
        self.blocks: list[int] = []
        self._spilled: IO[bytes] | None = None

    def look(self, chunk: Seen, _wanted: NDArray[np.uint32]) -> None:
        """Spill the numbers of a chunk, column after column."""
        if self.numbers:
            if self._spilled is None:
                self._spilled = tempfile.TemporaryFile()  # noqa: SIM115 - closed by discard()
            self.blocks.append(chunk.count)
            chunk.rows.numbers[: len(self.numbers), : chunk.count].tofile(self._spilled)

    def close(self, done: FirstPass, table: Any) -> tuple[tuple[ColumnSummary, ...], list[Finding]]:
        """Give the summaries, and the numbers that stand far from their column."""
        far: list[Finding] = []
        columns = []
        first = done.source.first_row
        for name, field in self.fields.items():
            values = self._column(name, done.count) if name in self.numbers else None
            if values is not None and field.get("type") in NUMERIC:
                rows = np.arange(first, first + done.count, dtype=np.int64)
                if role_of(field) in MEASURED:
                    far += far_values(self.table, name, rows, values)
                far += unlikely_values(self.table, field, rows, values)
            columns.append(self._summary(name, field, values, done, table))
        return tuple(columns), far

    def discard(self) -> None:
        """Let go of the spilled numbers."""
        if self._spilled is not None:
            self._spilled.close()

    def _column(self, name: str, count: int) -> NDArray[np.float64]:
        values, at, start = np.empty(count, np.float64), 0, 0
        place = self.numbers.index(name)
        for size in self.blocks:
            assert self._spilled is not None
            self._spilled.seek(8 * (start + place * size))
            values[at : at + size] = np.frombuffer(self._spilled.read(8 * size), np.float64)
            at, start = at + size, start + size * len(self.numbers)
        return values

    def _summary(
        self,
        name: str,
        field: Mapping[str, Any],
        values: NDArray[np.float64] | None,
        done: FirstPass,
        table: Any,
    ) -> ColumnSummary:
        at = table.place.get(name)
        least, greatest = "", ""
        bins: tuple[int, ...] = ()
        is_capped, distinct, counted = (False, 0, ()) if at is None else _counted(at, done, table)
        if field.get("type") in NUMERIC:
            numbers = np.empty(0) if values is None else values
            least, greatest, bins = spread(numbers)
        elif at is not None and (ends := _ends(at, done, table)):
            least, greatest = ends[0]
            if values is not None and distinct > VALUES_SHOWN and len(ends) == 1:
                bins = spread(values)[2]
        empty = done.count if at is None else int(done.tallies.nulls[at])
        return ColumnSummary(
            name=name,
            type=str(field.get("type", "string")),
            role=str(field.get(ROLE, "")),
            unit=str(field.get(UNIT, "")),
            filled=(done.count - empty) / done.count if done.count else 0.0,
            distinct=distinct,
            is_capped=is_capped,
            values=counted,
            least=least,
            greatest=greatest,
            bins=bins,
        )


def _counted(at: int, done: FirstPass, table: Any) -> tuple[bool, int, tuple[tuple[str, int], ...]]:
    """Count the distinct values: (whether counting stopped, how many, each with its count)."""
    memo = table.verdicts.memo
    size = int(memo.size[at])
    seen = (memo.state[at, :size] & (NULL | VOID)) == 0
    seen &= memo.seen[at, :size] > 0
    entries = np.flatnonzero(seen)
    digests, first, inverse = np.unique(
        memo.digest[at, entries], return_index=True, return_inverse=True
    )
    empties = int(done.tallies.empties[at])
    distinct = len(digests) + (empties > 0)
    if memo.partial[at] or distinct > DISTINCT_CAP:
        return True, DISTINCT_CAP + 1, ()
    if distinct > VALUES_SHOWN:
        return False, distinct, ()
    counts = np.bincount(inverse, memo.seen[at, entries], len(digests)).astype(int)
    told = []
    for number in range(len(digests)):
        entry = int(entries[first[number]])
        value = table.verdicts.read(at, memo.text(at, entry))[0]
        told.append((shorten(text_of(value)), int(counts[number])))
    if empties:
        told.append(("", empties))
    return False, distinct, in_order(told)


def _ends(at: int, done: FirstPass, table: Any) -> list[tuple[str, str]]:
    """Give the first and the last moment without a zone, and those with one."""
    kind, told = table.columns[at].kind, []
    for zoned in (0, 1):
        ends = list(table.verdicts.spans.get((at, bool(zoned)), ()))
        least, greatest = (int(one[at, zoned]) for one in done.tallies[1:3])
        if least <= greatest:
            shifts = done.tallies.shifts[at] * zoned
            ends += [_moment(kind, least, zoned, shifts[0])]
            ends += [_moment(kind, greatest, zoned, shifts[1])]
        if ends:
            told.append((text_of(min(ends)), text_of(max(ends))))
    return told


def _moment(kind: str, value: int, zoned: int, shift: int) -> date | time:
    if kind == "date":
        return _DAY + timedelta(days=value)
    instant = _INSTANT + timedelta(seconds=value)
    if kind == "time":
        return instant.time()
    if not zoned:
        return instant.replace(tzinfo=None)
    return instant.astimezone(timezone(timedelta(seconds=int(shift))))
