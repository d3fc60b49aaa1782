"""A copy of a table that a spreadsheet program opens without running anything.

The archived bytes are never touched: this is for the download that says "for spreadsheets".

References
----------
OWASP, CSV Injection: cells that begin with = + - @, a tab or a carriage return.
"""

import csv
import io
from collections.abc import Iterator
from typing import IO

from registry.errors import Unsound
from registry.guarded.cells import safe_cell

BLOCK = 65_536
"""Characters gathered before they are handed on."""


def safe_copy(
    table: IO[bytes], *, delimiter: str = ",", quote: str = '"', encoding: str = "utf-8"
) -> Iterator[bytes]:
    """Stream the spreadsheet-safe copy of a table.

    Parameters
    ----------
    table : binary file
        The table as it is archived.
    delimiter, quote, encoding : str
        How it is written.

    Yields
    ------
    bytes
        UTF-8 with a byte order mark, commas, and lines that end in CR LF. Cells of text that
        begin like a formula are preceded by an apostrophe; numbers are left as they are.

    Raises
    ------
    Unsound
        When the table cannot be read as it was said to be written.
    """
    yield b"\xef\xbb\xbf"
    # With a mark of its own the first cell's quotes would not be seen as quotes.
    marked = encoding.lower().replace("_", "-") in {"utf-8", "utf8"}
    source = io.TextIOWrapper(table, encoding="utf-8-sig" if marked else encoding, newline="")
    written = io.StringIO(newline="")
    writer = csv.writer(written)
    try:
        for row in csv.reader(source, delimiter=delimiter, quotechar=quote, strict=True):
            writer.writerow([safe_cell(cell) for cell in row])
            if written.tell() >= BLOCK:
                yield _emptied(written)
    except (csv.Error, UnicodeDecodeError) as fault:
        raise Unsound(
            "The spreadsheet copy could not be finished.",
            f"The table cannot be read as it says it is written: {fault}.",
            "Take the archived file itself; it is whole.",
        ) from fault
    finally:
        # The caller opened the file and closes it.
        source.detach()
    if written.tell():
        yield _emptied(written)


def _emptied(written: io.StringIO) -> bytes:
    block = written.getvalue().encode()
    written.seek(0)
    written.truncate()
    return block
