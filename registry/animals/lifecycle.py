"""What may follow for an animal, a counted group, an egg case, a loan, a restriction, a list."""

from registry.lifecycle import Lifecycle

ANIMAL = Lifecycle(
    kind="animal",
    first="kept",
    steps={
        ("kept", "restrict"): "kept",
        ("kept", "move"): "kept",
        ("kept", "mark"): "kept",
        ("kept", "give_custody"): "kept",
        ("kept", "lend"): "kept",
        ("left", "lend"): "left",
        ("kept", "change_owner"): "kept",
        ("kept", "write_dossier"): "kept",
        ("kept", "sex"): "kept",
        ("kept", "stage"): "kept",
        ("kept", "measure"): "kept",
        ("kept", "scan"): "kept",
        ("kept", "bear"): "kept",
        ("kept", "name_parent"): "kept",
        ("left", "name_parent"): "left",
        ("kept", "join"): "left",
        ("kept", "leave"): "left",
        ("kept", "take_back"): "kept",
        ("left", "take_back"): "kept",
        ("kept", "undo"): "undone",
        ("left", "write_dossier"): "left",
        ("left", "hear_news"): "left",
    },
    reasons=frozenset({"take_back", "undo"}),
)

GROUP = Lifecycle(
    kind="group",
    first="kept",
    steps={
        ("kept", "restrict"): "kept",
        ("kept", "count"): "kept",
        ("kept", "give_custody"): "kept",
        ("kept", "lend"): "kept",
        ("left", "lend"): "left",
        ("kept", "change_owner"): "kept",
        ("kept", "write_dossier"): "kept",
        ("kept", "recount"): "kept",
        ("kept", "stage"): "kept",
        ("kept", "draw"): "kept",
        ("kept", "split"): "kept",
        ("kept", "candle"): "kept",
        ("kept", "hatch"): "kept",
        ("kept", "name_parent"): "kept",
        ("kept", "merge"): "left",
        ("kept", "move"): "kept",
        ("kept", "leave"): "left",
        ("kept", "take_back"): "kept",
        ("left", "take_back"): "kept",
        ("kept", "undo"): "undone",
        ("left", "write_dossier"): "left",
        ("left", "hear_news"): "left",
    },
    reasons=frozenset({"take_back", "undo"}),
)

CASE = Lifecycle(
    kind="case",
    first="held",
    steps={
        ("held", "candle"): "held",
        ("held", "find"): "held",
        ("held", "stage"): "held",
        ("held", "hatch"): "held",
        ("held", "lose"): "held",
        ("held", "move"): "held",
        ("held", "name_parent"): "held",
        ("ended", "name_parent"): "ended",
        ("held", "end"): "ended",
        ("held", "take_back"): "held",
        ("held", "give_custody"): "held",
        ("ended", "take_back"): "held",
    },
    reasons=frozenset({"take_back"}),
)

RESTRICTION = Lifecycle(
    kind="restriction",
    first="begun",
    steps={("begun", "end"): "ended"},
    reasons=frozenset({"end"}),
)

LOAN = Lifecycle(kind="loan", first="lent", steps={("lent", "end"): "ended"})

INTAKE = Lifecycle(
    kind="intake",
    first="brought",
    steps={("brought", "undo"): "undone"},
    reasons=frozenset({"undo"}),
)

MARK = Lifecycle(
    kind="mark",
    first="borne",
    steps={
        ("borne", "replace"): "replaced",
        ("borne", "end"): "ended",
        ("borne", "photograph"): "borne",
        ("borne", "read"): "borne",
    },
    reasons=frozenset({"end", "replace"}),
)

PHOTOGRAPH = Lifecycle(
    kind="photograph",
    first="kept",
    steps={("kept", "withdraw"): "withdrawn"},
    reasons=frozenset({"withdraw"}),
)
