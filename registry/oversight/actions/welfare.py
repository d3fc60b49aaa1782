"""Deeds on what went otherwise than planned: adverse events, deviations, keeper time."""

from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from registry.animals.days import not_to_come
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.oversight.happened import must_be_past, over_severity
from registry.oversight.limits import day_said
from registry.oversight.locks import still
from registry.oversight.models import AdverseEvent, Breach, Course, Deviation, Enrolment, KeeperTime
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Project, Severity
from registry.transitions import follows, locked, move

DAY_MIN = 24 * 60


@transaction.atomic
def report_event(
    project: Project,
    *,
    sort: str,
    text: str,
    happened_at: datetime,
    enrolment: Enrolment | None = None,
    is_expected: bool = False,
    end_point: str = "",
    by: Person,
) -> AdverseEvent:
    """Report harm that came to an animal in a project; a veterinary surgeon assesses it.

    Refused when: it lies in the future; nothing says what happened; the animal is of another
    project; the project has no animals yet, or is over.
    """
    require(by, Verb.PROJECT_REPORT_EVENT, project)
    project = locked(project)
    follows(project, "report_event")
    what = "The event was not reported."
    must_be_past(happened_at, what, "Give the moment at which it did.")
    if not text.strip():
        raise Unsound(
            what,
            "Nothing says what happened.",
            "Say what happened, how the animal is, and what was done.",
            fields={"text": "Say what happened."},
        )
    if enrolment is not None and enrolment.project_id != project.pk:
        raise Unsound(
            what,
            _("%(enrolment)s is enrolled in another project.") % {"enrolment": enrolment},
            "Choose among this project's enrolments.",
            fields={"enrolment": "Of another project."},
        )
    event = AdverseEvent.objects.create(
        project=project,
        enrolment=enrolment,
        animal=enrolment.animal if enrolment else None,
        group=enrolment.group if enrolment else None,
        sort=sort,
        text=text.strip(),
        is_expected=is_expected,
        end_point=end_point.strip(),
        happened_at=happened_at,
        reported_by=by,
    )
    record(Verb.PROJECT_REPORT_EVENT, event, by=by, after=event.state, sort=sort)
    return event


@transaction.atomic
def assess_event(
    event: AdverseEvent, *, severity: int, course: str, assessment: str, by: Person
) -> AdverseEvent:
    """Assess an adverse event: the class that the animal reached, and what is to follow.

    A class beyond what was expected opens a breach. Refused when: nothing is said of the animal.
    """
    require(by, Verb.ADVERSE_EVENT_ASSESS, event)
    project = still(event.project)
    event = locked(event)
    follows(event, "assess")
    if not assessment.strip():
        raise Unsound(
            "The event was not assessed.",
            "Nothing says how the animal is.",
            "Write what you found, and what is to be done.",
            fields={"assessment": "Write what you found."},
        )
    before, after = move(event, "assess")
    event.severity, event.course = Severity(severity), Course(course)
    event.assessment, event.assessed_by = assessment.strip(), by
    event.assessed_at = timezone.now()
    event.save(update_fields=["severity", "course", "assessment", "assessed_by", "assessed_at"])
    day = timezone.localdate(event.happened_at)
    breaches = [
        Breach.objects.create(
            project=project,
            code=one.code,
            said=capfirst(f"adverse event {event.pk}, {day_said(day)}. {one.said}"),
            approval_id=one.approval,
            animal=event.animal,
            group=event.group,
            happened_on=day,
        )
        for one in over_severity(project, day, severity)
    ]
    record(
        Verb.ADVERSE_EVENT_ASSESS,
        event,
        by=by,
        before=before,
        after=after,
        reason=event.assessment,
        touched=breaches,
        severity=int(severity),
        course=course,
    )
    return event


@transaction.atomic
def record_deviation(
    project: Project, *, text: str, why: str, happened_on: date, effect: str = "", by: Person
) -> Project:
    """Record what was done otherwise than the plan says.

    Refused when: it lies in the future; it does not say what, or why.
    """
    require(by, Verb.PROJECT_RECORD_DEVIATION, project)
    project = locked(project)
    follows(project, "record_deviation")
    what = "The deviation was not recorded."
    not_to_come(happened_on, what=what, field="happened_on")
    for field, said in (("text", text), ("why", why)):
        if not said.strip():
            raise Unsound(
                what,
                "It must say what was done otherwise, and why.",
                "Write both in a sentence.",
                fields={field: "Write this."},
            )
    made = Deviation.objects.create(
        project=project,
        text=text.strip(),
        why=why.strip(),
        effect=effect.strip(),
        happened_on=happened_on,
        recorded_by=by,
    )
    record(Verb.PROJECT_RECORD_DEVIATION, project, by=by, touched=[made], deviation=made.pk)
    return project


@transaction.atomic
def log_time(
    project: Project, *, minutes: int, happened_on: date, note: str = "", by: Person
) -> Project:
    """Log keeper time that a project took; minutes below 0 take a wrong entry back.

    Refused when: it is no time, or more than a day of one keeper at once; it lies in the future;
    time is taken back without a note.
    """
    require(by, Verb.PROJECT_LOG_TIME, project)
    project = locked(project)
    follows(project, "log_time")
    what = "The time was not logged."
    not_to_come(happened_on, what=what, field="happened_on")
    if minutes == 0 or abs(minutes) > DAY_MIN:
        raise Unsound(
            what,
            _("%(minutes)s minutes are no entry.") % {"minutes": minutes},
            _("Give 1 to %(day_min)s minutes; several entries make more.") % {"day_min": DAY_MIN},
            fields={"minutes": _("1 to %(day_min)s.") % {"day_min": DAY_MIN}},
        )
    if minutes < 0 and not note.strip():
        raise Unsound(
            what,
            "Time is taken back, and nothing says why.",
            "Write in a few words which entry was wrong.",
            fields={"note": "Write why."},
        )
    made = KeeperTime.objects.create(
        project=project,
        minutes=minutes,
        happened_on=happened_on,
        note=note.strip(),
        recorded_by=by,
    )
    record(Verb.PROJECT_LOG_TIME, project, by=by, touched=[made], minutes=minutes)
    return project
