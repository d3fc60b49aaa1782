"""The strict look over a file before it is judged, at the kernel's speed.

One pass counts, digests and looks at each byte. It tells files in which quotation marks and sizes
are as they should be. Of any other it says nothing, and Python's own strict reader finds the place
and the words. Where no other table hangs on this one, its beginning is looked at, and the rest
while it is judged.
"""

from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numba import njit

from archive.engine.fast.plan import Cutter, Slow, Source
from archive.engine.fast.scan import Layout, cut
from archive.engine.fast.stream import Stream
from archive.engine.limits import Limits

SAMPLED = 102
"""Records that must be sound before frictionless opens a file: of so many it takes its sample."""

HEAD_BYTES = 1 << 17


class Surveyed(NamedTuple):
    """What is known of a sound file: no record of it has several lines.

    Of one whose beginning alone was looked at, `records` is a guess, and `sha256` is "".
    """

    records: int
    labels: list[str]
    bytes: int
    sha256: str


def survey(
    path: Path, options: Mapping[str, Any], limits: Limits, *, is_whole: bool = True
) -> Surveyed | None:
    """Count the records of a file that is plainly sound; None where it may not be.

    Parameters
    ----------
    path : Path
    options : mapping
        Of ``csv.reader``.
    limits : Limits
    is_whole : bool
        Whether to look at more than the beginning.

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
    size = path.stat().st_size
    if size > limits.table_bytes:
        return None
    quote = ord(options["quotechar"]) if options["quotechar"] else 256
    layout = Layout(ord(signs[0]), quote, False, False)
    source = Source(path, layout, dict(options), is_utf8=True, has_mark=True, first_row=1)
    stream = Stream(source, is_hashed=is_whole, has_nul=False)
    labels: list[str] | None = None
    records = 0
    try:
        with closing(stream.blocks()) as blocks:
            for block in blocks:
                begin = stream.used
                stream.used, count, is_sound = look_over(
                    block.data, begin, block.length, block.is_last, layout,
                    limits.columns, limits.cell_bytes,
                )  # fmt: skip
                records += count
                if not is_sound or records - 1 > limits.table_rows:
                    return None
                if labels is None and count:
                    first = block.data[begin : min(stream.used, begin + HEAD_BYTES)].tobytes()
                    labels = [cell.strip() for cell in Cutter(source)(first)]
                if not is_whole and stream.used < size:
                    guess = records * size // max(1, stream.used)
                    told = Surveyed(guess, labels or [], size, "")
                    return told if records >= SAMPLED else None
    except Slow:
        return None
    return Surveyed(records, labels or [], stream.fixity.bytes, stream.fixity.sha256)


@njit(cache=True, nogil=True)
def look_over(data, at, length, is_last, layout, columns, letters):  # type: ignore[no-untyped-def]
    """Cut record after record: (where the next begins, how many, whether all were sound)."""
    start, end = np.empty(columns, np.int64), np.empty(columns, np.int64)
    odd = np.empty(columns, np.uint8)
    count = 0
    while at < length:
        after, width, is_stray = cut(data, at, length, is_last, layout, start, end, odd, 0, columns)
        if after < 0:
            break
        # The rule of the slow look for lines: no more than 64 cells of the greatest length.
        if is_stray or width > columns or after - at > 64 * letters:
            return at, count, False
        if after - at > letters:
            for cell in range(width):
                if end[cell] - start[cell] > letters:
                    return at, count, False
        count += 1
        at = after
    return at, count, True
