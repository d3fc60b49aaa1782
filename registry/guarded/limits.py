"""What a child and a workbook may use: the shapes that a caller's own limits fill."""

from typing import Protocol


class Room(Protocol):
    """What a child may use: bytes of memory, seconds of computing and of the clock."""

    @property
    def memory_bytes(self) -> int:
        """Bytes of addresses."""

    @property
    def cpu_s(self) -> int:
        """Seconds of computing."""

    @property
    def wall_s(self) -> int:
        """Seconds of the clock."""


class BookLimits(Protocol):
    """How large a workbook may be, and how far it may unfold."""

    @property
    def workbook_bytes(self) -> int:
        """Its size as it lies, in bytes."""

    @property
    def workbook_rows(self) -> int:
        """Rows of one sheet."""

    @property
    def columns(self) -> int:
        """Columns of one sheet."""

    @property
    def cell_bytes(self) -> int:
        """The longest text of one cell."""

    @property
    def zip_ratio(self) -> int:
        """How many times its own size it may unfold to."""
