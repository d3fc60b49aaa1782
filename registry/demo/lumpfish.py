"""Lumpfish growth under two light regimes: netted too often, two deaths, halted and suspended."""

from registry.animals import actions as animals
from registry.approvals import actions as approvals
from registry.demo import deposits
from registry.demo.cohorts import (
    Ask,
    Booked,
    Cohort,
    Line,
    approval_of,
    book,
    enrol,
    later,
    prepare,
    project_of,
    use,
)
from registry.demo.diary import Diary
from registry.demo.tables import weighings
from registry.demo.world import World
from registry.projects import actions as projects

_LONG, _SHORT = "long day, 16 h", "short day, 8 h"
ARM_OF = {
    "5": _LONG, "7": _SHORT, "8": _LONG, "9": _SHORT, "10": _LONG, "11": _SHORT, "12": _SHORT,
    "13": _LONG,
}  # fmt: skip
_CODES = {tank: f"L{int(tank):02}" for tank in ARM_OF}


def _ask(permission: str, decision: str, contacts: int | None) -> Ask:
    return Ask(
        title="May eight tanks of juvenile lumpfish be kept under a long and a short day?",
        case="Light is set by tank; the fish are netted, weighed and measured as husbandry does.",
        harms="Netting frays fins when it is done too often. A short day may slow growth.",
        benefits="The hours of light for the new tanks, before the lamps are bought.",
        ends="2027-01-29",
        decision=decision,
        limits=(
            Line("tank-light", "lumpfish", "juvenile", 96),
            Line("netting", "lumpfish", "juvenile", 96, contacts),
            Line("weighing-measuring", "lumpfish", "juvenile", 96, contacts),
        ),
        permission=permission,
        severity=1,
    )


COHORT = Cohort(
    key="lumpfish-1",
    study="lumpfish",
    level="research_masters",
    lead="ingrid",
    student="sunniva",
    opened="2026-04-20",
    starts="2026-05-18",
    ends="2026-12-18",
    hours=2.0,
    procedures=("netting", "weighing-measuring", "tank-light"),
    places=tuple(ARM_OF),
    arms=((_LONG, "lumpfish", 4, 48), (_SHORT, "lumpfish", 4, 48)),
    asks=(
        _ask("research-committee", "Ten nettings each and no more.", 10),
        _ask("university-ethics", "Agreed; the end-points are clear.", None),
    ),
    size={
        "design": "TankMeans",
        "values": {"sd": 0.2, "icc": 0.2, "per_unit": 12},
        "n": 4,
        "effect": None,
        "power": 0.8,
        "spread_from": "the weighings of the brood stock’s last two hatches, % a day",
    },
    begins="2026-05-18 09:00",
    severity=1,
    remarks="Four tanks a regime are few; say so in the answer.",
)


def write(diary: Diary, world: World) -> None:
    """Write the cohort into the diary, to its halt."""
    deposits.publish(diary, world, "2026-05-11 15:00", "lumpfish", 1, "The first one.", "ingrid")
    prepare(diary, world, COHORT)
    booked = Booked(
        key=COHORT.key,
        wish="The eight shoals of tanks 5 to 13, twelve fish each, left where they are.",
        starts="2026-05-20",
        ends=COHORT.ends,
        groups=tuple((f"lump-{tank}", 12) for tank in ARM_OF),
        places=tuple(ARM_OF),
        enrols=tuple((f"lump-{tank}", arm, tank, _CODES[tank]) for tank, arm in ARM_OF.items()),
    )
    book(diary, world, COHORT, booked, "2026-05-19")
    enrol(diary, world, COHORT, booked, "2026-05-20 09:00")
    days = [later("2026-05-25", 21 * nth) for nth in range(9)]
    for day in days:
        for at, tank in enumerate(ARM_OF):
            _net(diary, world, tank, day, f"09:{at * 5:02}")
    for day in ("2026-11-03", "2026-11-05"):
        _net(diary, world, "5", day, "09:00")
    diary.at("2026-11-16 10:20", _died, world)
    why = "Two deaths in tank 5 within a week, and frayed fins on five more."
    diary.at("2026-11-16 10:40", _halt, world, why)
    diary.at("2026-11-16 14:00", _suspend, world)
    shoals = {_CODES[tank]: (tank, 16 if arm == _LONG else 8) for tank, arm in ARM_OF.items()}
    tables = weighings(diary.story, days, shoals)
    deposits.deposit(
        diary, world, "2026-11-18 16:30", COHORT.key, COHORT, "lumpfish-1", tables,
        "All weighings up to the halt.",
    )  # fmt: skip


def _net(diary: Diary, world: World, tank: str, day: str, clock: str) -> None:
    code = _CODES[tank]
    diary.at(f"{day} 13:00", use, world, COHORT, code, "netting", f"{day} {clock}")


def _died(world: World) -> None:
    animals.count_group(
        world.groups["lump-5"],
        unknown=-2,
        happened_on=world.today(),
        sort="died",
        note="One found on the floor before the feed, one in the skimmer.",
        by=world.people["tam"],
    )


def _halt(world: World, why: str) -> None:
    projects.halt_project(project_of(world, COHORT.key), reason=why, by=world.people["tam"])


def _suspend(world: World) -> None:
    approvals.suspend_approval(
        approval_of(world, COHORT.key),
        reason="Netted eleven times where ten were allowed, and two deaths. Care goes on; all "
        "other contact stops until the committee and I have seen the fish.",
        by=world.people["fergus"],
    )
