"""Each session in the data is on record, and was held on the row's own day."""

from collections.abc import Iterator, Sequence

import numpy as np

from archive.engine.checks.chunk import Chunk
from archive.engine.checks.days import RowDays
from archive.engine.codes import found
from archive.engine.facts import Held
from archive.engine.findings import Finding
from archive.engine.intervals import CodedDays, codes_of


class KnownSession:
    """Find rows whose session is not on record, or was held on another day."""

    def __init__(
        self, table: str, fields: Sequence[str], days: RowDays, sessions: Sequence[Held]
    ) -> None:
        self.table = table
        self.fields = fields
        self.days = days
        self.reads = (*fields, *days.reads)
        self.held = CodedDays(
            (item.code, item.start.date(), (item.end or item.start).date()) for item in sessions
        )

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        days = self.days.of(chunk)
        for name in self.fields:
            if name not in chunk.columns:
                continue
            codes = codes_of(chunk.columns[name])
            numbers = self.held.number(codes)
            written = np.array([code != "" for code in codes])
            for at in np.flatnonzero(written & ~self.held.covers(numbers, days)):
                code, row = codes[at], chunk.rows[at]
                kind, message = (
                    ("unknown-session", f"no session “{code}” is on record.")
                    if numbers[at] < 0
                    else ("outside-session", f"session “{code}” was not held on {days[at]}.")
                )
                yield found(
                    kind,
                    f"Row {row:,}: {message}",
                    table=self.table,
                    row=row,
                    field=name,
                    value=code,
                )

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
