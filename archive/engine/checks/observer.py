"""Each observer in the data is one of the project's."""

from collections.abc import Collection, Iterator, Sequence

from archive.engine.checks.chunk import Chunk
from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.intervals import codes_of


class KnownObserver:
    """Find rows whose observer code the project does not have."""

    def __init__(self, table: str, fields: Sequence[str], observers: Collection[str]) -> None:
        self.table = table
        self.fields = fields
        self.reads = tuple(fields)
        self.observers = frozenset(observers)

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        for name in self.fields:
            for at, code in enumerate(codes_of(chunk.columns.get(name, ()))):
                if code and code not in self.observers:
                    row = chunk.rows[at]
                    message = f"Row {row:,}: “{code}” is not one of this project's observers."
                    yield found(
                        "unknown-observer",
                        message,
                        table=self.table,
                        row=row,
                        field=name,
                        value=code,
                    )

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
