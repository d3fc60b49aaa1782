"""What the child that copies columns may use. The house's own choices, no source."""

from dataclasses import dataclass


@dataclass(frozen=True)
class CopyRoom:
    """Addresses, not memory: the reader reserves far more of them than it touches."""

    memory_bytes: int = 6 * 1024**3
    cpu_s: int = 1_800
    wall_s: int = 3_600
