"""Aeration and the hatching of cuttlefish egg strings: three cohorts, the third with faults."""

import csv
import io
from dataclasses import dataclass

from archive import actions as archive
from archive.extending.lines import read
from registry.animals import actions as animals
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
    discharge,
    enrol,
    later,
    prepare,
    project_of,
    sit,
    use,
)
from registry.demo.deposits import Tables
from registry.demo.diary import Diary
from registry.demo.tables import FLOW_OF, NURSERY, Season, written
from registry.demo.world import World
from registry.oversight import actions as oversight
from registry.permissions import Part
from registry.projects import actions as projects

FREE_DAY = "2026-11-15"
"""The day that no approval of the third cohort covers, and on which strings were looked at."""
LOST = ("39", "2026-09-14")
_DRY = ("eggs-3", LOST[0])
POOLED = "Hatchlings of both cohorts"
STRANGER = "3-41"
"""A tag that was misread, or a string that nobody enrolled."""

_PLACES = ("nursery", *NURSERY)
_LIMITS = (
    Line("egg-watching", "cuttlefish", "egg", 540),
    Line("tank-flow", "cuttlefish", "egg", 540, 12),
)


@dataclass(frozen=True)
class _Year:
    """What differs between the cohorts."""

    number: int
    student: str
    lead: str
    opened: str
    starts: str
    begins: str
    ends: str
    hung: tuple[str, ...]
    blocks: tuple[tuple[str, ...], ...]
    approved_to: str
    conditions: tuple[tuple[str, str | None], ...]
    not_on: str = ""


_YEARS = (
    _Year(
        1, "jonas", "ingrid", "2024-04-14", "2024-05-20", "2024-05-20 09:00", "2024-12-09",
        ("2024-05-27", "2024-07-08", "2024-08-12", "2024-09-23"),
        (("31", "35", "39"), ("32", "36", "40"), ("33", "37", "41"), ("34", "38", "42")),
        "2025-02-28",
        (
            ("Water flow log of each tank, weekly", "2024-06-28"),
            ("No tank is set anew while a string hangs in it", None),
            ("The keeper is told of each string that is lost, the same day", None),
        ),
    ),
    _Year(
        2, "priya", "ingrid", "2025-04-07", "2025-05-12", "2025-05-12 09:00", "2025-11-28",
        ("2025-05-26", "2025-06-30", "2025-08-04", "2025-09-15"),
        (("34", "37", "41"), ("31", "36", "42"), ("32", "38", "39"), ("33", "35", "40")),
        "2026-02-28",
        (("Water flow log of each tank, weekly", "2025-06-27"),),
    ),
    _Year(
        3, "mirela", "ingrid", "2026-04-06", "2026-05-11", "2026-05-11 09:00", "2026-12-18",
        ("2026-05-22", "2026-06-26", "2026-08-07", "2026-09-25"),
        (("31", "35", "40"), ("32", "36", "41"), ("33", "37", "39"), ("34", "38", "42")),
        "2027-02-28",
        (
            ("Induction of the student at the nursery before the first string is hung",
             "2026-05-11"),
            ("Water flow log, tanks 31 to 42, one sheet a week", "2026-11-27"),
            ("Two tanks of one flow losing half their live eggs stops the study", None),
        ),
        FREE_DAY,
    ),
)  # fmt: skip


def _cohort(year: _Year) -> Cohort:
    def ask(permission: str, to: str, decision: str) -> Ask:
        return Ask(
            title=f"May a {_NTH[year.number]} cohort of egg strings hang in three flows?",
            case="Twelve tanks at still, gentle or brisk flow, three strings in each, looked at "
            "twice a week through the wall. Asked for by the keepers, question 12.",
            harms="A string in water that hardly moves may lose eggs, as it does in husbandry now. "
            "Brisk flow may tear a string from its line.",
            benefits="One figure for the air of every nursery tank, and no forty hatchlings lost.",
            ends=to,
            decision=decision,
            limits=_LIMITS,
            permission=permission,
            conditions=year.conditions if permission == "research-committee" else (),
            not_on=year.not_on,
        )

    return Cohort(
        key=f"eggs-{year.number}",
        study="eggs",
        level="research_masters",
        lead=year.lead,
        student=year.student,
        opened=year.opened,
        starts=year.starts,
        ends=year.ends,
        hours=3.5,
        procedures=("egg-watching", "tank-flow"),
        places=_PLACES,
        arms=tuple((flow, "cuttlefish", 4, 180) for flow in ("still", "gentle", "brisk")),
        asks=(
            ask("research-committee", year.approved_to, "The unit is the tank, and the cost fair."),
            ask("university-ethics", later(year.approved_to, 31), "Embryos in the egg; agreed."),
        ),
        begins=year.begins,
        extends=f"eggs-{year.number - 1}" if year.number > 1 else "",
    )


_NTH = {1: "first", 2: "second", 3: "third"}


def write(diary: Diary, world: World) -> None:
    """Write the three cohorts into the diary."""
    for year in _YEARS:
        cohort = _cohort(year)
        season = Season(diary.story, year.number, year.hung, year.blocks)
        prepare(diary, world, cohort)
        for at, hung in enumerate(year.hung):
            _hang(diary, world, cohort, season, hung, year.blocks[at], year.ends)
        for hung in year.hung[:-1]:
            _out(diary, world, cohort, season, hung)
        _DATA[year.number](diary, world, cohort, season)
    _dictionaries(diary, world)


def _dictionaries(diary: Diary, world: World) -> None:
    for number, moment, notes in (
        (1, "2024-05-06 14:00", "The first one."),
        (
            2,
            "2025-05-06 14:00",
            "Flow is read every 5 minutes: readings are kept. Mantle length is in mm.",
        ),
        (3, "2026-05-06 14:00", "Mantle by photograph, no netting: how it was measured is kept."),
    ):
        deposits.publish(diary, world, moment, "eggs", number, notes, "ingrid")


def _hang(
    diary: Diary,
    world: World,
    cohort: Cohort,
    season: Season,
    hung: str,
    tanks: tuple[str, ...],
    ends: str,
) -> None:
    strings = season.codes_of(hung)
    for one in strings:
        diary.at(f"{hung} 08:00", _receive, world, one["code"], one["tank"], one["fertile"])
    booked = Booked(
        key=f"{cohort.key}:{hung}",
        wish=f"Nine egg strings of this laying week, three each in tanks {', '.join(tanks)}.",
        starts=hung,
        ends=ends,
        groups=tuple((one["code"], one["fertile"]) for one in strings),
        places=("nursery", *tanks),
        enrols=tuple((one["code"], one["flow"], one["tank"], one["code"]) for one in strings),
    )
    book(diary, world, cohort, booked, hung)
    enrol(diary, world, cohort, booked, f"{hung} 16:30")
    for one in strings[::3]:
        moment = f"{later(hung, 1)} 09:00"
        diary.at(f"{later(hung, 1)} 12:00", use, world, cohort, one["code"], "tank-flow", moment)


def _out(diary: Diary, world: World, cohort: Cohort, season: Season, hung: str) -> None:
    """Write that the strings of a laying week are over: discharged, and the young moved on."""
    codes = [one["code"] for one in season.codes_of(hung) if (cohort.key, one["tank"]) != _DRY]
    diary.at(f"{later(hung, 70)} 16:00", _is_out, world, cohort, hung, codes)


def _is_out(world: World, cohort: Cohort, hung: str, codes: list[str]) -> None:
    for code in codes:
        oversight.discharge_animal(
            world.enrolments[f"{cohort.key}:{code}"],
            left_on=world.today(),
            actual_severity=0,
            by=world.people[cohort.student],
        )
        _leave(world, code)
    booking = world.bookings[f"{cohort.key}:{hung}"]
    oversight.release_booking(booking, by=world.people["isolde"])


def _leave(world: World, code: str) -> None:
    animals.leave_group(
        world.groups[code],
        sort="departed",
        happened_on=world.today(),
        note="Hatched or over; the young were moved on.",
        by=world.people["isolde"],
    )


def _receive(world: World, code: str, tank: str, eggs: int) -> None:
    world.groups[code] = animals.receive_group(
        code=f"string-{code}",
        name=f"Egg string {code}",
        sort="clutch",
        taxon=world.taxa["cuttlefish"],
        life_stage="egg",
        enclosure=world.places[tank],
        arrived_on=world.today(),
        unknown=eggs,
        by=world.people["isolde"],
    )


def _sessions(diary: Diary, world: World, cohort: Cohort, season: Season, days: list[str]) -> None:
    """Write sessions in the nursery, each with one string of every tank that is hung by then."""
    for at, day in enumerate(days, 1):
        seen = [
            one["code"]
            for one in season.strings
            if one["hung"] < day
            and int(one["code"][2:]) % 3 == at % 3
            and day <= later(one["hung"], one["days"])
            and not (one["tank"] == LOST[0] and cohort.key == "eggs-3" and day >= LOST[1])
        ]
        sit(
            diary,
            world,
            cohort,
            Sitting(f"N{at:02}", day, "14:00", "15:30", "nursery", tuple(seen), "egg-watching"),
        )


# --------------------------------------------------------------------------------- first cohort


def _first(diary: Diary, world: World, cohort: Cohort, season: Season) -> None:
    days = ["2024-06-10", "2024-07-22", "2024-09-02", "2024-10-14"]
    _sessions(diary, world, cohort, season, days)
    diary.at("2024-06-26 11:00", _evidence, world, cohort.key, 0, "Four sheets, nursery folder.")
    discharge(diary, world, cohort, "2024-12-09 15:00")
    diary.at("2024-12-09 16:00", _gone, world, season)
    half = season.tables(until="2024-09-30", dictionary=1)
    deposits.deposit(
        diary, world, "2024-12-13 11:00", "eggs-1a", cohort, "eggs-1", half, "Up to September."
    )
    deposits.accepted(diary, world, "2024-12-19 10:00", "eggs-1a")
    whole = season.tables(until="2024-12-09", dictionary=1, has_clock_fault=True)
    deposits.deposit(
        diary, world, "2025-01-22 16:00", "eggs-1b", cohort, "eggs-1", whole, "The whole season."
    )
    deposits.accepted(diary, world, "2025-01-30 10:00", "eggs-1b")
    right = season.tables(until="2024-12-09", dictionary=1)
    deposits.deposit(
        diary, world, "2025-03-04 09:30", "eggs-1c", cohort, "eggs-1", right,
        "The logger of tank 36 ran an hour wrong for nine days; its flows are read anew.",
    )  # fmt: skip
    deposits.accepted(diary, world, "2025-03-06 10:00", "eggs-1c")
    deposits.withdrawn(
        diary, world, "2025-03-06 10:30", "eggs-1b", "eggs-1c",
        "One logger was an hour wrong for nine days, so that the flows of tank 36 are half of what "
        "they were. Its page and its reason stay.",
    )  # fmt: skip


def _gone(world: World, season: Season) -> None:
    for one in season.codes_of(season.hung[-1]):
        _leave(world, one["code"])


def _evidence(world: World, key: str, nth: int, said: str) -> None:
    approval = approval_of(world, key)
    condition = approval.conditions.order_by("pk")[nth]
    lead = project_of(world, key).members.live().get(part=Part.LEAD).person
    approvals.give_evidence(approval, condition=condition, evidence=said, by=lead)


# -------------------------------------------------------------------------------- second cohort


def _second(diary: Diary, world: World, cohort: Cohort, season: Season) -> None:
    days = ["2025-06-09", "2025-07-21", "2025-09-01", "2025-10-13"]
    _sessions(diary, world, cohort, season, days)
    diary.at("2025-06-25 11:00", _evidence, world, cohort.key, 0, "Four sheets, nursery folder.")
    discharge(diary, world, cohort, "2025-11-28 15:00")
    diary.at("2025-11-28 16:00", _gone, world, season)
    tables = season.tables(until="2025-11-28", dictionary=2)
    deposits.deposit(diary, world, "2026-01-14 10:00", "eggs-2", cohort, "eggs-2", tables)
    deposits.accepted(diary, world, "2026-01-21 10:00", "eggs-2")
    diary.at("2026-02-03 11:00", _propose, world)
    diary.at("2026-02-05 09:30", _pool, world)
    deposits.pooled(
        diary, world, "2026-02-06 14:00", "eggs-pooled", cohort, POOLED,
        "Both cohorts in millimetres, for whoever measures the third.",
    )  # fmt: skip
    deposits.accepted(diary, world, "2026-02-11 10:00", "eggs-pooled")


def _propose(world: World) -> None:
    """Let the second student say how the first one's mantle lengths are read."""
    world.mappings["eggs"] = archive.propose_mapping(
        world.dictionaries["eggs-2"],
        old=world.dictionaries["eggs-1"],
        old_table="hatch",
        table="hatch",
        rules=read("convert mantle_cm from cm to mm\nrename mantle_cm to mantle_length"),
        reason="The same ruler in the same dish: Jonas read its centimetres, I its millimetres. "
        "Ten hatchlings were read both ways in May and agreed to the millimetre.",
        by=world.people["priya"],
    )


def _pool(world: World) -> None:
    """Let the data steward review the rules, and the supervisor pool both cohorts by them."""
    archive.accept_mapping(world.mappings["eggs"], by=world.people["noor"])
    sources = [world.versions["eggs-1c"], world.versions["eggs-2"]]
    for table, title in (
        ("hatch", POOLED),
        ("checks", "Looks at the strings, both cohorts"),
    ):
        archive.pool_cohorts(
            world.studies["eggs"],
            table=table,
            sources=sources,
            title=title,
            by=world.people["ingrid"],
        )


# --------------------------------------------------------------------------------- third cohort


def _third(diary: Diary, world: World, cohort: Cohort, season: Season) -> None:
    diary.at("2026-05-12 10:00", _hand_over, world, cohort)
    days = ["2026-06-08", "2026-07-20", "2026-08-31", "2026-10-12", "2026-11-02", "2026-11-16"]
    # Two that are still to come: today, and in a week.
    days += ["2026-11-24"]
    _sessions(diary, world, cohort, season, days)
    diary.at("2026-05-11 08:30", _evidence, world, cohort.key, 0, "Given on 13 April; see people.")
    diary.at(f"{LOST[1]} 08:40", _lose, world, cohort, season)
    tables = season.tables(until="2026-11-23", dictionary=3, lost=LOST, measured_until="2026-10-12")
    deposits.deposit(
        diary, world, "2026-11-23 17:42", "eggs-3", cohort, "eggs-3", _with_faults(world, tables),
        "Tank 39 found empty of water at 08:20 on 14 September, all three strings dead, cause "
        "unknown. Told Tam at once.",
    )  # fmt: skip


def _hand_over(world: World, cohort: Cohort) -> None:
    """Let another supervisor lead from now on, and let the first one stay beside."""
    project = world.projects[cohort.key]
    by = world.people["ingrid"]
    projects.assign_member(project, person=world.people["oluwaseun"], part=Part.LEAD, by=by)
    projects.assign_member(
        project, person=by, part=Part.CO_SUPERVISOR, by=world.people["oluwaseun"]
    )


def _lose(world: World, cohort: Cohort, season: Season) -> None:
    for one in season.strings:
        if one["tank"] != LOST[0]:
            continue
        oversight.withdraw_animal(
            world.enrolments[f"{cohort.key}:{one['code']}"],
            left_on=world.today(),
            reason="Tank 39 was found empty of water at 08:20; all three strings are dead.",
            actual_severity=0,
            by=world.people["mirela"],
        )
        animals.leave_group(
            world.groups[one["code"]],
            sort="died",
            happened_on=world.today(),
            note="Tank 39 ran dry in the night, cause unknown.",
            by=world.people["isolde"],
        )


def _with_faults(world: World, tables: Tables) -> Tables:
    """Give the tables with what a student's first upload holds: slips, truths, and odd values."""
    checks = list(csv.reader(io.StringIO(tables["checks.csv"])))
    hatch = list(csv.reader(io.StringIO(tables["hatch.csv"])))
    flow_set, stage = checks[0].index("flow_set"), checks[0].index("stage")
    gentle = [at for at, row in enumerate(checks) if row[flow_set] == "gentle"]
    checks[gentle[len(gentle) // 2]][flow_set] = "gentel"
    fives = [at for at, row in enumerate(checks) if at and row[stage] == "5"]
    checks[fives[len(fives) // 3]][stage] = "5/6"
    free_day, ninth = (world.story.day(day).isoformat() for day in (FREE_DAY, "2026-11-09"))
    late = [row for row in checks if row[2] < free_day and row[1] in {"34", "38"}][-3:]
    checks += [[row[0], row[1], free_day, *row[3:]] for row in late]
    near = next(row for row in reversed(checks) if row[1] == "34")
    checks.append([STRANGER, "34", ninth, FLOW_OF["34"], *near[4:]])
    checks[1:] = sorted(checks[1:], key=lambda row: (row[2], row[0]))
    mantle = hatch[0].index("mantle_length")
    doubled = next(at for at, row in enumerate(hatch) if at > 4 and row[1] == "3")
    hatch[doubled][1] = "2"
    hatch[-6][mantle], hatch[-12][mantle] = "11.6", "3.4"
    return {
        "strings.csv": tables["strings.csv"],
        "checks.csv": written(checks[0], checks[1:]),
        "hatch.csv": written(hatch[0], hatch[1:]),
    }


_DATA = {1: _first, 2: _second, 3: _third}
