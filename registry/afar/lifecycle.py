"""What may follow for a custody and for news from afar."""

from registry.lifecycle import Lifecycle

CUSTODY = Lifecycle(kind="custody", first="given", steps={("given", "end"): "ended"})

NEWS = Lifecycle(
    kind="news",
    first="told",
    steps={("told", "take_back"): "taken_back"},
    reasons=frozenset({"take_back"}),
)
