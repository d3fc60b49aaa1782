"""What others make of it: answers from data held, breaches explained, concerns, and the audits."""

from datetime import date, timedelta

from django.utils import timezone

from registry.animals.models import Taxon
from registry.answers import actions as answers
from registry.demo.cohorts import project_of
from registry.demo.diary import Diary
from registry.demo.world import World
from registry.oversight import actions as oversight
from registry.oversight.models import Breach
from registry.people.models import Training
from registry.permissions import Visitor

SEED = "4b7e" * 16
"""Of the audit's draw: a demo is the same whenever it is made."""
LAST = "Hands-on contacts of the year"
"""The audit that is opened last: where it is, the demo was made to its end."""


def write(diary: Diary, world: World) -> None:
    """Write into the diary what was answered, explained, raised and audited."""
    diary.at("2025-04-01 10:00", _from_held_15, world)
    diary.at("2025-04-03 08:40", _acknowledge, world, 15)
    diary.at("2025-05-12 10:00", _from_held_8, world)
    diary.at("2025-05-14 09:00", _acknowledge, world, 8)
    diary.at("2025-06-02 09:30", _audit_of_first_year, world)
    diary.at("2026-06-18 14:00", _explain_morwen, world)
    diary.at("2026-09-02 16:00", _explain_fen, world)
    diary.at("2026-09-15 11:00", _nameless_concern, world)
    diary.at("2026-11-15 18:20", _concern_of_tam, world)
    diary.at("2026-11-15 18:35", _harm_in_tank_5, world)
    diary.at("2026-11-16 09:10", _take_up, world)
    diary.at("2026-11-16 11:30", _assess_tank_5, world)
    diary.at("2026-11-17 09:00", _rules_for_lumpfish, world)
    diary.at("2026-11-23 20:10", _audit_of_contacts, world)


def _from_held_15(world: World) -> None:
    answers.answer_from_held(
        world.questions[15],
        reason="The egg string study logs the flow of every nursery tank; nobody needs to measure.",
        summary="Not any more. Since each tank has its own valve the far end gets what it is set "
        "to, within a tenth. Before the valves were set it was so: the look was right.",
        sureness="Twelve tanks over one season, some 35 readings each. The air line itself was not "
        "measured, only the water that it moves.",
        evidence=[world.versions["eggs-1c"]],
        by=world.people["isolde"],
    )


def _from_held_8(world: World) -> None:
    answers.answer_from_held(
        world.questions[8],
        reason="A third of the first cohort's strings were cut, by no plan; the tables tell which.",
        summary="As far as one season tells, yes: of strings that were cut about as many eggs "
        "hatched as of whole ones in the same flow. Cut where you must.",
        sureness="Weak: which strings were cut was nobody's draw, and twelve tanks are few. A "
        "difference of one egg in ten would have been missed.",
        told=answers.Told(
            done="Thirty-six strings hung in twelve tanks; fourteen of them had been cut.",
            left_open="Whether a clean knife matters.",
            analysis=world.analyses["eggs-cut"],
        ),
        evidence=[world.versions["eggs-1c"]],
        by=world.people["isolde"],
    )


def _acknowledge(world: World, n: int) -> None:
    answers.acknowledge_answer(world.questions[n], by=world.people["tam"])


# ------------------------------------------------------------------------------------- breaches


def _breaches(world: World, key: str) -> list[Breach]:
    return list(project_of(world, key).breaches.filter(state="opened").order_by("pk"))


def _explain_morwen(world: World) -> None:
    for breach in _breaches(world, "rays-1"):
        oversight.explain_breach(
            breach,
            explanation="She lay by the steps and the student meant to spare her a later netting. "
            "She was out of the water for under a minute and fed that evening. The student has "
            "read house rule 6 with the keeper, and the net hangs in the keeper's room now.",
            by=world.people["ingrid"],
        )
        oversight.settle_breach(breach, by=world.people["edda"])


def _explain_fen(world: World) -> None:
    for breach in _breaches(world, "pebbles-2"):
        oversight.explain_breach(
            breach,
            explanation="He was inducted and is a member, and I left his name out of the approval. "
            "The committee added it from 1 September. Fen walked over the scale by herself.",
            by=world.people["ingrid"],
        )


# ------------------------------------------------------------------------------------- concerns


def _nameless_concern(world: World) -> None:
    concern, _ = oversight.raise_concern(
        text="The hide's door slams and the birds nearest look up each time.",
        project=project_of(world, "pebbles-2"),
        is_anonymous=True,
        by=Visitor(),
    )
    oversight.take_up_concern(concern, by=world.people["fergus"])
    oversight.resolve_concern(
        concern,
        reason="Heard it myself. The door has a felt strip since this afternoon.",
        by=world.people["fergus"],
    )


def _concern_of_tam(world: World) -> None:
    concern, _ = oversight.raise_concern(
        text="The lumpfish of tank 5 hang at the surface since they were netted twice last week, "
        "and one is dead this evening. The fins of others look frayed.",
        project=project_of(world, "lumpfish-1"),
        by=world.people["tam"],
    )
    world.concerns["tank 5"] = concern


def _harm_in_tank_5(world: World) -> None:
    project = project_of(world, "lumpfish-1")
    oversight.report_event(
        project,
        sort="death",
        text="One lumpfish of tank 5 lay dead at the outflow at six. It was taken out and lies in "
        "the cold room for the veterinary surgeon; the others have been left alone since.",
        happened_at=timezone.now() - timedelta(minutes=40),
        by=world.people["tam"],
    )
    oversight.log_time(
        project,
        minutes=50,
        happened_on=timezone.localdate(),
        note="Looking through tank 5",
        by=world.people["tam"],
    )


def _take_up(world: World) -> None:
    concern = world.concerns["tank 5"]
    oversight.take_up_concern(concern, by=world.people["fergus"])
    oversight.ask_raiser(
        concern,
        text="How many hung at the surface, and since which day?",
        by=world.people["fergus"],
    )
    oversight.reply_concern(
        concern, text="Four of them, since the second netting.", by=world.people["tam"]
    )


def _assess_tank_5(world: World) -> None:
    vet = world.people["fergus"]
    oversight.assess_event(
        project_of(world, "lumpfish-1").adverse_events.get(),
        severity=1,
        course="watch",
        assessment="Frayed fins, no parasite, empty gut, no sign of long suffering: mild, as I"
        " judge it. Two nettings in a week were too many for this tank; it is watched morning and"
        " evening, and not netted until I say so.",
        by=vet,
    )
    oversight.check_welfare(
        world.concerns["tank 5"],
        text="Looked at for half an hour with the lamp off: all feed, one still hangs.",
        course="watch",
        by=vet,
    )


def _rules_for_lumpfish(world: World) -> None:
    oversight.set_rest_rule(
        taxon=Taxon.objects.get(scientific_name="Cyclopterus lumpus"),
        most=1,
        days=7,
        why="After two nettings in a week the lumpfish of tank 5 hung at the surface. A week "
        "between, until somebody shows that less will do. Our own experience, no source.",
        from_on=timezone.localdate(),
        by=world.people["fergus"],
    )
    oversight.set_training_rule(
        procedure=world.procedure("netting"),
        training=Training.objects.get(code="netting-moving"),
        why="The fins of tank 5 were frayed by the net. Whoever nets is shown first how a soft net "
        "and a bag of water are used; the house's code for netting says the same from now on.",
        from_on=timezone.localdate(),
        by=world.people["fergus"],
    )


# --------------------------------------------------------------------------------------- audits


def _audit_of_first_year(world: World) -> None:
    auditor, steward = world.people["edda"], world.people["noor"]
    audit = oversight.open_audit(
        title="The first year of the register",
        scope="Whether approvals, enrolments and versions of 2024 agree with each other.",
        by=auditor,
    )
    point = oversight.write_point(
        audit,
        text="Version 1.1.0 of the first egg strings was withdrawn after five weeks. How was the "
        "clock fault found, and who was told?",
        addressee=steward,
        by=auditor,
    )
    oversight.answer_point(
        point,
        answer="Jonas Achterberg saw that the lamp log and the flow log disagreed. No one had "
        "downloaded the version; the two supervisors and the keeper were told that day.",
        by=steward,
    )
    oversight.settle_point(point, by=auditor)


def _audit_of_contacts(world: World) -> None:
    auditor = world.people["edda"]
    audit = oversight.open_audit(
        title=LAST,
        scope="Hands-on contacts of every animal from January on, against limits and house rules.",
        from_on=date(2026, 1, 1),
        to_on=timezone.localdate(),
        by=auditor,
    )
    oversight.draw_uses(audit, how="chance", size=8, seed=SEED, by=auditor)
    oversight.draw_uses(audit, how="passed", size=4, by=auditor)
    oversight.confirm_use(
        audit.sampled.all()[0],
        evidence="The keeper's diary of that day, and the row in the data.",
        by=auditor,
    )
    netted = _breaches(world, "lumpfish-1")[0]
    oversight.write_point(
        audit,
        text="Tank 5 was netted eleven times where ten were allowed, twice of them outside the "
        "schedule. Who decided that, and on what day was the count looked at?",
        addressee=world.people["ingrid"],
        breach=netted,
        due_on=timezone.localdate() + timedelta(days=14),
        by=auditor,
    )
    parted = _breaches(world, "seahorses-1")[0]
    point = oversight.write_point(
        audit,
        text="The female of pair B bore a contact more than her booking allows. Explain it.",
        addressee=world.people["oluwaseun"],
        breach=parted,
        by=auditor,
    )
    oversight.answer_point(
        point,
        answer="The pane slipped and the pair was parted again on the same morning, which counts "
        "as another contact. The breach will be explained by Friday.",
        by=world.people["oluwaseun"],
    )
