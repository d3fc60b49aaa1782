"""Substrate choice of juvenile cuttlefish: three cohorts, closed, answered and acknowledged."""

from dataclasses import dataclass

from registry.animals import actions as animals
from registry.answers import actions as answers
from registry.demo import deposits
from registry.demo.cohorts import (
    Ask,
    Booked,
    Cohort,
    Line,
    Sitting,
    book,
    discharge,
    enrol,
    later,
    prepare,
    project_of,
    sit,
)
from registry.demo.diary import Diary
from registry.demo.tables import choices
from registry.demo.world import World

TANKS = ("43", "44", "45", "46", "47", "48")


@dataclass(frozen=True)
class _Year:
    number: int
    student: str
    opened: str
    starts: str
    ends: str
    accepted: str


_YEARS = (
    _Year(1, "jonas", "2024-01-22", "2024-02-12", "2024-06-28", "2024-07-22"),
    _Year(2, "sunniva", "2025-01-20", "2025-02-10", "2025-06-27", "2025-07-21"),
    _Year(3, "priya", "2026-01-19", "2026-02-09", "2026-06-26", "2026-07-20"),
)


def _cohort(year: _Year) -> Cohort:
    def ask(permission: str, decision: str) -> Ask:
        return Ask(
            title=f"May {('the first', 'the second', 'the third')[year.number - 1]} cohort of "
            "juvenile cuttlefish choose among three floors?",
            case="Six nursery tanks with sand, gravel and bare floor side by side, looked at by "
            "one person through the wall on eight mornings.",
            harms="None is expected; the floors are those of husbandry.",
            benefits="One floor for all nursery tanks, and fewer shoals that ink after cleaning.",
            ends=year.ends,
            decision=decision,
            limits=(
                Line("watching-outside", "cuttlefish", "juvenile", 72),
                Line("nest-material", "cuttlefish", "juvenile", 72, 4),
            ),
            permission=permission,
        )

    return Cohort(
        key=f"substrate-{year.number}",
        study="substrate",
        level="taught_masters",
        lead="oluwaseun",
        student=year.student,
        opened=year.opened,
        starts=year.starts,
        ends=year.ends,
        hours=1.0,
        procedures=("watching-outside", "nest-material"),
        places=("rearing", *TANKS),
        arms=(("three floors side by side", "cuttlefish", 6, 72),),
        asks=(
            ask("research-committee", "Harmless, and useful to every cleaning."),
            ask("university-ethics", "Agreed; the shoals are not moved for it."),
        ),
        begins=f"{later(year.starts, 1)} 09:00",
        extends=f"substrate-{year.number - 1}" if year.number > 1 else "",
    )


def write(diary: Diary, world: World) -> None:
    """Write the three cohorts into the diary, and the answer that came of them."""
    deposits.publish(
        diary, world, "2024-02-05 15:00", "substrate", 1, "The first one.", "oluwaseun"
    )
    for year in _YEARS:
        _write_year(diary, world, year)
    diary.at("2026-09-07 10:00", _answer, world)
    diary.at("2026-09-10 08:20", _acknowledge, world)
    diary.at("2026-09-14 16:00", _close, world)
    diary.at("2026-10-05 17:30", _done, world)


def _write_year(diary: Diary, world: World, year: _Year) -> None:
    cohort = _cohort(year)
    prepare(diary, world, cohort)
    first = later(year.starts, 7)
    codes = {f"C{year.number}-{tank}": tank for tank in TANKS}
    for code, tank in codes.items():
        diary.at(f"{year.starts} 08:00", _receive, world, code, tank)
    booked = Booked(
        key=cohort.key,
        wish="Six shoals of twelve juveniles, one to a tank, left where they are.",
        starts=first,
        ends=year.ends,
        groups=tuple((code, 12) for code in codes),
        places=("rearing", *TANKS),
        enrols=tuple(
            (code, "three floors side by side", tank, code) for code, tank in codes.items()
        ),
    )
    book(diary, world, cohort, booked, later(year.starts, 3))
    enrol(diary, world, cohort, booked, f"{first} 09:00")
    mornings = [later(first, 7 * week) for week in range(1, 9)]
    sessions = {mornings[at]: f"M{at + 1}" for at in (0, 3, 7)}
    for day, code in sessions.items():
        seen = tuple(codes)
        sitting = Sitting(code, day, "10:00", "10:40", "rearing", seen, "watching-outside")
        sit(diary, world, cohort, sitting)
    discharge(diary, world, cohort, f"{year.ends} 15:00")
    diary.at(f"{year.ends} 16:00", _gone, world, tuple(codes))
    tables = choices(diary.story, year.number, mornings, codes, sessions)
    deposits.deposit(
        diary, world, f"{later(year.ends, 10)} 11:00", cohort.key, cohort, "substrate-1", tables
    )
    deposits.accepted(diary, world, f"{year.accepted} 10:00", cohort.key)


def _receive(world: World, code: str, tank: str) -> None:
    world.groups[code] = animals.receive_group(
        code=f"juveniles-{code}",
        name=f"Juvenile cuttlefish {code}",
        sort="shoal",
        taxon=world.taxa["cuttlefish"],
        life_stage="juvenile",
        enclosure=world.places[tank],
        arrived_on=world.today(),
        unknown=12,
        by=world.people["isolde"],
    )


def _gone(world: World, codes: tuple[str, ...]) -> None:
    for code in codes:
        animals.leave_group(
            world.groups[code],
            sort="departed",
            happened_on=world.today(),
            note="Grown, and moved on to another collection.",
            by=world.people["isolde"],
        )


def _answer(world: World) -> None:
    answers.answer_question(
        world.questions[1],
        study=world.studies["substrate"],
        summary="Fine sand. From the second week on more than half of a shoal lies on it at ten in "
        "the morning, and once they can bury themselves most of those do. Gravel is taken a little "
        "more often than bare floor. It was so in all three years and in each of the six tanks.",
        told=answers.Told(
            done="In each of three years six tanks of twelve juveniles had sand, gravel and bare "
            "floor side by side. One person counted through the wall on eight mornings.",
            left_open="Whether they ink less on sand, and whether it is so at night.",
            analysis=world.analyses["substrate-floors"],
        ),
        sureness="Eighteen tanks over three years, eight mornings each. Which end the sand lay at "
        "was drawn by lot, so it is the sand and not the place. Whether they ink less on it was "
        "not measured.",
        evidence=[world.versions[f"substrate-{year.number}"] for year in _YEARS],
        husbandry=[
            ("Fine sand on the floor of every nursery tank", world.story.day("2026-10-05")),
            (
                "Write down each inking after a cleaning until spring",
                world.story.day("2026-11-30"),
            ),
        ],
        by=world.people["oluwaseun"],
    )


def _acknowledge(world: World) -> None:
    answers.acknowledge_answer(world.questions[1], by=world.people["bryn"])


def _close(world: World) -> None:
    for year in _YEARS:
        answers.close_project(
            project_of(world, f"substrate-{year.number}"),
            text="Six tanks were looked at on eight mornings, as planned; no animal was touched.",
            deviations="" if year.number != 2 else "One morning was looked at by the keeper.",
            learned="Watching from the side was enough; nobody had to lean over the tanks.",
            by=world.people["oluwaseun"],
        )


def _done(world: World) -> None:
    answer = world.questions[1].answers.get()
    answers.say_done(
        answer.actions.order_by("pk")[0],
        is_done=True,
        outcome="All but tank 39, which stands empty.",
        by=world.people["tam"],
    )
