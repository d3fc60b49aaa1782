"""The second pass: listed rows are fetched again by a sparse index, and told with their cells."""

import mmap
import os
from collections.abc import Iterator

import numpy as np
from numba import njit
from numpy.typing import NDArray

from archive.engine.fast.first_pass import (
    MARK_EVERY,
    FirstPass,
    Wanted,
    empty_asks,
    empty_rows,
)
from archive.engine.fast.listed import COLUMN, Listed
from archive.engine.fast.scan import NO_BOUNDS, POWERS, cut, scan
from archive.engine.fast.stream import ROOM_BYTES

BATCH_ROWS = 4_096
BATCH_BYTES = 1 << 22


@njit(cache=True, nogil=True)
def locate(data, length, is_last, layout, marks, first, wanted, start, end):  # type: ignore[no-untyped-def]
    """Find the wanted records: their first and last byte in `data`.

    `marks` are the places of every sixteenth record in `data`; `first` is the number of the first.
    A start that is known already is not negative.
    """
    none, odd = np.empty(0, np.int64), np.empty(0, np.uint8)
    record, at = np.int64(-1), np.int64(0)
    for number in range(wanted.shape[0]):
        aim = wanted[number]
        mark = (aim - first) // 16
        if start[number] >= 0:
            record, at = aim, start[number]
        elif record < first + mark * 16:
            record, at = first + mark * 16, marks[mark]
        while record < aim:
            at, _, _ = cut(data, at, length, is_last, layout, none, none, odd, 0, 0)
            record += 1
        start[number] = at
        at, _, _ = cut(data, at, length, is_last, layout, none, none, odd, 0, 0)
        record += 1
        end[number] = at


def listed(done: FirstPass, wanted: Wanted) -> Iterator[Listed]:
    """Give the listed rows in order, some at a time, with their cells.

    Parameters
    ----------
    done : FirstPass
        After its run.
    wanted : Wanted
        Places count from the first row after the header.

    Raises
    ------
    OSError
        When the file is no longer what it was.
    """
    places, why, starts = wanted
    if not places.size:
        return
    marks = np.concatenate(done.marks)
    fetch = _Fetch(done)
    with done.source.path.open("rb", buffering=0) as file:
        at = 0
        while at < len(places):
            first = int(places[at]) // MARK_EVERY
            limit = int(np.searchsorted(marks, marks[first] + BATCH_BYTES, "right"))
            limit = max(limit - 1, first + 1)
            until = int(np.searchsorted(places, limit * MARK_EVERY))
            until = min(until, at + BATCH_ROWS)
            final = int(places[until - 1]) // MARK_EVERY + 1
            begin = int(marks[first])
            stop = int(marks[final]) if final < len(marks) else done.stream.fixity.bytes
            if os.fstat(file.fileno()).st_size != done.stream.fixity.bytes:
                raise OSError("the file changed while it was read")
            # Mapped, so that of a span only the pages with listed rows are read.
            from_page = begin - begin % mmap.ALLOCATIONGRANULARITY
            with mmap.mmap(
                file.fileno(), stop - from_page, access=mmap.ACCESS_READ, offset=from_page
            ) as data:
                text, bounds = fetch.text(
                    data,
                    marks[first : final + 1] - from_page,
                    first * MARK_EVERY,
                    places[at:until],
                    starts[at:until] - from_page,
                )
            yield from fetch.batch(text, bounds, places[at:until], why[at:until])
            at = until


@njit(cache=True, nogil=True)
def gather(data, start, end, out):  # type: ignore[no-untyped-def]
    """Write the records one after the other; `out` has just the room for them."""
    at = 0
    for number in range(start.shape[0]):
        for place in range(start[number], end[number]):
            out[at] = data[place]
            at += 1


class _Fetch:
    """Cuts and judges a batch of rows."""

    def __init__(self, done: FirstPass) -> None:
        self.done = done
        slots, numbers, days = (int(one.max(initial=-1)) + 1 for one in done.shape[7:10])
        self.rows = empty_rows(slots, numbers, days, BATCH_ROWS)
        self.asks = empty_asks(len(done.shape.kind))
        self.alone: dict[int, tuple[int, ...]] = {}

    def text(
        self,
        data: mmap.mmap,
        marks: NDArray[np.int64],
        first: int,
        places: NDArray[np.int64],
        start: NDArray[np.int64],
    ) -> tuple[NDArray[np.uint8], list[int]]:
        """Give the bytes of the wanted records, one after the other, and where each begins.

        Behind them is the kernel's room.
        """
        end = np.zeros(len(places), np.int64)
        block = np.frombuffer(data, np.uint8)
        layout = self.done.source.layout
        locate(block, len(block), True, layout, marks, first, places, start, end)
        bounds = np.concatenate([[0], np.cumsum(end - start)])
        text = np.empty(int(bounds[-1]) + ROOM_BYTES, np.uint8)
        gather(block, start, end, text)
        return text, bounds.tolist()

    def batch(
        self,
        text: NDArray[np.uint8],
        bounds: list[int],
        places: NDArray[np.int64],
        why: NDArray[np.uint32],
    ) -> Iterator[Listed]:
        """Judge the records, and give them with what was not proved."""
        length, at, number = bounds[-1], 0, 0
        data = text[:length].tobytes()
        while at < length:
            at, count, asked, _ = scan(
                text, at, length, True, True, self.done.source.layout, NO_BOUNDS, self.done.shape,
                self.done.verdicts.memo, self.rows, self.asks, self.done.tallies,
                self.done.verdicts.seed, POWERS,
            )  # fmt: skip
            if not count:
                raise OSError("the file changed while it was read")
            until = number + count
            ends = zip(bounds[number:until], bounds[number + 1 : until + 1], strict=True)
            yield Listed(
                places[number:until].tolist(),
                why[number:until].tolist(),
                [data[begin:end] for begin, end in ends],
                self.rows.width[:count].tolist(),
                self._asked(asked, count),
                self.rows.nulls[:count].tolist(),
            )
            number = until

    def _asked(self, asked: int, count: int) -> list[tuple[int, ...]]:
        cells: list[tuple[int, ...]] = [()] * count
        entries = self.asks.entry[:asked]
        # Less than zero: `NO_ENTRY` and `EMPTY` count down from the next column.
        codes = self.asks.field[:asked] * COLUMN + entries % COLUMN
        for row, one in zip(self.asks.row[:asked].tolist(), codes.tolist(), strict=True):
            # Most rows have one such cell, and most such cells are alike: they share a tuple.
            if cells[row]:
                cells[row] = (*cells[row], one)
            else:
                cells[row] = self.alone.get(one) or self.alone.setdefault(one, (one,))
        return cells
