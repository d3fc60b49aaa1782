"""Rows of a CSV text, read so that no row can fill the memory, whatever the file holds."""

import csv
from collections.abc import Iterator, Mapping
from typing import Any, TextIO

MOST_SIGNS = 4_000_000
"""The longest row that is read, in signs; one that is longer is no row but an open quotation mark.

The csv module's own limit holds for the whole process, and other readers in it set it otherwise.
"""


def records_of(file: TextIO, options: Mapping[str, Any]) -> Iterator[list[str]]:
    """Read rows from a text that was opened with ``newline=""``.

    Parameters
    ----------
    file : text file
    options : mapping
        Of ``csv.reader``; see `archive.engine.reading.reader_options`.

    Raises
    ------
    csv.Error
        Where a row cannot be read, or is longer than 4 million signs.
    """
    length = 0

    def lines() -> Iterator[str]:
        nonlocal length
        while line := file.readline(MOST_SIGNS):
            length += len(line)
            if length >= MOST_SIGNS:
                raise csv.Error(f"a row is longer than {MOST_SIGNS:,} signs")
            yield line

    for cells in csv.reader(lines(), **options):
        length = 0
        yield cells
