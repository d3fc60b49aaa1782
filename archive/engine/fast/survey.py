"""The strict look over a whole file before it is judged, at the kernel's speed.

It tells files in which quotation marks and sizes are as they should be. Of any other it says
nothing, and Python's own strict reader finds the place and the words.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numba import njit

from archive.engine.fast.first_pass import cells_of
from archive.engine.fast.plan import Slow, Source
from archive.engine.fast.scan import Layout, cut
from archive.engine.fast.stream import Stream
from archive.engine.limits import Limits

Surveyed = tuple[int, list[str]]


def survey(path: Path, options: Mapping[str, Any], limits: Limits) -> Surveyed | None:
    """Count the records of a file that is plainly sound; None where it may not be.

    Parameters
    ----------
    path : Path
        Of UTF-8 throughout.
    options : mapping
        Of ``csv.reader``.
    limits : Limits

    Returns
    -------
    (int, list of str) or None
        How many records there are, no record having several lines, and the labels.
    """
    signs = [options["delimiter"], options["quotechar"] or '"']
    if options["escapechar"] or any(len(sign) != 1 or not sign.isascii() for sign in signs):
        return None
    if options["skipinitialspace"] or signs[0] in '\r\n "' or signs[0] == signs[1]:
        return None
    quote = ord(options["quotechar"]) if options["quotechar"] else 256
    layout = Layout(ord(signs[0]), quote, False, False)
    source = Source(path, layout, dict(options), is_utf8=True, has_mark=True, first_row=1)
    stream = Stream(source, is_hashed=False)
    labels: list[str] | None = None
    records = 0
    try:
        for block in stream.blocks():
            begin = stream.used
            used, count, is_sound = look_over(
                block.data, begin, block.length, block.is_last, layout,
                limits.columns, limits.cell_bytes,
            )  # fmt: skip
            records += count
            if not is_sound or records - 1 > limits.table_rows:
                return None
            if labels is None and count:
                labels = [cell.strip() for cell in _first(block.data[begin:used], source)]
            stream.used = used
    except Slow:
        return None
    return records, labels or []


def _first(data: Any, source: Source) -> list[str]:
    return cells_of(data[: 1 << 17], source)


@njit(cache=True, nogil=True)
def look_over(data, at, length, is_last, layout, columns, letters):  # type: ignore[no-untyped-def]
    """Cut record after record: (where the next begins, how many, whether all were sound)."""
    start, end = np.empty(columns, np.int64), np.empty(columns, np.int64)
    odd = np.empty(columns, np.uint8)
    quote, count = layout.quote, 0
    while at < length:
        after, width = cut(data, at, length, is_last, layout, start, end, odd, 0, columns)
        if after < 0:
            break
        if width > columns:
            return at, count, False
        for cell in range(width):
            first, last = start[cell], end[cell]
            if last - first > letters:
                return at, count, False
            if quote < 256 and first > at and data[first - 1] == quote:
                # A cell that is closed ends before its mark, and holds no line break.
                if last >= length or data[last] != quote:
                    return at, count, False
                for place in range(first, last):
                    if data[place] == 10 or data[place] == 13:
                        return at, count, False
        count += 1
        at = after
    return at, count, True
