"""What may follow for an animal, a counted group and a restriction."""

from registry.lifecycle import Lifecycle

ANIMAL = Lifecycle(
    kind="animal",
    first="kept",
    steps={
        ("kept", "restrict"): "kept",
        ("kept", "move"): "kept",
        ("kept", "mark"): "kept",
        ("kept", "give_custody"): "kept",
        ("kept", "write_dossier"): "kept",
        ("kept", "leave"): "left",
        ("kept", "take_back"): "kept",
        ("left", "take_back"): "kept",
        ("left", "write_dossier"): "left",
        ("left", "hear_news"): "left",
    },
    reasons=frozenset({"take_back"}),
)

GROUP = Lifecycle(
    kind="group",
    first="kept",
    steps={
        ("kept", "restrict"): "kept",
        ("kept", "count"): "kept",
        ("kept", "give_custody"): "kept",
        ("kept", "write_dossier"): "kept",
        ("kept", "move"): "kept",
        ("kept", "leave"): "left",
        ("kept", "take_back"): "kept",
        ("left", "take_back"): "kept",
        ("left", "write_dossier"): "left",
        ("left", "hear_news"): "left",
    },
    reasons=frozenset({"take_back"}),
)

RESTRICTION = Lifecycle(
    kind="restriction",
    first="begun",
    steps={("begun", "end"): "ended"},
    reasons=frozenset({"end"}),
)
