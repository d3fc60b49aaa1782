"""Every needed permission was live on the row's day."""

from collections.abc import Iterator, Sequence

import numpy as np

from archive.engine.checks.chunk import Chunk
from archive.engine.checks.days import RowDays
from archive.engine.codes import found
from archive.engine.facts import Live
from archive.engine.findings import Finding
from archive.engine.intervals import Days, Flags

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class ApprovalDay:
    """Find rows on days when a needed permission was not live.

    Notes
    -----
    No interval at all is an answer: then no day is covered.
    """

    def __init__(self, table: str, days: RowDays, approvals: Sequence[Live]) -> None:
        self.table = table
        self.days = days
        self.reads = days.reads
        self.approvals = approvals

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        days = self.days.of(chunk)
        for at in np.flatnonzero(~np.isnat(days) & ~covered(days, self.approvals)):
            row, day = chunk.rows[at], days[at]
            name = WEEKDAYS[int(_weekday(days[at : at + 1])[0])]
            message = f"Row {row:,}: not every needed permission was live on {name} {day}."
            yield found(
                "outside-approval",
                message,
                table=self.table,
                row=row,
                field=self.days.time or self.days.session,
                value=str(day),
            )

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()


def covered(days: Days, approvals: Sequence[Live]) -> Flags:
    """Whether each day lies in one of the intervals and on one of its weekdays."""
    inside = np.zeros(len(days), dtype=bool)
    for live in approvals:
        held = ~np.isnat(days)
        if live.since is not None:
            held &= days >= np.datetime64(live.since)
        if live.until is not None:
            held &= days <= np.datetime64(live.until)
        if live.weekdays is not None:
            held &= np.isin(_weekday(days), live.weekdays)
        inside |= held
    return inside


def _weekday(days: Days) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    # 1 January 1970 was a Thursday, day 3 of the week.
    return (np.where(np.isnat(days), 0, days.astype(np.int64)) + 3) % 7
