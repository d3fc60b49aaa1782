"""What may follow for bookings, enrolments, sessions, breaches, concerns and audit points."""

from registry.lifecycle import Lifecycle

BOOKING = Lifecycle(
    kind="booking",
    first="requested",
    steps={
        ("requested", "offer"): "offered",
        ("requested", "refuse"): "refused",
        ("offered", "confirm"): "confirmed",
        ("offered", "refuse"): "refused",
        ("confirmed", "enrol"): "confirmed",
        ("confirmed", "release"): "released",
    },
    reasons=frozenset({"refuse"}),
)

ENROLMENT = Lifecycle(
    kind="enrolment",
    first="enrolled",
    steps={
        ("enrolled", "withdraw"): "withdrawn",
        ("enrolled", "discharge"): "discharged",
        **{(state, "say_origin"): state for state in ("enrolled", "withdrawn", "discharged")},
    },
    reasons=frozenset({"withdraw"}),
)

SESSION = Lifecycle(
    kind="session",
    first="planned",
    steps={
        ("planned", "hold"): "held",
        ("planned", "miss"): "missed",
        ("held", "abandon"): "abandoned",
    },
    reasons=frozenset({"miss", "abandon"}),
)

# A use is never edited: its state is computed from whether another entry takes it back.
USE = Lifecycle(
    kind="use",
    first="standing",
    steps={("standing", "reverse"): "reversed"},
    reasons=frozenset({"reverse"}),
)

BREACH = Lifecycle(
    kind="breach",
    first="opened",
    steps={
        ("opened", "explain"): "explained",
        ("explained", "query"): "opened",
        ("explained", "settle"): "settled",
    },
    reasons=frozenset({"query"}),
)

CONCERN = Lifecycle(
    kind="concern",
    first="raised",
    steps={
        ("raised", "take_up"): "reviewing",
        ("reviewing", "resolve"): "resolved",
        ("resolved", "reopen"): "reviewing",
        ("raised", "reply"): "raised",
        **{("reviewing", verb): "reviewing" for verb in ("ask", "reply", "check")},
    },
    reasons=frozenset({"resolve", "reopen"}),
)

POINT = Lifecycle(
    kind="audit point",
    first="written",
    steps={
        ("written", "answer"): "answered",
        ("answered", "settle"): "settled",
        ("answered", "reopen"): "written",
    },
    reasons=frozenset({"reopen"}),
)

REST_RULE = Lifecycle(
    kind="rest rule",
    first="standing",
    steps={("standing", "end"): "ended"},
    reasons=frozenset({"end"}),
)

TRAINING_RULE = Lifecycle(
    kind="training rule",
    first="standing",
    steps={("standing", "end"): "ended"},
    reasons=frozenset({"end"}),
)

ADVERSE_EVENT = Lifecycle(
    kind="adverse event",
    first="reported",
    steps={("reported", "assess"): "assessed"},
)

SAMPLED_USE = Lifecycle(
    kind="sampled use",
    first="drawn",
    steps={
        ("drawn", "confirm"): "confirmed",
        ("drawn", "doubt"): "doubted",
        ("doubted", "confirm"): "confirmed",
    },
    reasons=frozenset({"doubt"}),
)

HOLD = Lifecycle(
    kind="hold",
    first="standing",
    steps={("standing", "lift"): "lifted"},
    reasons=frozenset({"lift"}),
)
