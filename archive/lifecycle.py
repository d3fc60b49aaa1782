"""What may follow for a deposit and for a version."""

from registry.lifecycle import Lifecycle

DEPOSIT = Lifecycle(
    kind="deposit",
    first="opened",
    steps={
        ("opened", "add_file"): "opened",
        ("opened", "drop_file"): "opened",
        ("opened", "convert"): "opened",
        ("opened", "mend"): "opened",
        ("opened", "submit"): "submitted",
        ("submitted", "check"): "checked",
        ("submitted", "correct"): "opened",
        ("checked", "accept"): "accepted",
        ("checked", "correct"): "opened",
        ("checked", "mend"): "opened",
        ("opened", "discard"): "discarded",
        ("submitted", "discard"): "discarded",
        ("checked", "discard"): "discarded",
    },
    reasons=frozenset({"discard"}),
)

VERSION = Lifecycle(
    kind="version",
    first="held",
    steps={("held", "withdraw"): "withdrawn", ("withdrawn", "erase"): "erased"},
    reasons=frozenset({"withdraw", "erase"}),
)
