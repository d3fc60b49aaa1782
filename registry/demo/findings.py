"""What the demo's versions were asked, what came out of its projects, and who sees to changes."""

from typing import Any

from archive.analysing import ask_for, compute
from archive.analysis.asked.child import answered
from archive.analysis.asked.kinds import Request
from archive.columnar import make_columns
from archive.extending.child import answer as copied
from registry.answers import actions as answers
from registry.demo.cohorts import project_of
from registry.demo.diary import Diary
from registry.demo.world import World

_EGGS = {"unit": "tank", "treatment": "flow_set"}


def write(diary: Diary, world: World) -> None:
    """Write into the diary what was asked of versions, and what came out."""
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
    scans = {"animal": "bird", "behaviour": "behaviour", "session": "session", "time": "scanned_at"}
    ask(
        diary, world, "2026-03-02 10:00", "pebbles-budget", "pebbles-1", "ingrid",
        "The day of nesting gentoos",
        Request("budget", "scans", scans, {"unseen": ["UNSEEN"]}),
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
        Request("space", "scans", {"animal": "ray", "zone": "half"}),
    )  # fmt: skip
    ask(
        diary, world, "2026-07-22 10:00", "substrate-floors", "substrate-3", "oluwaseun",
        "On which floor the shoals lie",
        Request("space", "choice", {"animal": "shoal"}, {"counts": ["sand", "gravel", "bare"]}),
        is_planned=True,
    )  # fmt: skip
    diary.at("2026-09-11 09:00", _owner, world)
    diary.at("2026-09-30 10:00", _outputs, world)


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


def _owner(world: World) -> None:
    answer = world.questions[1].answers.get()
    answers.give_action(
        answer.actions.order_by("pk")[1], owner=world.people["tam"], by=world.people["isolde"]
    )


def _outputs(world: World) -> None:
    for key, sort, title, author, where, versions in (
        (
            "substrate-3",
            "dissertation",
            "Which floor do juvenile cuttlefish settle on? Three cohorts together",
            "Priya",
            "Norrholm University",
            ("substrate-1", "substrate-2", "substrate-3"),
        ),
        (
            "eggs-1",
            "poster",
            "More flow, more hatchlings: cuttlefish egg strings in a nursery",
            "",
            "Meeting of northern aquaria",
            ("eggs-1c",),
        ),
    ):
        project = project_of(world, key)
        students = project.members.filter(part="student").select_related("person")
        names = ", ".join(one.person.name for one in students)
        answers.add_output(
            project,
            sort=sort,
            title=title,
            authors=names or author,
            published_on=world.today(),
            where=where,
            versions=[world.versions[one] for one in versions],
            by=students[0].person,
        )
