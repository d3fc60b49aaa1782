"""Seahorse pair greeting: four pairs collect, and an amendment asks for two more."""

from registry.approvals import actions as approvals
from registry.approvals.screens import Said
from registry.demo.cohorts import (
    Ask,
    Booked,
    Cohort,
    Line,
    Sitting,
    approval_of,
    book,
    enrol,
    later,
    prepare,
    project_of,
    sit,
    use,
)
from registry.demo.diary import Diary
from registry.demo.world import World
from registry.oversight import actions as oversight

_ARM = "mornings with and without a parting"
_PAIRS = ("a", "b", "c", "d")
_CODES = {
    f"pair-{pair}-{sex}": f"{pair.upper()}{nth}"
    for pair in _PAIRS
    for nth, sex in enumerate(("female", "male"), 1)
}
_CONDITIONS = (
    ("Stop parting a pair that does not greet on two mornings running", None),
    ("A keeper is present at each netting; initials on the sheet", None),
    ("Session sheets of the first month to the committee", "2026-03-06"),
)
_SCREENED = (
    ("watching-screened", "none", ""),
    ("netting", "below", ""),
    (
        "parting-pair",
        "may reach",
        (
            "Asked the inspector on 19 January: up to 40 minutes, and not for a pair that has not "
            "greeted the day before. Longer than that is referred again."
        ),
    ),
)


def _ask(permission: str, decision: str) -> Ask:
    return Ask(
        title="May four pairs of seahorses be parted for up to 40 minutes?",
        case="Each pair is parted by a clear pane on mornings drawn by lot, and its next greeting "
        "is watched from behind the screen. Asked for by the keepers, question 18.",
        harms="A missed morning greeting, at worst a missed feed. Netting once each for "
        "photographs of the snout and back.",
        benefits="Tells keepers whether moving one of a pair for treatment breaks the pair.",
        ends="2027-02-28",
        decision=decision,
        limits=(
            Line("watching-screened", "seahorse", "adult", 8),
            Line("parting-pair", "seahorse", "adult", 8, 12),
            Line("netting", "seahorse", "adult", 8, 2),
        ),
        permission=permission,
        conditions=_CONDITIONS if permission == "research-committee" else (),
        severity=1,
    )


COHORT = Cohort(
    key="seahorses-1",
    study="seahorses",
    level="research_masters",
    lead="oluwaseun",
    student="theo",
    opened="2026-01-13",
    starts="2026-02-02",
    ends="2027-02-26",
    hours=1.5,
    procedures=("watching-screened", "parting-pair", "netting"),
    places=("21",),
    arms=((_ARM, "seahorse", 4, 8),),
    asks=(
        _ask("research-committee", "The parting is short and stops by itself."),
        _ask("university-ethics", "Agreed, with the rule for a pair that does not greet."),
    ),
    begins="2026-02-02 10:00",
    severity=1,
    terms="within",
    remarks="The unit is the pair, so 8 animals are 4 units: only a very large effect is found.",
)


def write(diary: Diary, world: World) -> None:
    """Write the cohort into the diary, to the amendment that waits for its decision."""
    prepare(diary, world, COHORT)
    diary.at("2026-01-20 16:00", _screen, world)
    booked = Booked(
        key=COHORT.key,
        wish="Pairs A to D, who have lived together since they came.",
        starts="2026-02-03",
        ends=COHORT.ends,
        animals=tuple(_CODES),
        places=("21",),
        contacts=6,
        note="Before opening only; six contacts each until the first month is seen.",
        enrols=tuple((key, _ARM, f"pair {code[0]}", code) for key, code in _CODES.items()),
    )
    book(diary, world, COHORT, booked, "2026-02-02")
    enrol(diary, world, COHORT, booked, "2026-02-03 09:00")
    for code in _CODES.values():
        _contact(diary, world, code, "netting", "2026-02-10", "Photographs of snout and back.")
    for at, pair in enumerate(_PAIRS):
        for nth in range(5):
            day = later("2026-02-24", 49 * nth + 7 * at)
            for number in (1, 2):
                _contact(
                    diary, world, f"{pair.upper()}{number}", "parting-pair", day, "40 minutes."
                )
    note = "Parted again on the same morning: the pane had slipped."
    _contact(diary, world, "B1", "parting-pair", "2026-10-20", note)
    days = [later("2026-02-17", 21 * nth) for nth in range(13)] + ["2026-11-24"]
    for at, day in enumerate(days):
        pair = _PAIRS[at % 4].upper()
        sitting = Sitting(
            f"G{at + 1:02}", day, "15:45", "16:15", "21", (f"{pair}1", f"{pair}2"),
            "watching-screened", notes="Greeted within the half hour." if at % 3 else "",
        )  # fmt: skip
        sit(diary, world, COHORT, sitting)
    diary.at("2026-03-05 12:00", _evidence, world)
    diary.at("2026-11-18 10:00", _amend, world)
    diary.at("2026-11-19 09:30", _wish, world)
    diary.at(
        "2026-11-19 14:10", _said, world, "fergus", "No objection. Weigh the new animals first."
    )
    note = "14 hours can be found, before opening only."
    diary.at("2026-11-20 08:20", _said, world, "bryn", note)


def _contact(diary: Diary, world: World, code: str, procedure: str, day: str, note: str) -> None:
    diary.at(f"{day} 12:00", _contacted, world, code, procedure, f"{day} 07:40", note)


def _contacted(world: World, code: str, procedure: str, moment: str, note: str) -> None:
    use(world, COHORT, code, procedure, moment, note=note)


def _screen(world: World) -> None:
    for code, effect, reason in _SCREENED:
        approvals.screen_procedure(
            project_of(world, COHORT.key),
            procedure=world.procedure(code),
            taxon=world.taxa["seahorse"],
            life_stage="adult",
            told=Said("uk", "scientific", effect),
            answer="not regulated",
            reason=reason,
            by=world.people["fergus"],
        )


def _said(world: World, who: str, text: str) -> None:
    amendment = world.approvals[f"{COHORT.key}:amendment"]
    approvals.comment_on(amendment, text=text, by=world.people[who])


def _evidence(world: World) -> None:
    approval = approval_of(world, COHORT.key)
    approvals.give_evidence(
        approval,
        condition=approval.conditions.get(text=_CONDITIONS[2][0]),
        evidence="Nine sheets, sent to the committee's desk.",
        by=world.people["oluwaseun"],
    )


def _amend(world: World) -> None:
    lead = world.people["oluwaseun"]
    amendment = approvals.amend_approval(
        approval_of(world, COHORT.key),
        title="May the seahorse greeting study use four more animals?",
        case="Eight short-snouted seahorses are watched at their morning greeting. Four more, two "
        "pairs, would make twelve. Nothing else in the plan changes. With 4 pairs the study finds "
        "only a very large effect; with 6 it finds the size seen so far 8 times in 10.",
        harms="Netting once each for photographs of the snout and back. Pairs are parted for up to "
        "40 minutes on 15 mornings; two of eight stopped greeting for a day. Two of the four new "
        "animals arrived on 12 October and are past their 28 days of rest. Most likely worst "
        "effect on one animal: a missed morning feed.",
        benefits="Tells keepers whether moving one of a pair for treatment breaks the pair. No "
        "other data held here can answer it. If it works, treatment tanks take pairs from spring.",
        starts_on=world.story.day("2026-12-01"),
        by=lead,
    )
    for line in list(amendment.limits.all()):
        approvals.drop_limit(amendment, limit=line, by=lead)
        approvals.add_limit(
            amendment,
            taxon=line.taxon,
            life_stage=line.life_stage,
            procedure=line.procedure,
            max_animals=12,
            max_contacts_each=line.max_contacts_each,
            by=lead,
        )
    approvals.write_item(
        amendment,
        code="PREPARE 1",
        text="Two databases, with the words seahorse and greeting; nothing on parting pairs.",
        by=lead,
    )
    world.approvals[f"{COHORT.key}:amendment"] = approvals.submit_approval(amendment, by=lead)


def _wish(world: World) -> None:
    oversight.request_booking(
        project_of(world, COHORT.key),
        wish="Pairs E and F and the room behind the screen, if the committee agrees. They were "
        "weighed last week; the mornings stay as they are.",
        starts_on=world.story.day("2026-12-01"),
        ends_on=world.story.day(COHORT.ends),
        by=world.people["theo"],
    )
