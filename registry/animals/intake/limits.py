"""How large a list of animals may be, and what the child that opens a workbook may use."""

from dataclasses import dataclass

MOST_BYTES = 10_000_000
MOST_ROWS = 20_000
"""Below the names of the columns."""
MOST_LETTERS = 1_000
"""In one cell."""


@dataclass(frozen=True)
class BookRoom:
    """Limits for a workbook that a person waits for."""

    workbook_bytes: int = MOST_BYTES
    workbook_rows: int = MOST_ROWS + 1
    columns: int = 100
    cell_bytes: int = 4 * MOST_LETTERS
    zip_ratio: int = 100
    memory_bytes: int = 1024**3
    cpu_s: int = 60
    wall_s: int = 120
