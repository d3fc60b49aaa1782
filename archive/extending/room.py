"""What the children that copy columns and read pools may use: our own choices, no source."""

from dataclasses import dataclass


@dataclass(frozen=True)
class CopyRoom:
    """Addresses, not memory: the reader reserves far more of them than it touches."""

    memory_bytes: int = 6 * 1024**3
    cpu_s: int = 1_800
    wall_s: int = 3_600


@dataclass(frozen=True)
class PoolRoom:
    """What the child that reads pools may use; somebody waits for its answer."""

    memory_bytes: int = 6 * 1024**3
    cpu_s: int = 300
    wall_s: int = 180
