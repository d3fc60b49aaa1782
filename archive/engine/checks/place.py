"""Each place in the data is an enclosure, and one that the project may use."""

from collections.abc import Collection, Iterator, Sequence

from archive.engine.checks.chunk import Chunk
from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.intervals import codes_of


class KnownPlace:
    """Find rows at a place that does not exist, or that the project has not booked."""

    def __init__(
        self,
        table: str,
        fields: Sequence[str],
        places: Collection[str] | None,
        enclosures: Collection[str] | None,
    ) -> None:
        self.table = table
        self.fields = fields
        self.reads = tuple(fields)
        self.places = None if places is None else frozenset(places)
        known = frozenset(enclosures or ()) | (self.places or frozenset())
        self.enclosures = None if enclosures is None else known

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        for name in self.fields:
            for at, code in enumerate(codes_of(chunk.columns.get(name, ()))):
                told = self._judge(code)
                if told:
                    row = chunk.rows[at]
                    message = f"Row {row:,}: {told[1]}"
                    yield found(told[0], message, table=self.table, row=row, field=name, value=code)

    def _judge(self, code: str) -> tuple[str, str] | None:
        if not code:
            return None
        if self.enclosures is not None and code not in self.enclosures:
            return "unknown-place", f"there is no enclosure “{code}”."
        if self.places is not None and code not in self.places:
            return "place-not-booked", f"“{code}” is not in this project's booking."
        return None

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
