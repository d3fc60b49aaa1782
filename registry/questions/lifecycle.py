"""What may follow for a question."""

from registry.lifecycle import Lifecycle

QUESTION = Lifecycle(
    kind="question",
    first="posted",
    steps={
        ("posted", "like"): "posted",
        ("posted", "unlike"): "posted",
        ("posted", "take_on"): "taken_on",
        ("posted", "merge"): "merged",
        ("posted", "answer_from_held"): "answered",
        ("posted", "park"): "parked",
        ("posted", "decline"): "declined",
        ("parked", "reopen"): "posted",
        ("taken_on", "like"): "taken_on",
        ("taken_on", "unlike"): "taken_on",
        ("taken_on", "answer"): "answered",
        ("answered", "acknowledge"): "acknowledged",
        ("answered", "query"): "taken_on",
        ("answered", "renew"): "answered",
        ("acknowledged", "renew"): "answered",
    },
    reasons=frozenset(
        {"take_on", "merge", "answer_from_held", "park", "decline", "reopen", "query"}
    ),
)
