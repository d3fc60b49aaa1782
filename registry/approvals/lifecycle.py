"""What may follow for an approval. That it has expired is computed from dates, never stored."""

from registry.lifecycle import Lifecycle

APPROVAL = Lifecycle(
    kind="approval",
    first="drafted",
    steps={
        ("drafted", "add_limit"): "drafted",
        ("drafted", "drop_limit"): "drafted",
        ("drafted", "cover"): "drafted",
        ("drafted", "write_item"): "drafted",
        ("drafted", "answer_change"): "drafted",
        ("drafted", "comment"): "drafted",
        ("drafted", "submit"): "submitted",
        ("submitted", "comment"): "submitted",
        ("submitted", "return"): "drafted",
        ("submitted", "approve"): "approved",
        ("submitted", "refuse"): "refused",
        ("approved", "give_evidence"): "approved",
        ("approved", "amend"): "approved",
        ("approved", "comment"): "approved",
        ("approved", "suspend"): "suspended",
        ("suspended", "give_evidence"): "suspended",
        ("suspended", "comment"): "suspended",
        ("suspended", "reinstate"): "approved",
        ("drafted", "withdraw"): "withdrawn",
        ("submitted", "withdraw"): "withdrawn",
        ("approved", "withdraw"): "withdrawn",
        ("suspended", "withdraw"): "withdrawn",
        ("approved", "close"): "closed",
    },
    reasons=frozenset({"return", "refuse", "suspend", "reinstate", "withdraw"}),
)
