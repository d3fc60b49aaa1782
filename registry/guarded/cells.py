"""Cells and lines of CSV that a spreadsheet program opens without running anything.

References
----------
OWASP, CSV Injection: cells that begin with = + - @, a tab or a carriage return.
"""

import csv
import re
from collections.abc import Iterable, Iterator

DANGEROUS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""First characters that a spreadsheet program may take for the beginning of a formula."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?")


def safe_cell(cell: str) -> str:
    """Give a cell that no spreadsheet program takes for a formula.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("-1.5"), safe_cell("-x")
    ("'=1+1", '-1.5', "'-x")
    """
    if cell.startswith(DANGEROUS) and not _NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell


def bare_cell(cell: str) -> str:
    """Give back what `safe_cell` was given, from what it gave.

    Examples
    --------
    >>> bare_cell("'=1+1"), bare_cell("'s Graven"), bare_cell("-1.5")
    ('=1+1', "'s Graven", '-1.5')
    """
    return cell[1:] if cell.startswith("'") and safe_cell(cell[1:]) == cell else cell


class _Echo:
    """Hands on each line that is written, and keeps none."""

    def write(self, line: str) -> str:
        return line


def csv_lines(rows: Iterable[Iterable[object]]) -> Iterator[str]:
    r"""Give rows as lines of CSV, one by one; text that looks like a formula is made harmless.

    Examples
    --------
    >>> list(csv_lines([["code", "number"], ["=1+1", 12]]))
    ['code,number\r\n', "'=1+1,12\r\n"]
    """
    writer = csv.writer(_Echo())
    for row in rows:
        yield writer.writerow([safe_cell(one) if isinstance(one, str) else one for one in row])
