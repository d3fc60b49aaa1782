"""Puzzle boxes for one octopus: refused, for no end-point is named."""

from registry.approvals import actions as approvals
from registry.demo.cohorts import Ask, Cohort, Line, chair_of, deciders_of, prepare
from registry.demo.diary import Diary
from registry.demo.world import World


def _ask(permission: str, decision: str) -> Ask:
    return Ask(
        title="May Ondine be offered empty boxes too?",
        case="One animal, four phases of five days. Boxes are offered as husbandry does; in two "
        "phases two of four are empty.",
        harms="She may give up a box that cost her a morning.",
        benefits="Food where it is wanted, and boxes that are worth the making.",
        ends="2027-02-26",
        decision=decision,
        limits=(Line("puzzle-box", "octopus", "", 1, 20), Line("filming", "octopus", "", 1)),
        permission=permission,
    )


_BOXES = {
    f"day {day}": [f"day {day}, box {box}" for box in "ABCD"]
    for day in (*range(6, 11), *range(16, 21))
}
"""The days on which two of the four boxes are empty: Tam fills them by a sealed list."""

COHORT = Cohort(
    key="octopus-1",
    study="octopus",
    level="undergraduate",
    lead="oluwaseun",
    student="wu",
    opened="2026-10-05",
    starts="2026-11-30",
    ends="2027-02-26",
    hours=1.0,
    procedures=("puzzle-box", "filming"),
    places=("17",),
    arms=(("boxes full and empty, ABAB", "octopus", 1, 1),),
    dealt={"method": "blocked", "arms": ["full", "empty"], "blocks": _BOXES},
    keyholders=("tam",),
    asks=(
        _ask("research-committee", ""),
        _ask("university-ethics", "Agreed, if the aquarium's own committee agrees."),
    ),
    remarks="Sound for one animal. The committee will ask about the end-point.",
)


def write(diary: Diary, world: World) -> None:
    """Write the cohort into the diary, to its refusal."""
    prepare(diary, world, COHORT)
    diary.at("2026-11-20 15:00", _refuse, world)


def _refuse(world: World) -> None:
    approvals.refuse_approval(
        world.approvals[f"{COHORT.key}:research-committee"],
        reason="No end-point is named. “When she looks tired” can be seen by one keeper and not by "
        "another: say what she does, for how long, and who takes the boxes out. Ask again then.",
        deciders=deciders_of(world, "committee"),
        by=chair_of(world, "committee"),
    )
