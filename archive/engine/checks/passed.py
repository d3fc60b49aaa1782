"""Each observer had passed the test by the ethogram when their row was written."""

from collections.abc import Collection, Iterator, Sequence

import numpy as np

from archive.engine.checks.chunk import Chunk
from archive.engine.checks.days import RowDays
from archive.engine.codes import found
from archive.engine.facts import Passed
from archive.engine.findings import Finding
from archive.engine.intervals import CodedDays, codes_of


class PassedObserver:
    """Find rows of an observer who stood before the gate of the dictionary on the row's day.

    Notes
    -----
    A code that the project does not have is told by another check, and not here again.
    """

    def __init__(
        self,
        table: str,
        fields: Sequence[str],
        days: RowDays,
        tested: Sequence[Passed],
        observers: Collection[str] | None,
    ) -> None:
        self.table = table
        self.fields = fields
        self.days = days
        self.reads = (*fields, *days.reads)
        self.observers = observers
        self.passed = CodedDays((item.code, item.since, item.until) for item in tested)

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        days = self.days.of(chunk)
        for name in self.fields:
            codes = codes_of(chunk.columns.get(name, ()))
            if not codes:
                continue
            asked = np.array(
                [bool(c) and (self.observers is None or c in self.observers) for c in codes]
            )
            passed = self.passed.covers(self.passed.number(codes), days)
            for at in np.flatnonzero(asked & ~np.isnat(days) & ~passed):
                code, row = codes[at], chunk.rows[at]
                message = (
                    f"Row {row:,}: observer “{code}” had passed no test by this dictionary on"
                    f" {days[at]}."
                )
                yield found(
                    "untested-observer",
                    message,
                    table=self.table,
                    row=row,
                    field=name,
                    value=code,
                )

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
