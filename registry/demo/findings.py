"""What the demo's versions were asked."""

from typing import Any

from archive.analysing import ask_for, compute
from archive.analysis.asked.child import answered
from archive.analysis.asked.kinds import Request
from archive.columnar import make_columns
from archive.extending.child import answer as copied
from registry.demo.diary import Diary
from registry.demo.world import World

_EGGS = {"unit": "tank", "treatment": "flow_set"}


def write(diary: Diary, world: World) -> None:
    """Write into the diary what was asked of versions."""
    ask(
        diary, world, "2025-03-10 14:00", "eggs-hatching", "eggs-1c", "ingrid",
        "Do more eggs hatch with more flow?",
        Request("hatching", "strings", {"fertile": "fertile", "hatched": "hatched", **_EGGS},
                {"reference": "still"}),
        is_planned=True,
    )  # fmt: skip
    ask(
        diary, world, "2025-03-10 14:20", "eggs-days", "eggs-1c", "ingrid",
        "Do they hatch sooner?",
        Request("survival", "strings", {"time": "days_to_hatch", **_EGGS}, {"reference": "still"}),
    )  # fmt: skip
    ask(
        diary, world, "2026-02-02 11:00", "eggs-cohorts", "eggs-2", "ingrid",
        "Brisk flow against still, both cohorts",
        Request("cohorts", "strings", {"outcome": "days_to_hatch", **_EGGS},
                {"reference": "still", "arm": "brisk"}),
        others=("eggs-1c",),
    )  # fmt: skip
    ask(
        diary, world, "2025-05-09 10:00", "eggs-cut", "eggs-1c", "isolde",
        "Do eggs of cut strings hatch as well?",
        Request("hatching", "strings",
                {"fertile": "fertile", "hatched": "hatched", "unit": "string", "treatment": "cut"},
                {"reference": "whole"}),
    )  # fmt: skip
    scans = {"animal": "bird", "behaviour": "behaviour", "session": "session", "time": "scanned_at"}
    ask(
        diary, world, "2026-03-02 10:00", "pebbles-budget", "pebbles-1", "ingrid",
        "The day of nesting gentoos",
        Request("budget", "scans", scans, {"unseen": ["UNSEEN"]}),
    )  # fmt: skip
    ask(
        diary, world, "2026-03-02 10:15", "pebbles-sequence", "pebbles-1", "ingrid",
        "What gentoos do after carrying a pebble",
        Request("sequence", "scans",
                {"animal": "bird", "behaviour": "behaviour", "session": "session",
                 "begin": "scanned_at"},
                {"unseen": ["UNSEEN"]}),
    )  # fmt: skip
    nests = {"outcome": "pebbles", "unit": "pair", "treatment": "supply"}
    ask(
        diary, world, "2026-03-02 10:30", "pebbles-nests", "pebbles-1", "ingrid",
        "Pebbles on a nest in weeks of few and of plenty",
        Request("comparison", "nests", nests, {"reference": "few"}),
    )  # fmt: skip
    ask(
        diary, world, "2026-06-23 09:00", "rays-space", "rays-1", "ingrid",
        "Which half of the pool the rays rest in",
        Request("space", "scans", {"animal": "ray", "zone": "half"},
                {"areas": {"channel": 30.0, "window": 30.0},
                 "places": {"channel": [0, 0, 6, 5], "window": [6, 0, 6, 5]}}),
    )  # fmt: skip
    ask(
        diary, world, "2026-07-22 10:00", "substrate-floors", "substrate-3", "oluwaseun",
        "On which floor the shoals lie",
        Request("space", "choice", {"animal": "shoal"}, {"counts": ["sand", "gravel", "bare"]}),
        is_planned=True,
    )  # fmt: skip


def ask(
    diary: Diary,
    world: World,
    moment: str,
    key: str,
    version: str,
    by: str,
    title: str,
    request: Request,
    *,
    others: tuple[str, ...] = (),
    is_planned: bool = False,
) -> None:
    """Write into the diary that an analysis was asked and computed."""
    given = (key, version, by, title, request, others, is_planned)
    diary.at(moment, _ask, world, *given, is_alone=True)


def _ask(
    world: World,
    key: str,
    version: str,
    by: str,
    title: str,
    request: Request,
    others: tuple[str, ...],
    is_planned: bool,
) -> None:
    asked = world.versions[version]
    beside = [world.versions[one] for one in others]
    for one in (asked, *beside):
        make_columns(one, copied)
    analysis = ask_for(
        asked,
        request,
        title=title,
        others=beside,
        is_planned=is_planned,
        by=world.people[by],
    )
    world.analyses[key] = compute(analysis, _here)


def _here(options: dict[str, Any]) -> dict[str, Any]:
    """Answer in this process: nobody but the demo wrote these tables."""
    told = answered(options)
    if refused := told.get("refused"):
        raise AssertionError(f"the demo asks what cannot be computed: {refused['why']}")
    return told
