"""Each behaviour was in the ethogram when its row was written."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np

from archive.engine.checks.chunk import Chunk
from archive.engine.checks.days import RowDays
from archive.engine.codes import found
from archive.engine.facts import Published
from archive.engine.findings import Finding
from archive.engine.intervals import days_of
from archive.engine.roles import ethogram_of


class CodeInForce:
    """Find codes of behaviour in rows older than the version that brought them.

    Notes
    -----
    Old data keep the ethogram by which they were written: a code that came later says that somebody
    coded anew, or wrote a wrong day. A version that is not on record is taken to have always been.
    """

    def __init__(
        self,
        table: str,
        fields: Sequence[Mapping[str, Any]],
        days: RowDays,
        versions: Sequence[Published],
    ) -> None:
        self.table = table
        self.days = days
        published = {item.number: item.on for item in versions}
        self.since: dict[str, dict[str, date]] = {}
        self.version: dict[str, dict[str, int]] = {}
        for field in fields:
            name, entries = str(field["name"]), ethogram_of(field)
            first = {str(one["code"]): int(one["validFrom"]) for one in entries}
            self.version[name] = first
            self.since[name] = {
                code: published[number] for code, number in first.items() if number in published
            }
        self.reads = (*self.since, *days.reads)

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        days = self.days.of(chunk)
        for name, since in self.since.items():
            codes = chunk.columns.get(name, ())
            if not codes:
                continue
            began = days_of(since.get(code) for code in codes)
            # A comparison with no day is False.
            for at in np.flatnonzero(days < began):
                code, row = str(codes[at]), chunk.rows[at]
                message = (
                    f"“{code}” in row {row:,}, column “{name}”, came into the ethogram with version"
                    f" {self.version[name][code]:,}, published on {began[at]}; the row is of"
                    f" {days[at]}."
                )
                yield found(
                    "later-code", message, table=self.table, row=row, field=name, value=code
                )

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
