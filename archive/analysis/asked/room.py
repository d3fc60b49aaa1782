"""What the child that analyses may use. The house's own choices, no source."""

from dataclasses import dataclass


@dataclass(frozen=True)
class AnalysisRoom:
    """Addresses, not memory: the reader reserves far more of them than it touches."""

    memory_bytes: int = 6 * 1024**3
    cpu_s: int = 600
    wall_s: int = 1_200
