"""The second pass: listed rows are fetched again by a sparse index, and told with their cells."""

import mmap
import os
from collections.abc import Iterator
from itertools import islice
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from archive.engine.fast.first_pass import (
    MARK_EVERY,
    FirstPass,
    empty_asks,
    empty_rows,
    records_of,
)
from archive.engine.fast.scan import POWERS, cut, scan
from archive.engine.fast.stream import ROOM_BYTES

BATCH_ROWS = 4_096
BATCH_BYTES = 1 << 22


class Listed(NamedTuple):
    """One row of the list: its place, its cells, and what the kernel did not prove of it."""

    place: int
    mask: int
    cells: list[str]
    asked: list[int]
    nulls: int


@njit(cache=True, nogil=True)
def locate(data, length, is_last, layout, marks, first, wanted, start, end):  # type: ignore[no-untyped-def]
    """Find the wanted records: their first and last byte in `data`.

    `marks` are the places of every sixteenth record in `data`; `first` is the number of the first.
    """
    none, odd = np.empty(0, np.int64), np.empty(0, np.uint8)
    record, at = np.int64(-1), np.int64(0)
    for number in range(wanted.shape[0]):
        aim = wanted[number]
        mark = (aim - first) // 16
        if record < 0 or record < first + mark * 16:
            record, at = first + mark * 16, marks[mark]
        while record < aim:
            at, _ = cut(data, at, length, is_last, layout, none, none, odd, 0, 0)
            record += 1
        start[number] = at
        at, _ = cut(data, at, length, is_last, layout, none, none, odd, 0, 0)
        record += 1
        end[number] = at


def listed(done: FirstPass, places: NDArray[np.int64], why: NDArray[np.uint32]) -> Iterator[Listed]:
    """Give the listed rows in order, each with its cells.

    Parameters
    ----------
    done : FirstPass
        After its run.
    places : ndarray of int64
        Of the rows, counted from the first after the header; sorted.
    why : ndarray of uint32

    Raises
    ------
    OSError
        When the file is no longer what it was.
    """
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
                text = fetch.text(
                    data,
                    marks[first : final + 1] - from_page,
                    first * MARK_EVERY,
                    places[at:until],
                )
            yield from fetch.batch(text, places[at:until], why[at:until])
            at = until


class _Fetch:
    """Cuts and judges a batch of rows."""

    def __init__(self, done: FirstPass) -> None:
        self.done = done
        self.rows = empty_rows(*(int(one.max(initial=-1)) + 1 for one in done.shape[7:10]))
        self.asks = empty_asks(len(done.shape.kind))

    def text(
        self,
        data: mmap.mmap,
        marks: NDArray[np.int64],
        first: int,
        places: NDArray[np.int64],
    ) -> bytes:
        """Give the bytes of the wanted records, one after the other."""
        start, end = np.zeros(len(places), np.int64), np.zeros(len(places), np.int64)
        block = np.frombuffer(data, np.uint8)
        layout = self.done.source.layout
        locate(block, len(block), True, layout, marks, first, places, start, end)
        bounds = zip(start.tolist(), end.tolist(), strict=True)
        return b"".join([data[begin:stop] for begin, stop in bounds])

    def batch(
        self, text: bytes, places: NDArray[np.int64], why: NDArray[np.uint32]
    ) -> Iterator[Listed]:
        """Judge the records, and give them with what was not proved."""
        layout = self.done.source.layout
        records = records_of(text, self.done.source)
        at, number, length = 0, 0, len(text)
        whole = np.empty(length + ROOM_BYTES, np.uint8)
        whole[:length] = np.frombuffer(text, np.uint8)
        while at < length:
            at, count, asked, _ = scan(
                whole, at, length, True, True, layout, self.done.shape,
                self.done.verdicts.memo, self.rows, self.asks, self.done.tallies,
                self.done.verdicts.seed, POWERS,
            )  # fmt: skip
            if not count:
                raise OSError("the file changed while it was read")
            fields: list[list[int]] = [[] for _ in range(count)]
            for row, one in zip(
                self.asks.row[:asked].tolist(), self.asks.field[:asked].tolist(), strict=True
            ):
                fields[row].append(one)
            told = zip(
                places[number : number + count].tolist(),
                why[number : number + count].tolist(),
                islice(records, count),
                fields,
                self.rows.nulls[:count].tolist(),
                strict=True,
            )
            yield from map(Listed._make, told)
            number += count
