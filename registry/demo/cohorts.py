"""How a cohort of the demo comes about: opened, planned, permitted, booked, begun and ended."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from registry.approvals import actions as approvals
from registry.approvals.live import EVERY_DAY
from registry.approvals.models import Approval, PermissionKind
from registry.approvals.screens import Said
from registry.demo.diary import Diary
from registry.demo.world import World, told
from registry.oversight import actions as oversight
from registry.people.models import Person
from registry.permissions import Part
from registry.projects import actions as projects
from registry.projects.models import Project

NEEDED = ("research-committee", "university-ethics", "licence", "data-agreement", "induction")
NOT_NEEDED = {
    "licence": "Nothing here passes the threshold of a regulated procedure; the named veterinary "
    "surgeon screened the plan and decides anew if it changes.",
    "owners-consent": "All the animals are the aquarium's own.",
    "risk-assessment": "The house's standing assessment for work beside tanks covers it.",
    "university-ethics": "Watching without contact is outside what the university's body reviews.",
}


@dataclass(frozen=True)
class Line:
    """One line of an approval's limits."""

    procedure: str
    taxon: str
    stage: str
    animals: int
    contacts: int | None = None


@dataclass(frozen=True)
class Ask:
    """What a cohort asks of one body, and what the body says."""

    title: str
    case: str
    harms: str
    benefits: str
    ends: str
    decision: str
    limits: tuple[Line, ...]
    permission: str = "research-committee"
    conditions: tuple[tuple[str, str | None], ...] = ()
    people: tuple[str, ...] = ()
    severity: int = 0
    not_on: str = ""
    """A day of the story on whose weekday the approval does not hold."""
    reuse: str = "none"
    """Whether a licence lets animals be used again that went through a procedure elsewhere."""

    @property
    def body(self) -> str:
        """The body that decides it."""
        bodies = {"research-committee": "committee", "licence": "licences"}
        return bodies.get(self.permission, "ethics")


@dataclass(frozen=True)
class Cohort:
    """One cohort, from its opening to the day on which it begins to collect."""

    key: str
    study: str
    level: str
    lead: str
    student: str
    opened: str
    starts: str
    ends: str
    hours: float
    procedures: tuple[str, ...]
    places: tuple[str, ...]
    arms: tuple[tuple[str, str, int, int], ...]
    asks: tuple[Ask, ...]
    size: Mapping[str, Any] | None = None
    """What its number of units was reckoned from; see registry.design.keeping."""
    dealt: Mapping[str, Any] | None = None
    """What its allocation is drawn from, and sealed when the plan is accepted."""
    keyholders: tuple[str, ...] = ()
    begins: str = ""
    severity: int = 0
    extends: str = ""
    terms: str = "open"
    embargo_months: int = 0
    remarks: str = "The unit is the right one, and the numbers follow from it."
    not_needed: tuple[str, ...] = field(default=("licence", "owners-consent", "risk-assessment"))

    @property
    def reviewer(self) -> str:
        """The supervisor who is not a member."""
        return "oluwaseun" if self.lead == "ingrid" else "ingrid"


def later(told_on: str, days: int) -> str:
    """Give the day of the story so many days on."""
    return (date.fromisoformat(told_on) + timedelta(days=days)).isoformat()


def open_studies(diary: Diary, world: World) -> None:
    """Write into the diary how each study was opened, and the question that it took on."""
    for key, row in told("studies").items():
        diary.at(f"{row['opened']} 10:00", _open_study, world, key, row)


def _open_study(world: World, key: str, row: dict[str, Any]) -> None:
    world.studies[key] = projects.open_study(
        title=row["title"],
        aim=row["aim"],
        taxon=world.taxa[row["taxon"]],
        questions=[world.questions[n] for n in row["questions"]],
        by=world.people[row["by"]],
    )


def prepare(diary: Diary, world: World, cohort: Cohort) -> None:
    """Write into the diary how a cohort comes to collect."""
    first = cohort.opened
    steps: Sequence[tuple[int, str, Any]] = (
        (0, "10:20", _open),
        (2, "14:00", _plan),
        (3, "16:30", _submit),
        (6, "09:15", _accept),
        (7, "10:00", _needs),
        (8, "09:30", _screen),
        (16, "17:00", _sign),
    )
    for days, clock, step in steps:
        diary.at(f"{later(first, days)} {clock}", step, world, cohort)
    for ask in cohort.asks:
        diary.at(f"{later(first, 8)} 10:30", _ask, world, cohort, ask)
        if ask.decision:
            diary.at(f"{later(first, 15)} 15:00", _grant, world, cohort, ask)
    if cohort.begins:
        diary.at(cohort.begins, _start, world, cohort)


def project_of(world: World, key: str) -> Project:
    """Give a project of the demo as it stands now."""
    return Project.objects.get(pk=world.projects[key].pk)


def approval_of(world: World, key: str, permission: str = "research-committee") -> Approval:
    """Give the approval of a cohort as it stands now."""
    return Approval.objects.get(pk=world.approvals[f"{key}:{permission}"].pk)


def _open(world: World, cohort: Cohort) -> None:
    lead = world.people[cohort.lead]
    common: dict[str, Any] = {
        "cohort": world.story.academic_year(cohort.starts),
        "starts_on": world.story.day(cohort.starts),
        "ends_on": world.story.day(cohort.ends),
        "lead": lead,
        "by": lead,
    }
    if cohort.extends:
        project = projects.extend_project(project_of(world, cohort.extends), **common)
    else:
        project = projects.open_project(
            world.studies[cohort.study],
            level=cohort.level,
            keeper_hours_week=cohort.hours,
            **common,
        )
    world.projects[cohort.key] = project
    projects.assign_member(project, person=world.people[cohort.student], part=Part.STUDENT, by=lead)


def _plan(world: World, cohort: Cohort) -> None:
    project, student = world.projects[cohort.key], world.people[cohort.student]
    text = {} if cohort.extends else told("studies")[cohort.study]["plan"]
    projects.write_plan(
        project,
        procedures=[world.procedure(code) for code in cohort.procedures],
        places=[world.places[code] for code in cohort.places],
        max_severity=cohort.severity,
        keyholders=[world.people[key] for key in cohort.keyholders],
        by=student,
        **text,
    )
    if not cohort.extends:
        for name, taxon, units, animals in cohort.arms:
            projects.add_arm(
                project,
                name=name,
                taxon=world.taxa[taxon],
                units=units,
                animals=animals,
                by=student,
            )
    if cohort.size is not None:
        projects.use_design(project, part="size", given=cohort.size, by=student)
    if cohort.dealt is not None:
        projects.use_design(project, part="allocation", given=cohort.dealt, by=student)


def _submit(world: World, cohort: Cohort) -> None:
    projects.submit_plan(world.projects[cohort.key], by=world.people[cohort.lead])


def _accept(world: World, cohort: Cohort) -> None:
    projects.accept_plan(
        world.projects[cohort.key], remarks=cohort.remarks, by=world.people[cohort.reviewer]
    )


def _needs(world: World, cohort: Cohort) -> None:
    for kind in PermissionKind.objects.filter(is_always_asked=True):
        is_needed = kind.code in NEEDED and kind.code not in cohort.not_needed
        approvals.state_need(
            world.projects[cohort.key],
            permission=kind,
            is_needed=is_needed,
            reason="" if is_needed else NOT_NEEDED[kind.code],
            by=world.people[cohort.lead],
        )


def _screen(world: World, cohort: Cohort) -> None:
    """Let the vet screen the hands-on work that is asked for, but for what he screened before."""
    project = world.projects[cohort.key]
    lines = {
        (line.procedure, line.taxon, line.stage or "adult"): None
        for ask in cohort.asks
        for line in ask.limits
    }
    for code, taxon, stage in lines:
        procedure = world.procedure(code)
        kind: dict[str, Any] = {
            "procedure": procedure,
            "taxon": world.taxa[taxon],
            "life_stage": stage,
        }
        if not procedure.is_contact or project.screenings.filter(**kind).exists():
            continue
        is_egg = stage in {"egg", "embryo"}
        approvals.screen_procedure(
            project,
            **kind,
            told=Said("uk", "scientific", "below", lives_past=is_egg),
            answer="not regulated",
            reason="Looked at with the plan: short, and as husbandry does it.",
            by=world.people["fergus"],
        )


def _ask(world: World, cohort: Cohort, ask: Ask) -> None:
    lead, story = world.people[cohort.lead], world.story
    held = EVERY_DAY
    if ask.not_on:
        held = held.replace(str(story.day(ask.not_on).isoweekday()), "")
    approval = approvals.request_approval(
        world.projects[cohort.key],
        permission=world.permission(ask.permission),
        body=world.bodies[ask.body],
        title=ask.title,
        case=ask.case,
        harm_category="slight" if ask.severity else "none",
        harms=ask.harms,
        benefit_category="animals",
        benefits=ask.benefits,
        starts_on=story.day(cohort.starts),
        ends_on=story.day(ask.ends),
        weekdays=held,
        max_severity=ask.severity,
        reuse_consent=ask.reuse,
        places=[world.places[code] for code in cohort.places],
        people=[world.people[key] for key in ask.people],
        by=lead,
    )
    for line in ask.limits:
        approvals.add_limit(
            approval,
            taxon=world.taxa[line.taxon],
            life_stage=line.stage,
            procedure=world.procedure(line.procedure),
            max_animals=line.animals,
            max_contacts_each=line.contacts,
            by=lead,
        )
    world.approvals[f"{cohort.key}:{ask.permission}"] = approvals.submit_approval(approval, by=lead)


def _grant(world: World, cohort: Cohort, ask: Ask) -> None:
    story = world.story
    approvals.grant_approval(
        world.approvals[f"{cohort.key}:{ask.permission}"],
        decision=ask.decision,
        conditions=[(text, story.day(due) if due else None) for text, due in ask.conditions],
        deciders=deciders_of(world, ask.body),
        by=chair_of(world, ask.body),
    )


def chair_of(world: World, body: str) -> Person:
    """Give the chair of a body."""
    return world.people["ruth" if body == "committee" else "halvard"]


def deciders_of(world: World, body: str) -> list[Person]:
    """Give those who took part in a decision of a body."""
    took_part = {
        "committee": ("ruth", "bryn", "fergus"),
        "ethics": ("halvard", "noor", "ruth"),
        "licences": ("halvard", "maria"),
    }
    return [world.people[name] for name in took_part[body]]


def _sign(world: World, cohort: Cohort) -> None:
    student = world.people[cohort.student]
    projects.sign_agreement(
        world.projects[cohort.key],
        terms=cohort.terms,
        embargo_months=cohort.embargo_months,
        signed_name=student.name,
        by=student,
    )


def _start(world: World, cohort: Cohort) -> None:
    approvals.start_project(world.projects[cohort.key], by=world.people[cohort.lead])


# ------------------------------------------------------------------------ what a cohort then does


@dataclass(frozen=True)
class Booked:
    """A booking, and what is enrolled from it."""

    key: str
    wish: str
    starts: str
    ends: str
    animals: tuple[str, ...] = ()
    groups: tuple[tuple[str, int], ...] = ()
    places: tuple[str, ...] = ()
    contacts: int | None = None
    note: str = ""
    enrols: tuple[tuple[str, str, str, str], ...] = ()
    """Each subject's key, arm, unit and code."""


def book(diary: Diary, world: World, cohort: Cohort, booked: Booked, asked: str) -> None:
    """Write into the diary how a booking was asked for, offered, confirmed, and enrolled from."""
    diary.at(f"{asked} 09:30", _request, world, cohort, booked)
    diary.at(f"{asked} 11:30", _offer, world, booked)
    diary.at(f"{asked} 15:30", _confirm, world, booked)


def enrol(diary: Diary, world: World, cohort: Cohort, booked: Booked, moment: str) -> None:
    """Write into the diary how the animals of a booking were enrolled."""
    diary.at(moment, _enrol, world, cohort, booked)


def _request(world: World, cohort: Cohort, booked: Booked) -> None:
    world.bookings[booked.key] = oversight.request_booking(
        world.projects[cohort.key],
        wish=booked.wish,
        starts_on=world.story.day(booked.starts),
        ends_on=world.story.day(booked.ends),
        by=world.people[cohort.student],
    )


def _offer(world: World, booked: Booked) -> None:
    oversight.offer_booking(
        world.bookings[booked.key],
        animals=[world.animals[key] for key in booked.animals],
        groups=[(world.groups[key], number) for key, number in booked.groups],
        places=[world.places[code] for code in booked.places],
        starts_on=world.story.day(booked.starts),
        ends_on=world.story.day(booked.ends),
        max_contacts_each=booked.contacts,
        note=booked.note,
        by=world.people["isolde"],
    )


def _confirm(world: World, booked: Booked) -> None:
    oversight.confirm_booking(world.bookings[booked.key], by=world.people["isolde"])


def _enrol(world: World, cohort: Cohort, booked: Booked) -> None:
    booking = world.bookings[booked.key]
    plan = world.projects[cohort.key].plan
    arms = {arm.name: arm for arm in plan.arms.filter(is_dropped=False)}
    by_key = {
        _key_of(world, one): one for one in booking.subjects.select_related("animal", "group")
    }
    lots: dict[tuple[str, str], list[tuple[Any, str]]] = {}
    for key, arm, unit, code in booked.enrols:
        lots.setdefault((arm, unit), []).append((by_key[key], code))
    for (arm, unit), rows in lots.items():
        made = oversight.enrol_animals(
            booking,
            subjects=[one for one, _ in rows],
            from_on=world.today(),
            arm=arms[arm],
            unit=unit,
            codes={one.pk: code for one, code in rows},
            by=world.people[cohort.student],
        )
        for enrolment in made:
            world.enrolments[f"{cohort.key}:{enrolment.code}"] = enrolment


def _key_of(world: World, subject: Any) -> str:
    held: dict[str, Any] = dict(world.animals if subject.animal_id else world.groups)
    pk = subject.animal_id or subject.group_id
    return next(key for key, one in held.items() if one.pk == pk)


@dataclass(frozen=True)
class Sitting:
    """A session: when it was planned, begun and ended, where, and who was in view."""

    code: str
    day: str
    begins: str
    ends: str
    place: str
    enrolled: tuple[str, ...]
    procedure: str
    visitors: int | None = None
    noise_db: float | None = None
    notes: str = ""
    missed: str = ""


def sit(diary: Diary, world: World, cohort: Cohort, sitting: Sitting) -> None:
    """Write into the diary how a session was planned the day before, and then held or missed."""
    diary.at(f"{later(sitting.day, -1)} 17:20", _plan_session, world, cohort, sitting)
    if diary.story.day(sitting.day) < diary.story.today:
        diary.at(f"{sitting.day} {_after(sitting.ends)}", _hold, world, cohort, sitting)


def _after(clock: str) -> str:
    hours, minutes = map(int, clock.split(":"))
    return f"{min(hours + 1, 23):02}:{minutes:02}"


def _rows(world: World, cohort: Cohort, sitting: Sitting) -> list[Any]:
    return [world.enrolments[f"{cohort.key}:{code}"] for code in sitting.enrolled]


def _plan_session(world: World, cohort: Cohort, sitting: Sitting) -> None:
    oversight.plan_session(
        world.projects[cohort.key],
        code=sitting.code,
        place=world.places[sitting.place],
        planned_start=world.story.at(f"{sitting.day} {sitting.begins}"),
        planned_end=world.story.at(f"{sitting.day} {sitting.ends}"),
        observers=[world.people[cohort.student]],
        enrolments=_rows(world, cohort, sitting),
        by=world.people[cohort.student],
    )


def _hold(world: World, cohort: Cohort, sitting: Sitting) -> None:
    session = world.projects[cohort.key].sessions.get(code=sitting.code)
    student = world.people[cohort.student]
    if sitting.missed:
        oversight.miss_session(session, reason=sitting.missed, by=student)
        return
    oversight.hold_session(
        session,
        started_at=world.story.at(f"{sitting.day} {sitting.begins}"),
        ended_at=world.story.at(f"{sitting.day} {sitting.ends}"),
        enrolments=_rows(world, cohort, sitting),
        procedure=world.procedure(sitting.procedure),
        visitors=sitting.visitors,
        noise_db=sitting.noise_db,
        noise_medium="air" if sitting.noise_db is not None else "",
        notes=sitting.notes,
        by=student,
    )


def use(
    world: World,
    cohort: Cohort,
    code: str,
    procedure: str,
    told_at: str,
    *,
    by: str = "",
    note: str = "",
    severity: int = 0,
) -> None:
    """Record a use of an enrolled animal or group; all of a group that is enrolled."""
    enrolment = world.enrolments[f"{cohort.key}:{code}"]
    happened_at: datetime = world.story.at(told_at)
    oversight.record_use(
        world.projects[cohort.key],
        enrolment=enrolment,
        procedure=world.procedure(procedure),
        happened_at=happened_at,
        number=enrolment.number,
        severity=severity,
        note=note,
        by=world.people[by or cohort.student],
    )


def discharge(
    diary: Diary, world: World, cohort: Cohort, moment: str, *, severity: int = 0
) -> None:
    """Write into the diary that all of a cohort that are still enrolled went, and it finished."""
    diary.at(moment, _discharge, world, cohort, severity)


def _discharge(world: World, cohort: Cohort, severity: int) -> None:
    project = project_of(world, cohort.key)
    for enrolment in project.enrolments.filter(state="enrolled"):
        oversight.discharge_animal(
            enrolment,
            left_on=world.today(),
            actual_severity=severity,
            by=world.people[cohort.student],
        )
    for booking in project.bookings.filter(state="confirmed"):
        oversight.release_booking(booking, by=world.people["isolde"])
    projects.finish_project(project, by=world.people[cohort.lead])
