"""No animal in the data was to be left alone that day."""

from collections.abc import Iterator, Sequence

import numpy as np

from archive.engine.checks.chunk import Chunk
from archive.engine.checks.days import RowDays
from archive.engine.codes import found
from archive.engine.facts import Restricted
from archive.engine.findings import Finding
from archive.engine.intervals import CodedDays, Days, codes_of


class NotRestricted:
    """Find rows whose animal was under a restriction that day; rows without a day are passed."""

    def __init__(
        self, table: str, fields: Sequence[str], days: RowDays, restrictions: Sequence[Restricted]
    ) -> None:
        self.table = table
        self.fields = fields
        self.days = days
        self.reads = (*fields, *days.reads)
        self.spans = CodedDays((item.code, item.since, item.until) for item in restrictions)
        self.by_code: dict[str, list[Restricted]] = {}
        for item in restrictions:
            self.by_code.setdefault(item.code, []).append(item)

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        days = self.days.of(chunk)
        for name in self.fields:
            if name not in chunk.columns:
                continue
            codes = codes_of(chunk.columns[name])
            held = self.spans.covers(self.spans.number(codes), days) & ~np.isnat(days)
            for at in np.flatnonzero(held):
                row = chunk.rows[at]
                why = "; ".join(self._why(codes[at], days[at : at + 1]))
                message = f"Row {row:,}: “{codes[at]}” was under a restriction on {days[at]}"
                yield found(
                    "under-restriction",
                    f"{message} ({why}).",
                    table=self.table,
                    row=row,
                    field=name,
                    value=codes[at],
                )

    def _why(self, code: str, day: Days) -> list[str]:
        return [
            f"{item.kind}, {item.strength}"
            for item in self.by_code[code]
            if (item.since is None or day[0] >= np.datetime64(item.since))
            and (item.until is None or day[0] <= np.datetime64(item.until))
        ]

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
