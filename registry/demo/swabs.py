"""Skin swabs of lumpfish: the regulated work of the demo, counted in its yearly returns."""

from registry.approvals import actions as approvals
from registry.approvals.screens import Said
from registry.demo.cohorts import (
    Ask,
    Booked,
    Cohort,
    Line,
    book,
    discharge,
    enrol,
    later,
    prepare,
    project_of,
    use,
)
from registry.demo.diary import Diary
from registry.demo.world import World
from registry.oversight import actions as oversight
from registry.oversight.models import ReturnCategory

_ARM = "swabbed on three mornings"
_FIRST = ("bosun", "capstan", "fender", "grapnel", "halyard", "painter")
_SECOND = ("bosun", "capstan", "lanyard", "thole")
_AGAIN = ("bosun", "capstan")
_WORDS = {4: "four", 6: "six"}
_ENDED = "2025-05-16"


def _ask(permission: str, decision: str, ends: str, animals: int, reuse: str) -> Ask:
    return Ask(
        title=f"May {_WORDS[animals]} lumpfish be swabbed on three mornings of one week?",
        case="Each is held in a wet hand under water and its side is wiped once, three times in a "
        "week. The veterinary surgeon asked the inspector: together it is a regulated procedure.",
        harms="Slime is lost where the swab went, and the fish is held three times.",
        benefits="A sign of trouble in a tank before fins fray.",
        ends=ends,
        decision=decision,
        limits=(Line("skin-swab", "lumpfish", "adult", animals, 3),),
        permission=permission,
        severity=1,
        reuse=reuse if permission == "licence" else "none",
    )


def _cohort(number: int, opened: str, starts: str, ends: str, animals: int) -> Cohort:
    reuse = "kind" if number > 1 else "none"
    return Cohort(
        key=f"swabs-{number}",
        study="swabs",
        level="research_masters",
        lead="ingrid",
        student="priya",
        opened=opened,
        starts=starts,
        ends=ends,
        hours=0.5,
        procedures=("skin-swab",),
        places=("14",),
        arms=((_ARM, "lumpfish", animals, animals),),
        asks=(
            _ask("research-committee", "Three and no more.", ends, animals, reuse),
            _ask("university-ethics", "Agreed, with the end-point.", ends, animals, reuse),
            _ask("licence", "As the authority granted it; mild.", ends, animals, reuse),
        ),
        begins=f"{starts} 09:00",
        severity=1,
        extends=f"swabs-{number - 1}" if number > 1 else "",
        terms="within",
        remarks="Few fish, and no more is claimed than that three swabs of one fish agree.",
        not_needed=("owners-consent", "risk-assessment"),
    )


def write(diary: Diary, world: World) -> None:
    """Write both weeks of swabs into the diary, and what was reported of the first."""
    first = _cohort(1, "2025-02-10", "2025-03-17", "2025-06-27", 6)
    _week(diary, world, first, _FIRST, ("2025-04-07", "2025-04-09", "2025-04-11"), _ENDED)
    second = _cohort(2, "2026-07-20", "2026-08-31", "2026-12-18", 4)
    diary.at("2026-08-31 11:00", _recovered, world, second)
    _week(diary, world, second, _SECOND, ("2026-09-14", "2026-09-16", "2026-09-18"), "2026-10-02")
    # More than a year on, so that the year is over whenever the story is told.
    diary.at("2026-06-01 10:00", _publish, world, "")
    diary.at("2026-06-15 09:40", _never_swabbed, world)
    note = "Halyard had slipped the net on all three mornings; the entries were of Painter."
    diary.at("2026-06-22 10:00", _publish, world, note)


def _week(
    diary: Diary,
    world: World,
    cohort: Cohort,
    fish: tuple[str, ...],
    days: tuple[str, ...],
    ended: str,
) -> None:
    prepare(diary, world, cohort)
    diary.at(f"{later(cohort.opened, 7)} 16:00", _regulated, world, cohort)
    booked = Booked(
        key=cohort.key,
        wish="Lumpfish of tank 14 that are told apart and feed well.",
        starts=cohort.starts,
        ends=cohort.ends,
        animals=fish,
        places=("14",),
        contacts=3,
        enrols=tuple((key, _ARM, key, key.capitalize()) for key in fish),
    )
    book(diary, world, cohort, booked, cohort.starts)
    enrol(diary, world, cohort, booked, f"{later(cohort.starts, 1)} 09:00")
    for day in days:
        for at, key in enumerate(fish):
            moment = f"{day} 08:{10 + 3 * at}"
            diary.at(f"{day} 12:00", _swabbed, world, cohort, key.capitalize(), moment)
    diary.at(f"{days[-1]} 15:00", _said, world, cohort)
    discharge(diary, world, cohort, f"{ended} 16:00", severity=1)


def _regulated(world: World, cohort: Cohort) -> None:
    approvals.screen_procedure(
        project_of(world, cohort.key),
        procedure=world.procedure("skin-swab"),
        taxon=world.taxa["lumpfish"],
        life_stage="adult",
        told=Said("uk", "scientific", "may reach"),
        answer="regulated",
        reason="Asked the inspector: three swabs of one fish in a week count as one series, and "
        "together they reach the threshold. Only under the licence.",
        by=world.people["fergus"],
    )


def _recovered(world: World, cohort: Cohort) -> None:
    for key in _AGAIN:
        approvals.decide_reuse(
            project_of(world, cohort.key),
            animal=world.animals[key],
            has_recovered=True,
            was_examined=True,
            reason="Looked at in the hand: skin whole, feeds well, sixteen months of rest.",
            by=world.people["fergus"],
        )


def _swabbed(world: World, cohort: Cohort, code: str, moment: str) -> None:
    use(world, cohort, code, "skin-swab", moment, severity=1, note="Left side, 15 seconds.")


def _said(world: World, cohort: Cohort) -> None:
    oversight.say_purpose(
        project_of(world, cohort.key),
        purpose=ReturnCategory.objects.get(code="applied-welfare"),
        origin=ReturnCategory.objects.get(code="born-not-authorised"),
        by=world.people[cohort.lead],
    )


def _publish(world: World, note: str) -> None:
    year = world.story.day(_ENDED).year
    oversight.publish_return(year=year, note=note, by=world.people["isolde"])


def _never_swabbed(world: World) -> None:
    for one in world.enrolments["swabs-1:Halyard"].uses.all():
        oversight.reverse_use(
            one,
            reason="Halyard slipped the net; the line in the book was Painter's, written twice.",
            by=world.people["priya"],
        )
