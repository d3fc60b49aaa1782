"""The limits of a check, in numbers for the engine and in words for the person before upload."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from registry.guarded.sizes import size, span


@dataclass(frozen=True, slots=True)
class Limits:
    """How large a package may be, and how much a check may use.

    Sizes are bytes (1 kB is 1,000 bytes; a cell's 128 kB and the memory count in 1,024s), times
    are seconds of computing (`cpu_s`) and of the clock (`wall_s`).
    """

    table_bytes: int = 1_000_000_000
    table_rows: int = 10_000_000
    workbook_bytes: int = 50_000_000
    workbook_rows: int = 1_000_000
    package_bytes: int = 2_000_000_000
    package_files: int = 200
    columns: int = 500
    cell_bytes: int = 128 * 1024
    descriptor_bytes: int = 1_000_000
    descriptor_depth: int = 8
    zip_ratio: int = 100
    cpu_s: int = 3_600
    wall_s: int = 7_200
    memory_bytes: int = 3 * 1024**3

    def as_dict(self) -> dict[str, int]:
        """Give the limits as plain numbers, ready for JSON."""
        return asdict(self)

    @classmethod
    def from_dict(cls, shape: Mapping[str, Any]) -> "Limits":
        """Read back what `as_dict` gave; names that are not limits are refused."""
        unknown = set(shape) - {field.name for field in fields(cls)}
        if unknown:
            message = f"No such limit: {', '.join(sorted(unknown))}."
            raise ValueError(message)
        return cls(**{name: int(value) for name, value in shape.items()})

    def words(self) -> list[tuple[str, str]]:
        """The table of limits as (what, how much) pairs, in the order people meet them."""
        return [
            ("A table (CSV or TSV)", f"{size(self.table_bytes)} and {self.table_rows:,} rows"),
            ("A package", f"{size(self.package_bytes)} and {self.package_files:,} files"),
            ("Columns in a table", f"{self.columns:,}"),
            ("One cell", f"{self.cell_bytes // 1024:,} kB"),
            (
                "The descriptor (datapackage.json)",
                f"{size(self.descriptor_bytes)}, nested {self.descriptor_depth} levels deep",
            ),
            ("How far a zip may unfold", f"{self.zip_ratio:,} times its own size"),
            ("One check, by the clock", span(self.wall_s)),
            ("One check, of computing", span(self.cpu_s)),
            ("One check, of memory", f"{self.memory_bytes / 1024**3:.3g} GB"),
        ]
