"""Pebble supply and nesting gentoos: one cohort in the archive, one that collects."""

from registry.approvals import actions as approvals
from registry.demo import deposits
from registry.demo.cohorts import (
    Ask,
    Booked,
    Cohort,
    Line,
    Sitting,
    approval_of,
    book,
    chair_of,
    deciders_of,
    discharge,
    enrol,
    later,
    prepare,
    sit,
    use,
)
from registry.demo.diary import Diary
from registry.demo.tables import scans_of_gentoos
from registry.demo.world import World, told

_LIMITS = (
    Line("watching-outside", "gentoo", "", 18),
    Line("nest-material", "gentoo", "", 18),
    Line("weighing-measuring", "gentoo", "", 18, 4),
)
_ARM = "weeks of few and of plenty"


def _cohort(number: int, opened: str, starts: str, ends: str, named: tuple[str, ...]) -> Cohort:
    def ask(permission: str, decision: str) -> Ask:
        return Ask(
            title="May nine pairs of gentoos be given few and many pebbles by the week?",
            case="Pebbles are put out anyway; here by lot, and the birds scanned from the hide.",
            harms="In a week of few, pairs take from each other more. Weighing on the walk-over "
            "scale; a bird that will not walk is carried once.",
            benefits="Pebbles when they are wanted, and a band of mass to judge birds by.",
            ends=later(ends, 30),
            decision=decision,
            limits=_LIMITS,
            permission=permission,
            people=named if permission == "research-committee" else (),
            severity=1,
        )

    return Cohort(
        key=f"pebbles-{number}",
        study="pebbles",
        level="taught_masters",
        lead="ingrid",
        student="anselm",
        opened=opened,
        starts=starts,
        ends=ends,
        hours=0.5,
        procedures=("watching-outside", "nest-material", "weighing-measuring"),
        places=("shore",),
        arms=((_ARM, "gentoo", 9, 18),),
        asks=(
            ask("research-committee", "From the hide and by the week; agreed."),
            ask("university-ethics", "Agreed, with the end-points as written."),
        ),
        begins=f"{later(starts, 1)} 09:00",
        severity=1,
        extends=f"pebbles-{number - 1}" if number > 1 else "",
        terms="embargoed",
        embargo_months=6,
    )


def _birds() -> dict[str, str]:
    """Give the code of each bird that nests, with its pair."""
    nesting = [row for row in told("animals")["animals"] if row["taxon"] == "gentoo"][:18]
    return {row["code"]: f"P{at // 2 + 1}" for at, row in enumerate(nesting)}


def _keys() -> dict[str, str]:
    return {
        row["code"]: row["key"] for row in told("animals")["animals"] if row["taxon"] == "gentoo"
    }


def write(diary: Diary, world: World) -> None:
    """Write both cohorts into the diary."""
    deposits.publish(diary, world, "2025-07-28 15:00", "pebbles", 1, "The first one.", "ingrid")
    _first(diary, world)
    _second(diary, world)


def _book(diary: Diary, world: World, cohort: Cohort, asked: str, entered: str) -> None:
    birds, keys = _birds(), _keys()
    booked = Booked(
        key=cohort.key,
        wish="Nine pairs that nest on the shore; the three single birds are left out.",
        starts=asked,
        ends=cohort.ends,
        animals=tuple(keys[code] for code in birds),
        places=("shore",),
        enrols=tuple((keys[code], _ARM, pair, code) for code, pair in birds.items()),
    )
    book(diary, world, cohort, booked, asked)
    enrol(diary, world, cohort, booked, entered)


def _sittings(
    diary: Diary, world: World, cohort: Cohort, days: list[tuple[str, str]]
) -> list[tuple[str, str, str]]:
    """Write sessions from the hide into the diary, and give code, day and supply of each."""
    birds = tuple(_birds())
    held = []
    for at, (day, supply) in enumerate(days, 1):
        code = f"S{at:02}"
        sitting = Sitting(
            code, day, "13:00", "13:40", "shore", birds, "watching-outside",
            visitors=40 + 37 * at % 130, noise_db=58.0 + at % 5,
            notes=f"Week of {supply}.",
        )  # fmt: skip
        sit(diary, world, cohort, sitting)
        held.append((code, day, supply))
    return held


def _weigh(
    diary: Diary, world: World, cohort: Cohort, day: str, codes: tuple[str, ...], by: str
) -> None:
    for at, code in enumerate(codes):
        moment = f"{day} 08:{at + 10:02}"
        diary.at(f"{day} 10:{at + 10:02}", _weighed, world, cohort, code, moment, by)


def _weighed(world: World, cohort: Cohort, code: str, moment: str, by: str) -> None:
    use(world, cohort, code, "weighing-measuring", moment, by=by, note="Walk-over scale.")


def _first(diary: Diary, world: World) -> None:
    cohort = _cohort(1, "2025-07-14", "2025-08-18", "2026-01-30", ())
    prepare(diary, world, cohort)
    _book(diary, world, cohort, "2025-08-25", "2025-08-26 09:00")
    birds = tuple(_birds())
    _weigh(diary, world, cohort, "2025-09-01", birds, "anselm")
    days = [(later("2025-09-04", 14 * nth), "few" if nth % 2 else "plenty") for nth in range(8)]
    held = _sittings(diary, world, cohort, days)
    _weigh(diary, world, cohort, "2026-01-26", birds[:10], "anselm")
    discharge(diary, world, cohort, "2026-01-30 16:00")
    tables = scans_of_gentoos(diary.story, 1, held, _birds())
    deposits.deposit(diary, world, "2026-02-16 11:00", cohort.key, cohort, "pebbles-1", tables)
    deposits.accepted(
        diary, world, "2026-02-23 10:00", cohort.key, access="embargoed", until="2026-09-01"
    )


def _second(diary: Diary, world: World) -> None:
    named = ("ingrid", "oluwaseun")
    cohort = _cohort(2, "2026-07-13", "2026-08-17", "2027-01-29", named)
    prepare(diary, world, cohort)
    _book(diary, world, cohort, "2026-08-20", "2026-08-21 09:00")
    birds = tuple(_birds())
    _weigh(diary, world, cohort, "2026-08-24", birds[1:], "ingrid")
    # Not named in the approval yet: the breach that is explained since.
    _weigh(diary, world, cohort, "2026-08-27", birds[:1], "anselm")
    diary.at("2026-08-28 10:00", _amend, world, cohort, (*named, "anselm"))
    diary.at("2026-08-31 15:00", _grant_amendment, world, cohort)
    days = ["2026-09-03", "2026-09-17", "2026-10-01", "2026-10-15", "2026-10-29", "2026-11-05"]
    days += ["2026-11-12", "2026-11-19", "2026-11-24"]
    _sittings(
        diary, world, cohort, [(day, "few" if at % 2 else "plenty") for at, day in enumerate(days)]
    )
    storm = Sitting(
        "S10", "2026-11-17", "13:00", "13:40", "shore", birds, "watching-outside",
        missed="Storm from the south; the shore was closed to everyone but the keepers.",
    )  # fmt: skip
    sit(diary, world, cohort, storm)
    _weigh(diary, world, cohort, "2026-11-09", birds[:10], "anselm")


def _amend(world: World, cohort: Cohort, named: tuple[str, ...]) -> None:
    lead = world.people[cohort.lead]
    amendment = approvals.amend_approval(
        approval_of(world, cohort.key),
        title="May Anselm Ferreira-Whitlock weigh and watch the gentoos too?",
        case="He was left out of the people named when the second cohort was asked for.",
        starts_on=world.story.day("2026-09-01"),
        people=[world.people[key] for key in named],
        by=lead,
    )
    key = f"{cohort.key}:amendment"
    world.approvals[key] = approvals.submit_approval(amendment, by=lead)


def _grant_amendment(world: World, cohort: Cohort) -> None:
    approvals.grant_approval(
        world.approvals[f"{cohort.key}:amendment"],
        decision="An oversight, and nothing else changes.",
        deciders=deciders_of(world, "committee"),
        by=chair_of(world, "committee"),
    )
