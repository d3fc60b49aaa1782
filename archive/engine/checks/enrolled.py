"""Each animal or group in the data was enrolled on the row's day."""

from collections.abc import Iterator, Sequence

import numpy as np

from archive.engine.checks.chunk import Chunk
from archive.engine.checks.days import RowDays
from archive.engine.codes import found
from archive.engine.facts import Enrolled
from archive.engine.findings import Finding
from archive.engine.intervals import CodedDays, codes_of


class WasEnrolled:
    """Find rows whose animal or group was not enrolled in the project that day."""

    def __init__(
        self, table: str, fields: Sequence[str], days: RowDays, enrolments: Sequence[Enrolled]
    ) -> None:
        self.table = table
        self.fields = fields
        self.days = days
        self.reads = (*fields, *days.reads)
        self.enrolled = CodedDays((item.code, item.since, item.until) for item in enrolments)

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        days = self.days.of(chunk)
        for name in self.fields:
            if name not in chunk.columns:
                continue
            codes = codes_of(chunk.columns[name])
            numbers = self.enrolled.number(codes)
            written = np.array([code != "" for code in codes])
            for at in np.flatnonzero(written & ~self.enrolled.covers(numbers, days)):
                code, row = codes[at], chunk.rows[at]
                message = (
                    f"“{code}” was never enrolled in this project."
                    if numbers[at] < 0
                    else f"“{code}” was not enrolled on {days[at]}."
                )
                yield found(
                    "not-enrolled",
                    f"Row {row:,}: {message}",
                    table=self.table,
                    row=row,
                    field=name,
                    value=code,
                )

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
