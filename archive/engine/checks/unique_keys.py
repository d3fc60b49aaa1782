"""uniqueKeys: no two rows alike in the named columns."""

import json
from collections.abc import Hashable, Iterator, Sequence
from typing import Any

from archive.engine.checks.chunk import Chunk
from archive.engine.codes import found
from archive.engine.findings import Finding


class UniqueKeys:
    """Find rows that repeat a unique key.

    Notes
    -----
    A row with an empty part is not compared, as in SQL, where null equals nothing; equality is
    that of the typed values (007 and 7 are one whole number).

    References
    ----------
    Data Package 2.0, Table Schema, "uniqueKeys".
    """

    def __init__(self, table: str, keys: Sequence[Sequence[str]]) -> None:
        self.table = table
        self.reads = tuple(dict.fromkeys(name for key in keys for name in key))
        self.seen: dict[tuple[str, ...], dict[Hashable, int]] = {tuple(key): {} for key in keys}

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Judge a chunk of rows."""
        for key, seen in self.seen.items():
            if not set(key) <= set(chunk.columns):
                continue
            names = ", ".join(key)
            columns = [chunk.columns[name] for name in key]
            for number, values in enumerate(zip(*columns, strict=True)):
                if None in values:
                    continue
                row = chunk.rows[number]
                earlier = seen.setdefault(_hashable(values), row)
                if earlier != row:
                    said = ", ".join(chunk.cell(name, number) for name in key)
                    message = f"Row {row:,} repeats {names} = “{said}” of row {earlier:,}."
                    yield found(
                        "unique-keys", message, table=self.table, row=row, field=names, value=said
                    )

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()


def _hashable(values: tuple[Any, ...]) -> Hashable:
    try:
        hash(values)
    except TypeError:
        # Objects and lists cannot be hashed; their canonical text can.
        return json.dumps(values, sort_keys=True, default=str)
    return values
