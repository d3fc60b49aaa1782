"""A composite primary key with an empty part, which frictionless lets pass."""

from collections.abc import Collection, Iterator, Mapping

from archive.engine.checks.chunk import Chunk
from archive.engine.codes import found
from archive.engine.findings import Finding


class NullInKey:
    """Find rows whose primary key is filled in part only.

    Parameters
    ----------
    table : str
    missing : mapping of column to texts
        The key's columns, each with the texts that stand for an empty cell.

    Notes
    -----
    A key that is empty as a whole is frictionless' own "primary-key" error. A part that was
    written but is of the wrong type is its "type-error", and not empty.

    References
    ----------
    Data Package 2.0, Table Schema, "primaryKey": no field of the key may be null.
    """

    def __init__(self, table: str, missing: Mapping[str, Collection[str]]) -> None:
        self.table = table
        self.key = self.reads = tuple(missing)
        self.missing = missing

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        if not set(self.key) <= set(chunk.columns):
            return
        columns = [chunk.columns[name] for name in self.key]
        for number, values in enumerate(zip(*columns, strict=True)):
            if None not in values or not any(value is not None for value in values):
                continue
            row = chunk.rows[number]
            for name, value in zip(self.key, values, strict=True):
                if value is None and chunk.cell(name, number) in self.missing[name]:
                    message = f"Row {row:,} has an empty “{name}”, which is part of its key."
                    yield found("null-in-key", message, table=self.table, row=row, field=name)

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
