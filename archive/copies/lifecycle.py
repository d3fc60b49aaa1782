"""What may follow for a copy of a version."""

from registry.lifecycle import Lifecycle

COPY = Lifecycle(
    kind="copy",
    first="whole",
    steps={("whole", "find_damaged"): "damaged", ("damaged", "mend"): "whole"},
    reasons=frozenset(),
)
