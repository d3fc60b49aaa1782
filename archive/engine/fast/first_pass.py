"""The first pass: every record judged by the kernel; what may be faulty is put on a list."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

import numpy as np
from numba import njit
from numpy.typing import NDArray

from archive.engine.fast.keys import DigestSet, compare_parts, contains, fold, repeated
from archive.engine.fast.plan import Cutter, Odd, Slow, Source
from archive.engine.fast.prove import Columns
from archive.engine.fast.replay import Key
from archive.engine.fast.scan import (
    BATCH,
    CELL_FULL,
    NO_BOUNDS,
    POWERS,
    RETURN_IN_CELL,
    UNSOUND,
    WHOLE,
    Asks,
    Bounds,
    Rows,
    Tallies,
    cut,
    scan,
)
from archive.engine.fast.stream import Block, Stream
from archive.engine.fast.verdicts import Verdicts

CHUNK_ROWS = 1 << 16
ASKED = 65_536
MARK_EVERY = 16
CELLS, OWN = 1, 2
UNKNOWN = -1
ODD = "its quotation marks or its sizes are not plainly sound"


class Watcher(Protocol):
    """Whoever looks at each chunk of the first pass."""

    def look(self, chunk: "Seen", wanted: NDArray[np.uint32]) -> None:
        """Take note of the chunk; set a bit where a row has to be looked at again."""
        ...


@dataclass(slots=True)
class Seen:
    """A chunk as the kernel left it."""

    first: int
    count: int
    rows: Rows
    texts: Callable[[int], list[str]]


class Wanted(NamedTuple):
    """Rows to look at again, in order: their places, why, and their first bytes or `UNKNOWN`."""

    places: NDArray[np.int64]
    why: NDArray[np.uint32]
    starts: NDArray[np.int64]


@dataclass(slots=True)
class KeyDigests:
    """The digests of one key over all rows, and the set or the other key that they must be in."""

    key: Key
    slots: NDArray[np.int64]
    known: DigestSet | None = None
    source: "KeyDigests | None" = None
    kept: list[NDArray[np.uint64]] = field(default_factory=list)

    def whole(self) -> NDArray[np.uint64]:
        """Give all digests, and let go of the parts."""
        digests = np.concatenate(self.kept) if self.kept else np.empty(0, np.uint64)
        self.kept.clear()
        return digests


def empty_rows(slots: int, numbers: int, days: int, rows: int = CHUNK_ROWS) -> Rows:
    """Make room for what the kernel tells of a chunk."""
    return Rows(
        start=np.zeros(rows + 1, np.int64),
        width=np.zeros(rows, np.int64),
        nulls=np.zeros(rows, np.int64),
        flags=np.zeros(rows, np.uint8),
        digests=np.zeros((rows, slots), np.uint64),
        numbers=np.zeros((numbers, rows), np.float64),
        days=np.zeros((rows, days), np.int64),
    )


def empty_asks(columns: int) -> Asks:
    """Make room for what the kernel asks."""
    size = max(ASKED, 2 * BATCH * columns)
    return Asks(
        row=np.zeros(size, np.int64),
        field=np.zeros(size, np.int64),
        entry=np.zeros(size, np.int64),
        fresh=np.zeros(size, np.bool_),
    )


def empty_tallies(columns: int) -> Tallies:
    """Start counting."""
    return Tallies(
        nulls=np.zeros(columns, np.int64),
        least=np.full((columns, 2), 1 << 62, np.int64),
        greatest=np.full((columns, 2), -(1 << 62), np.int64),
        empties=np.zeros(columns, np.int64),
        shifts=np.zeros((columns, 2), np.int64),
    )


class FirstPass:
    """Reads a table once.

    Parameters
    ----------
    source : Source
    shape : Columns
    verdicts : Verdicts
    keys : sequence of KeyDigests
    watchers : sequence of Watcher
    progress : callable, optional
        Told the number of rows after each chunk.
    bounds : Bounds
        What is asked of a file that nobody looked at before, so that it is read but once.
    most_rows : int, optional
        How many rows it may have.
    """

    def __init__(
        self,
        source: Source,
        shape: Columns,
        verdicts: Verdicts,
        keys: Sequence[KeyDigests] = (),
        watchers: Sequence[Watcher] = (),
        progress: Callable[[int], None] | None = None,
        *,
        needs_md5: bool = False,
        is_hashed: bool = True,
        bounds: Bounds = NO_BOUNDS,
        most_rows: int | None = None,
    ) -> None:
        self.source = source
        self.bounds = bounds
        self.most_rows = most_rows
        self.cut = Cutter(source)
        self.shape = shape
        self.verdicts = verdicts
        self.keys = keys
        self.watchers = watchers
        self.progress = progress
        self.stream = Stream(source, needs_md5, is_hashed=is_hashed, has_nul=not bounds.is_asked)
        self.count = 0
        self.tallies = empty_tallies(len(shape.kind))
        self.marks: list[NDArray[np.int64]] = []
        self._rows = empty_rows(*(int(one.max(initial=-1)) + 1 for one in shape[7:10]))
        self._asks = empty_asks(len(shape.kind))
        self._wanted: list[NDArray[np.int64]] = []
        self._masks: list[NDArray[np.uint32]] = []
        self._starts: list[NDArray[np.int64]] = []
        self._folded = np.zeros(CHUNK_ROWS, np.uint64)
        self._held = np.zeros(CHUNK_ROWS, np.bool_)

    def run(self) -> None:
        """Read to the end.

        Raises
        ------
        Slow
        """
        is_headed = self.source.first_row == 2
        for block in self.stream.blocks():
            if is_headed:
                after = self._past_header(block)
                if after < 0:
                    continue
                self.stream.used, is_headed = after, False
            self._judge(block)
            if self.progress:
                self.progress(self.count)

    def _past_header(self, block: Block) -> int:
        at = self.stream.used
        if at >= block.length:
            return -1
        none = np.empty(0, np.int64)
        after, width, is_stray = cut(
            block.data, at, block.length, block.is_last, self.source.layout,
            none, none, np.empty(0, np.uint8), 0, 0,
        )  # fmt: skip
        most = self.bounds
        if most.is_asked and (is_stray or width > most.cells or after - at > most.bytes):
            raise Odd(ODD)
        return int(after)

    def _judge(self, block: Block) -> None:
        stopped = -1
        while stopped != WHOLE:
            at, count, asked, stopped = scan(
                block.data, self.stream.used, block.length, block.is_last, False,
                self.source.layout, self.bounds, self.shape, self.verdicts.memo, self._rows,
                self._asks, self.tallies, self.verdicts.seed, POWERS,
            )  # fmt: skip
            if stopped == CELL_FULL:
                raise Slow("one of its cells is very long")
            if stopped == UNSOUND:
                raise Odd(ODD)
            if stopped == RETURN_IN_CELL:
                raise Slow("line breaks inside its cells are translated")
            if count:
                self._take(block, count, asked)
            self.stream.used = int(at)
        if self.most_rows is not None and self.count > self.most_rows:
            raise Odd("it has very many rows")

    def _take(self, block: Block, count: int, asked: int) -> None:
        rows, fields = self._rows, len(self.shape.kind)

        def texts(row: int) -> list[str]:
            return self.cut(block.data[rows.start[row] : rows.start[row + 1]].tobytes())

        self.verdicts.answer(rows, self._asks, asked, texts, self.tallies, self.shape)
        wanted = np.zeros(count, np.uint32)
        if weigh(rows.flags, rows.width, rows.nulls, fields, wanted):
            width = rows.width[:count]
            for short in np.flatnonzero(width < fields):
                self.tallies.nulls[width[short] :] += 1
        for one in self.keys:
            self._hold(one, count, wanted)
        seen = Seen(self.count, count, rows, texts)
        for watcher in self.watchers:
            watcher.look(seen, wanted)
        first_mark = -self.count % MARK_EVERY
        self.marks.append(rows.start[first_mark:count:MARK_EVERY] + block.offset)
        found = np.flatnonzero(wanted)
        if found.size:
            self._wanted.append(found + self.count)
            self._masks.append(wanted[found])
            self._starts.append(rows.start[found] + block.offset)
        self.count += count

    def _hold(self, one: KeyDigests, count: int, wanted: NDArray[np.uint32]) -> None:
        folded = self._folded[:count]
        fold(self._rows.digests, count, one.slots, one.key.kind == "own", folded)
        if one.key.kind == "primary":
            wanted[folded == 0] |= np.uint32(one.key.bit)
        if one.known is None:
            one.kept.append(folded.copy())
        else:
            contains(one.known.table, folded, count, self._held)
            if one.known.parts is not None:
                compare_parts(
                    one.known.table, one.known.parts, folded, self._rows.digests, one.slots,
                    count, self._held,
                )  # fmt: skip
            absent = (folded != 0) & ~self._held[:count]
            wanted[absent] |= np.uint32(one.key.bit)

    def wanted(self) -> Wanted:
        """Give the places of all rows that may be faulty, in order, why each may, and its start."""
        places, masks, starts = self._wanted, self._masks, self._starts
        for one in self.keys:
            if one.kept and one.key.kind != "source":
                found = self._faulty(one)
                places.append(found)
                masks.append(np.full(len(found), one.key.bit, np.uint32))
                starts.append(np.full(len(found), UNKNOWN, np.int64))
        if not sum(map(len, places)):
            return Wanted(np.empty(0, np.int64), np.empty(0, np.uint32), np.empty(0, np.int64))
        every, why, where = np.concatenate(places), np.concatenate(masks), np.concatenate(starts)
        order = np.argsort(every, kind="stable")
        every, why, where = every[order], why[order], where[order]
        firsts = np.flatnonzero(np.r_[True, every[1:] != every[:-1]])
        # A place that was told by the kernel stands before the same place told by a key.
        return Wanted(every[firsts], np.bitwise_or.reduceat(why, firsts), where[firsts])

    def _faulty(self, one: KeyDigests) -> NDArray[np.int64]:
        digests = one.whole()
        if one.source is None:
            return repeated(digests)
        held = np.zeros(len(digests), np.bool_)
        known = DigestSet(np.unique(one.source.whole()))
        contains(known.table, digests, len(digests), held)
        return np.flatnonzero((digests != 0) & ~held)


@njit(cache=True, nogil=True)
def weigh(flags, width, nulls, fields, wanted):  # type: ignore[no-untyped-def]
    """Set why each row of a chunk must be looked at again; say how many are too short."""
    short = 0
    for row in range(wanted.shape[0]):
        if flags[row] & 2 or width[row] != fields or nulls[row] == fields:
            wanted[row] = 1
        if flags[row] & 8:
            wanted[row] |= 2
        short += width[row] < fields
    return short
