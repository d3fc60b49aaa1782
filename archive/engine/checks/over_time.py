"""What needs every row of a table at once: states that overlap, intervals that are uneven."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from archive.engine.checks.chunk import Chunk
from archive.engine.checks.exclusive import clashes
from archive.engine.checks.moments import Moments, Name, When, joined, summed
from archive.engine.checks.regular import uneven
from archive.engine.counted import moment_of
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Finding
from archive.engine.roles import FieldRole, ethogram_of, fields_of, fields_with_role


class OverTime:
    """Gathers the moments of a table.

    Notes
    -----
    It keeps 8 bytes a row for the row and for each column that it reads, in tables only that have
    moments and either exclusive behaviours or planned intervals.
    """

    reads: tuple[str, ...] = ()

    def __init__(
        self, table: str, schema: Mapping[str, Any], when: When, facts: RegisterFacts
    ) -> None:
        self.table = table
        self.when = when
        self.every_s = facts.every_s or 0
        subjects = (FieldRole.ANIMAL, FieldRole.GROUP, FieldRole.OBSERVER)
        self.subjects = tuple(fields_with_role(schema, *subjects))
        self.sessions = tuple(fields_with_role(schema, FieldRole.SESSION))
        self.behaviours = {
            str(field["name"]): entries
            for field in fields_of(schema)
            if (entries := [one for one in ethogram_of(field) if one["exclusive"]])
        }
        wanted = [*self.subjects, *self.behaviours]
        if self.every_s and self.sessions:
            wanted += self.sessions
        self.codes = tuple(dict.fromkeys(wanted))
        self.name: Name = self._name_of_own
        self._numbers: dict[str, dict[Any, int]] = {name: {} for name in self.codes}
        self._kept: list[Moments] = []

    @property
    def is_needed(self) -> bool:
        """Whether there is anything to ask."""
        return bool(self.behaviours) or bool(self.every_s and self.sessions)

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Take note of a chunk of rows; nothing is said before the table's end."""
        count = len(chunk.rows)
        codes = {
            name: np.fromiter(map(self._number_of(name), chunk.columns[name]), np.int64, count)
            for name in self.codes
            if name in chunk.columns
        }
        moments = {
            name: np.fromiter(map(moment_of, chunk.columns[name]), np.float64, count)
            for name in self.when.names
            if name in chunk.columns
        }
        self.take(np.array(chunk.rows, np.int64), codes, moments)
        yield from ()

    def take(
        self,
        rows: NDArray[np.int64],
        codes: dict[str, NDArray[np.int64]],
        moments: Mapping[str, NDArray[np.float64]],
    ) -> None:
        """Keep some rows; a table without one of its columns of time has no moments."""
        if not set(self.when.names) <= set(moments):
            return
        starts = summed(self.when.starts, moments)
        ends = summed(self.when.ends, moments) if self.when.ends else starts
        self._kept.append(Moments(rows, codes, starts, ends))

    def close(self) -> Iterator[Finding]:
        """Say which states overlap, and which intervals are uneven."""
        if not self._kept:
            return
        moments = joined(self._kept)
        self._kept = []
        subjects = [moments.codes[name] for name in self.subjects if name in moments.codes]
        for name, entries in self.behaviours.items():
            if name in moments.codes:
                yield from clashes(
                    self.table, name, entries, moments, subjects, self.name, self.when
                )
        for name in self.sessions if self.every_s else ():
            if name in moments.codes:
                yield from uneven(self.table, name, self.every_s, moments, subjects, self.name)

    def _number_of(self, name: str) -> Callable[[Any], int]:
        known = self._numbers[name]
        return lambda value: 0 if value is None else known.setdefault(value, len(known) + 1)

    def _name_of_own(self, column: str, number: int) -> str:
        return str(list(self._numbers[column])[number - 1])
