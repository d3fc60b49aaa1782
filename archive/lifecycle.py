"""What may follow for a deposit, a version, a mapping, a pooled table and an analysis."""

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
    steps={
        ("held", "analyse"): "held",
        ("held", "withdraw"): "withdrawn",
        ("withdrawn", "erase"): "erased",
        ("held", "register"): "held",
        ("withdrawn", "register"): "withdrawn",
        ("held", "copy"): "held",
        ("withdrawn", "copy"): "withdrawn",
    },
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

POOL = Lifecycle(
    kind="pool",
    first="pooled",
    steps={("pooled", "deposit"): "pooled", ("pooled", "withdraw"): "withdrawn"},
    reasons=frozenset({"withdraw"}),
)

ANALYSIS = Lifecycle(
    kind="analysis",
    first="asked",
    steps={
        ("asked", "compute"): "computed",
        ("asked", "refuse"): "refused",
        ("computed", "repeat"): "repeated",
        ("computed", "name_sitting"): "computed",
        ("repeated", "confirm"): "computed",
    },
)
