"""RegisterFacts of a project, read from the register: what its data are held against."""

from collections.abc import Iterator
from datetime import date, timedelta

from django.db.models import Q
from django.utils import timezone

from archive.engine.facts import Enrolled, Held, Live, Planned, Published, RegisterFacts, Restricted
from archive.gate import tested_of
from archive.models import Dictionary
from archive.sheets import every_said
from registry.animals.models import Enclosure, Restriction
from registry.approvals.standing import covered_days
from registry.oversight.bars import is_passed
from registry.oversight.facts import is_of_quarantine, is_watching_only
from registry.oversight.models import Enrolment
from registry.people.models import Person
from registry.projects.models import Plan, Project, RecordingRule

_BY_INTERVAL = {RecordingRule.INSTANTANEOUS, RecordingRule.ONE_ZERO}


def facts_of(project: Project, dictionary: Dictionary | None = None) -> RegisterFacts:
    """Give what the register knows of a project, without Django; some twenty queries.

    Of the dictionary is whether observers are to pass a test, and who did.

    Observers are known by their code in the project. Names have no place in data: they go along
    to be found there.
    """
    enrolments = list(project.enrolments.all())
    return RegisterFacts(
        project=str(project),
        enrolments=tuple(Enrolled(one.code, one.from_on, one.left_on) for one in enrolments),
        approvals=tuple(_covered(project)),
        restrictions=tuple(_restricted(project, enrolments)),
        places=tuple(_places(project)),
        enclosures=tuple(Enclosure.objects.values_list("code", flat=True)),
        observers=tuple(sorted({one.data_code for one in project.members.with_codes()})),
        tested=tested_of(project, dictionary),
        sessions=tuple(_held(project)),
        planned=tuple(_planned(project)),
        versions=tuple(_versions(project)),
        people=tuple(Person.objects.real().order_by("pk").values_list("name", flat=True)),
        every_s=planned_every_s(project),
    )


def _covered(project: Project) -> Iterator[Live]:
    """Give the days on which every needed permission is live."""
    spans = [(project.starts_on, project.ends_on)]
    spans += project.approvals.values_list("starts_on", "ends_on")
    first, last = min(span[0] for span in spans), max(span[1] for span in spans)
    for run in covered_days(project, first, last):
        yield Live(run.first, run.last)


def _restricted(project: Project, enrolments: list[Enrolment]) -> Iterator[Restricted]:
    """Give what barred the enrolled animals and groups, through their enclosure too.

    Where the project only watches, “observation only” bars nothing of it. The day on which a
    restriction ended is free again.
    """
    is_watching, passes = is_watching_only(project), is_of_quarantine(project)
    animals = {one.animal_id for one in enrolments if one.animal_id}
    groups = {one.group_id for one in enrolments if one.group_id}
    for restriction in Restriction.objects.barring(animals, groups).select_related("enclosure"):
        until = restriction.ended_on - timedelta(days=1) if restriction.ended_on else None
        is_void = until is not None and until < restriction.began_on
        if is_void or (is_watching and restriction.bars_contact_only):
            continue
        if passes and is_passed(restriction):
            continue
        barred = {("animal", restriction.animal_id), ("group", restriction.group_id)}
        if (enclosure := restriction.enclosure) is not None:
            barred |= {("animal", pk) for pk in enclosure.animals.values_list("pk", flat=True)}
            barred |= {("group", pk) for pk in enclosure.groups.values_list("pk", flat=True)}
        # One that was enrolled twice has two codes.
        for one in enrolments:
            mark = ("animal", one.animal_id) if one.animal_id else ("group", one.group_id)
            if mark in barred:
                yield Restricted(
                    code=one.code,
                    since=restriction.began_on,
                    until=until,
                    strength=restriction.get_strength_display(),
                    kind=restriction.get_sort_display(),
                )


def _places(project: Project) -> Iterator[str]:
    booked = Q(bookings__project=project, bookings__state__in=["confirmed", "released"])
    yield from Enclosure.objects.filter(booked).distinct().values_list("code", flat=True)


def _held(project: Project) -> Iterator[Held]:
    for session in project.sessions.filter(state="held"):
        start = session.started_at or session.planned_start
        end = session.ended_at
        yield Held(
            code=session.code,
            start=timezone.localtime(start),
            end=timezone.localtime(end) if end else None,
        )


def _planned(project: Project) -> Iterator[Planned]:
    """Give how many animals, units and sessions the plan promised."""
    plan = getattr(project, "plan", None)
    arms = list(plan.arms.filter(is_dropped=False)) if plan else []
    sessions = project.sessions.count()
    for role, number in (
        ("animal", sum(arm.animals for arm in arms)),
        ("unit", sum(arm.units for arm in arms)),
        ("session", sessions),
    ):
        if number:
            yield Planned(role, number)


def _versions(project: Project) -> Iterator[Published]:
    versions = Dictionary.objects.filter(study=project.study_id).order_by("number")
    for number, moment in versions.values_list("number", "published_at"):
        yield Published(number, timezone.localdate(moment))


def planned_every_s(project: Project) -> int | None:
    """Give the seconds between scans that the plan says, where it records by scans or intervals."""
    plan: Plan | None = getattr(project, "plan", None)
    if plan is None or plan.recording_rule not in _BY_INTERVAL:
        return None
    return every_said(plan.schedule) or None


def day_or_none(text: str) -> date | None:
    """Read a day as data write it, or give None."""
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        return None
