"""What is known of each distinct text of each column: a table that the kernel fills and reads.

The first sight of a text that the kernel cannot prove is put down as pending; between two chunks
frictionless' own cell reader is asked about it, once.
"""

import math
import mmap
from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from archive.engine.fast.compiling import bare, inlined
from archive.engine.fast.words import tail_at, word_at

NULL, BAD, VOID, OURS, PENDING = 1, 2, 4, 8, 16
"""Bits of a cell: it is empty; frictionless has notes on it; its type is wrong; a check of our own
has something to say; nobody has been asked yet. None of them: it is good."""

ENTRIES = 10_001
PLACES = 32_768
LONGEST = 1_024
ROOM = 1 << 20
ALL_ROOM = 1 << 27


class Memo(NamedTuple):
    """The distinct texts of each column, the first axis being the column.

    Parameters
    ----------
    places : ndarray of int32, shape (columns, PLACES)
        Open addressing: 0 for free, else the entry's number plus 1.
    hashes, starts, ends : ndarray, shape (columns, ENTRIES)
        Each entry's hash, and where its bytes stand in `letters`.
    state, digest, number, day : ndarray, shape (columns, ENTRIES)
        What is known of it.
    seen : ndarray of int64, shape (columns, ENTRIES)
        How often each was seen.
    letters : ndarray of uint8
        The bytes of the entries, column after column.
    size : ndarray of int64, shape (columns,)
    full : ndarray of bool, shape (columns,)
        No further text of this column is taken.
    kept : ndarray of bool, shape (columns,)
        Texts that the kernel can prove are taken too.
    partial : ndarray of bool, shape (columns,)
        Some text of this column was not taken, so that its counts are not whole.

    Notes
    -----
    What belongs to one entry stands in one line of the processor's cache.
    """

    places: NDArray[np.int32]
    hashes: NDArray[np.uint64]
    starts: NDArray[np.int64]
    ends: NDArray[np.int64]
    state: NDArray[np.int64]
    digest: NDArray[np.uint64]
    number: NDArray[np.float64]
    day: NDArray[np.int64]
    seen: NDArray[np.int64]
    letters: NDArray[np.uint8]
    size: NDArray[np.int64]
    full: NDArray[np.bool_]
    kept: NDArray[np.bool_]
    partial: NDArray[np.bool_]

    def text(self, field: int, entry: int) -> str:
        """Give the text of an entry.

        Raises
        ------
        UnicodeDecodeError
        """
        start, end = int(self.starts[field, entry]), int(self.ends[field, entry])
        return self.letters[start:end].tobytes().decode()


def untouched(shape: tuple[int, ...], kind: type[np.generic]) -> NDArray[Any]:
    """Make an array of zeros that takes no memory before it is written to."""
    count = math.prod(shape)
    pages = mmap.mmap(-1, max(1, count) * np.dtype(kind).itemsize)
    return np.frombuffer(pages, kind, count).reshape(shape)


def empty_memo(columns: int) -> Memo:
    """Make the table; memory that no text needs is never touched."""
    room = min(ROOM, max(2 * LONGEST, ALL_ROOM // max(1, columns)))
    lines = untouched((columns, ENTRIES, 8), np.uint64)
    whole, real = lines.view(np.int64), lines.view(np.float64)
    return Memo(
        places=untouched((columns, PLACES), np.int32),
        hashes=lines[:, :, 0],
        starts=whole[:, :, 1],
        ends=whole[:, :, 2],
        state=whole[:, :, 3],
        digest=lines[:, :, 4],
        number=real[:, :, 5],
        day=whole[:, :, 6],
        seen=whole[:, :, 7],
        letters=untouched((columns * room,), np.uint8),
        size=np.zeros(columns, np.int64),
        full=np.zeros(columns, np.bool_),
        kept=np.ones(columns, np.bool_),
        partial=np.zeros(columns, np.bool_),
    )


@inlined
def same(letters, first, data, start, end):  # type: ignore[no-untyped-def]
    """Say whether the bytes of `letters` from `first` on are those of `data[start:end]`."""
    shift, at = first - start, start
    while at + 8 <= end:
        if word_at(letters, shift + at) != word_at(data, at):
            return False
        at += 8
    return tail_at(letters, shift + at, end - at) == tail_at(data, at, end - at)


@inlined
def find(places, hashes, starts, ends, letters, field, data, start, end, hashed):  # type: ignore[no-untyped-def]
    """Find a text: (entry or -1, the place where it stands or would)."""
    place, one = hashed & np.uint64(32_767), np.uint64(field)
    while True:
        number = places[one, place]
        if number == 0:
            return np.int64(-1), place
        entry = np.uint64(number - 1)
        if hashes[one, entry] == hashed:
            first = starts[one, entry]
            is_as_long = ends[one, entry] - first == end - start
            # Up to seven bytes the hash of one length is theirs alone: no step of it loses a bit.
            if is_as_long and (end - start < 8 or same(letters, first, data, start, end)):
                return np.int64(entry), place
        place = (place + np.uint64(1)) & np.uint64(32_767)


@njit(cache=True, nogil=True)
def look_up(memo, field, data, start, end, hashed):  # type: ignore[no-untyped-def]
    """Find a text as `find` does, outside the kernel."""
    return find(
        memo.places, memo.hashes, memo.starts, memo.ends, memo.letters,
        field, data, start, end, hashed,
    )  # fmt: skip


@bare
def insert(memo, field, place, data, start, end, hashed, state):  # type: ignore[no-untyped-def]
    """Put a text down at a free place: its entry, or -1 where there is no room for it."""
    entry = memo.size[field]
    room = memo.letters.shape[0] // memo.size.shape[0]
    first = memo.ends[field, entry - 1] if entry > 0 else field * room
    length = end - start
    if length > 1_024:
        memo.partial[field] = True
        return np.int64(-1)
    if entry >= 10_001 or first + length + 8 > (field + 1) * room:
        memo.partial[field] = True
        memo.full[field] = True
        return np.int64(-1)
    for step in range(length):
        memo.letters[first + step] = data[start + step]
    memo.starts[field, entry] = first
    memo.ends[field, entry] = first + length
    memo.hashes[field, entry] = hashed
    memo.state[field, entry] = state
    memo.seen[field, entry] = 1
    memo.places[field, place] = np.int32(entry + 1)
    memo.size[field] = entry + 1
    return entry
