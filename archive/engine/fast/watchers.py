"""Checks of our own at the kernel's speed: each sees one row of every combination of its columns.

The rows that share a combination share its verdict; only those that have something to say are read
again and shown to the check, which words its findings itself.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from archive.engine.checks.chunk import Check, Chunk
from archive.engine.checks.over_time import OverTime
from archive.engine.fast.compiling import inlined
from archive.engine.fast.first_pass import CHUNK_ROWS, Seen
from archive.engine.fast.plan import Slow
from archive.engine.fast.prove import mix

Shown = Callable[[Check, Sequence[tuple[int, list[str]]]], Chunk]

WORDED_ALIKE = frozenset({"string", "any", "integer", "boolean", "date", "datetime", "year"})
GOOD, FAULTY, UNSEEN = 0, 1, 2


class Combinations:
    """Shows a check one row of each combination of the columns that it reads.

    Parameters
    ----------
    check : Check
        Judges each row by these columns alone.
    bit : int
        Set in the mask of each row with something to say.
    slots : ndarray of int64
        Where the digests of its columns stand.
    day : int
        Where the day of its time column stands, or -1.
    shown : callable
        Makes a chunk of some rows for a check.
    """

    def __init__(
        self, check: Check, bit: int, slots: NDArray[np.int64], day: int, shown: Shown
    ) -> None:
        self.check = check
        self.bit = np.uint32(bit)
        self.slots = slots
        self.day = day
        self.shown = shown
        self.table = np.zeros(1 << 12, np.uint64)
        self.verdicts = np.zeros(1 << 12, np.uint8)
        self.size = 0
        self._combined = np.zeros(CHUNK_ROWS, np.uint64)
        self._found = np.zeros(CHUNK_ROWS, np.uint8)
        self._fresh = np.zeros(CHUNK_ROWS, np.int64)

    def look(self, chunk: Seen, wanted: NDArray[np.uint32]) -> None:
        """Judge the combinations that are new, and mark the rows."""
        count, combined = chunk.count, self._combined
        combine(chunk.rows.digests, chunk.rows.days, count, self.slots, self.day, combined)
        while 2 * (self.size + count) > len(self.table):
            self._grow()
        fresh = self._fresh[: probe(self.table, self.verdicts, combined, count, self._fresh)]
        if len(fresh):
            self.size += len(fresh)
            places = [(chunk.first + int(row), chunk.texts(int(row))) for row in fresh]
            rows = self.shown(self.check, places)
            told = {finding.row for finding in self.check.look(rows)}
            verdicts = np.array([row in told for row in rows.rows], np.uint8)
            settle(self.table, self.verdicts, combined[fresh], verdicts)
        verdict_of(self.table, self.verdicts, combined, count, self._found)
        wanted |= self._found[:count].astype(np.uint32) * self.bit

    def _grow(self) -> None:
        old, verdicts = self.table, self.verdicts
        self.table = np.zeros(2 * len(old), np.uint64)
        self.verdicts = np.zeros(2 * len(old), np.uint8)
        held = old != 0
        fresh = np.zeros(int(held.sum()), np.int64)
        probe(self.table, self.verdicts, old[held], len(fresh), fresh)
        settle(self.table, self.verdicts, old[held], verdicts[held])


class PartlyEmpty:
    """Marks the rows whose key is filled in part only."""

    def __init__(self, bit: int, slots: NDArray[np.int64]) -> None:
        self.bit = np.uint32(bit)
        self.slots = slots

    def look(self, chunk: Seen, wanted: NDArray[np.uint32]) -> None:
        """Mark them."""
        empty = chunk.rows.digests[: chunk.count, self.slots] == 0
        wanted |= (empty.any(axis=1) & ~empty.all(axis=1)).astype(np.uint32) * self.bit


class Timed:
    """Hands a check that needs every row its codes, as digests, and its moments.

    Parameters
    ----------
    check : OverTime
    slots, numbers : mapping of column to int
        Where its digests and its moments stand.
    first_row : int
        The number of the table's first row.
    """

    def __init__(
        self, check: OverTime, slots: Mapping[str, int], numbers: Mapping[str, int], first_row: int
    ) -> None:
        self.check = check
        self.slots = slots
        self.numbers = numbers
        self.first_row = first_row

    def look(self, chunk: Seen, _wanted: NDArray[np.uint32]) -> None:
        """Hand on a chunk; no row of it is marked."""
        first, count = chunk.first + self.first_row, chunk.count
        digests, numbers = chunk.rows.digests[:count].view(np.int64), chunk.rows.numbers
        self.check.take(
            np.arange(first, first + count),
            {name: digests[:, slot].copy() for name, slot in self.slots.items()},
            {name: numbers[at, :count].copy() for name, at in self.numbers.items()},
        )


def slots_of(check: Check, table: Any, time: str) -> NDArray[np.int64]:
    """Give the places of a check's digests; its time column counts by its day.

    Raises
    ------
    Slow
        When equal values of a column may be worded unlike (1.0 and 1.00).
    """
    places = [
        table.place[name] for name in check.reads or () if name in table.place and name != time
    ]
    for at in places:
        if table.columns[at].kind not in WORDED_ALIKE:
            raise Slow(
                f"“{table.columns[at].name}” has a role, and equal values may be worded unlike"
            )
    return np.array([table.slots[at] for at in places], np.int64)


@njit(cache=True, nogil=True)
def combine(digests, days, count, slots, day, out):  # type: ignore[no-untyped-def]
    """Digest the combination of each row; never 0."""
    for row in range(count):
        folded = np.uint64(0x452821E638D01377)
        for slot in slots:
            folded = mix(folded ^ digests[row, slot], np.uint64(0x9FB21C651E98DF25))
        if day >= 0:
            folded = mix(folded ^ np.uint64(days[row, day]), np.uint64(0xBE5466CF34E90C6C))
        out[row] = folded if folded != np.uint64(0) else np.uint64(1)


@inlined
def _place_of(table, digest):  # type: ignore[no-untyped-def]
    last = np.int64(table.shape[0] - 1)
    place = np.int64(digest >> np.uint64(9)) & last
    while table[place] != np.uint64(0) and table[place] != digest:
        place = (place + 1) & last
    return place


@njit(cache=True, nogil=True)
def probe(table, verdicts, combined, count, fresh):  # type: ignore[no-untyped-def]
    """Put down the combinations that are new, and list the first row of each."""
    found = 0
    for row in range(count):
        place = _place_of(table, combined[row])
        if table[place] == np.uint64(0):
            table[place] = combined[row]
            verdicts[place] = 2
            fresh[found] = row
            found += 1
    return found


@njit(cache=True, nogil=True)
def settle(table, verdicts, combined, judged):  # type: ignore[no-untyped-def]
    """Put down the verdicts of combinations."""
    for at in range(combined.shape[0]):
        verdicts[_place_of(table, combined[at])] = judged[at]


@njit(cache=True, nogil=True)
def verdict_of(table, verdicts, combined, count, out):  # type: ignore[no-untyped-def]
    """Give each row the verdict of its combination."""
    for row in range(count):
        out[row] = verdicts[_place_of(table, combined[row])]
