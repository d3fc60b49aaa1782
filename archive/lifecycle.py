"""What may follow for a deposit, for a version and for a mapping."""

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

MAPPING = Lifecycle(
    kind="mapping",
    first="proposed",
    steps={
        ("proposed", "accept"): "accepted",
        ("proposed", "decline"): "declined",
        ("proposed", "withdraw"): "withdrawn",
        ("accepted", "withdraw"): "withdrawn",
    },
    reasons=frozenset({"decline", "withdraw"}),
)
