"""Rows of the last draft that are gone: listed, so that nobody is taught to delete the truth."""

import csv
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from archive.engine.checks.chunk import Chunk
from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.reading import reader_options


@dataclass(frozen=True, slots=True)
class Draft:
    """A table as it stood in the last draft: its file, its pinned layout, and its key."""

    path: Path
    layout: Mapping[str, Any]
    key: tuple[str, ...] = ()


class Vanished:
    """Compare the rows of two drafts of one table.

    Notes
    -----
    Rows are known by their primary key as written; without one, by the whole row, counting equal
    rows. Each draft is kept as 8 bytes a row (a keyed 64-bit hash of this process), so two
    different rows are taken for one with a chance of about n/2^64 each.
    """

    def __init__(self, table: str, draft: Draft) -> None:
        self.table = table
        self.draft = draft
        self.now: list[NDArray[np.int64]] = []
        self.counts: Counter[tuple[str, ...]] = Counter()
        self.names: tuple[str, ...] = ()
        self.reads: tuple[str, ...] = ()

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Take note of a chunk of rows."""
        self.names = self.draft.key or tuple(chunk.places)
        if set(self.names) <= set(chunk.places):
            keys = (
                tuple(chunk.cell(name, number).strip() for name in self.names)
                for number in range(len(chunk.rows))
            )
            self.now.append(np.array([self._digest(key, self.counts) for key in keys], np.int64))
        yield from ()

    def close(self) -> Iterator[Finding]:
        """List the rows of the last draft that are not in this one."""
        counts: Counter[tuple[str, ...]] = Counter()
        keys = read_keys(self.draft, self.names)
        before = np.fromiter((self._digest(key, counts) for _, key in keys), np.int64)
        now = np.concatenate(self.now) if self.now else np.array([], np.int64)
        gone = ~np.isin(before, now)
        if not gone.any():
            return
        # Read a second time, so that the keys of a long draft need not be kept.
        for is_gone, (row, key) in zip(gone, read_keys(self.draft, self.names), strict=True):
            if is_gone:
                said = ", ".join(key)
                message = f"Row {row:,} of the last draft (“{said}”) is not in this one."
                field = ", ".join(self.draft.key)
                yield found("rows-vanished", message, table=self.table, field=field, value=said)

    def _digest(self, key: tuple[str, ...], counts: Counter[tuple[str, ...]]) -> int:
        if self.draft.key:
            return hash(key)
        counts[key] += 1
        return hash((key, counts[key]))


def read_keys(draft: Draft, names: Sequence[str]) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Read row numbers and key cells of the last draft; columns it lacks are empty."""
    with draft.path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.reader(file, **reader_options(draft.layout))
        labels = [label.strip() for label in next(reader, [])]
        places = [labels.index(name) if name in labels else -1 for name in names or labels]
        for row, cells in enumerate(reader, start=2):
            if cells:
                yield (
                    row,
                    tuple(cells[at].strip() if 0 <= at < len(cells) else "" for at in places),
                )
