"""What may follow for an output."""

from registry.lifecycle import Lifecycle

OUTPUT = Lifecycle(
    kind="output",
    first="listed",
    steps={("listed", "withdraw"): "withdrawn"},
    reasons=frozenset({"withdraw"}),
)
