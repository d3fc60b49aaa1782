"""The strict look over a whole file before it is judged, at the kernel's speed.

One pass counts, digests and looks at each byte. It tells files in which quotation marks and sizes
are as they should be. Of any other it says nothing, and Python's own strict reader finds the place
and the words.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numba import njit

from archive.engine.fast.plan import Cutter, Slow, Source
from archive.engine.fast.scan import Layout, cut
from archive.engine.fast.stream import Stream
from archive.engine.limits import Limits


class Surveyed(NamedTuple):
    """What is known of a sound file: no record of it has several lines."""

    records: int
    labels: list[str]
    bytes: int
    sha256: str


def survey(path: Path, options: Mapping[str, Any], limits: Limits) -> Surveyed | None:
    """Count the records of a file that is plainly sound; None where it may not be.

    Parameters
    ----------
    path : Path
    options : mapping
        Of ``csv.reader``.
    limits : Limits

    Returns
    -------
    Surveyed or None
        None also where a byte is no text.
    """
    signs = [options["delimiter"], options["quotechar"] or '"']
    if options["escapechar"] or any(len(sign) != 1 or not sign.isascii() for sign in signs):
        return None
    if options["skipinitialspace"] or signs[0] in '\r\n "' or signs[0] == signs[1]:
        return None
    quote = ord(options["quotechar"]) if options["quotechar"] else 256
    layout = Layout(ord(signs[0]), quote, False, False)
    source = Source(path, layout, dict(options), is_utf8=True, has_mark=True, first_row=1)
    stream = Stream(source)
    labels: list[str] | None = None
    records, most = 0, limits.table_bytes
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
            if has_nul(block.data[begin : block.length]) or stream.fixity.bytes > most:
                return None
            if labels is None and count:
                first = block.data[begin : min(used, begin + (1 << 17))].tobytes()
                labels = [cell.strip() for cell in Cutter(source)(first)]
            stream.used = used
    except Slow:
        return None
    return Surveyed(records, labels or [], stream.fixity.bytes, stream.fixity.sha256)


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
        # The rule of the slow look for lines: no more than 64 cells of the greatest length.
        if width > columns or after - at > 64 * letters:
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


@njit(cache=True, nogil=True)
def has_nul(data):  # type: ignore[no-untyped-def]
    """Say whether some byte is 0."""
    least = np.uint8(255)
    for byte in data:
        least = min(least, byte)
    return least == 0
