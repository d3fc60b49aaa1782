"""Deeds on sessions: planned inside a confirmed booking, then held, missed or abandoned."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Enclosure
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.oversight.bars import planned_of, restricted_on
from registry.oversight.facts import event_of, needed_by, thing
from registry.oversight.happened import Handled, Happening, must_be_past, write_uses
from registry.oversight.limits import EventFacts, day_said, uncovered
from registry.oversight.locks import still, still_subjects
from registry.oversight.models import Booking, Enrolment, Session
from registry.oversight.papers import untrained
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Procedure, Project
from registry.transitions import follows, locked, move, reasoned

_NOT_PLANNED = "The session was not planned."
_NOT_HELD = "The session was not entered as held."


@transaction.atomic
def plan_session(
    project: Project,
    *,
    code: str,
    place: Enclosure,
    planned_start: datetime,
    planned_end: datetime,
    observers: Iterable[Person],
    enrolments: Iterable[Enrolment] = (),
    by: Person,
) -> Session:
    """Plan a session at a booked place, within the booked days.

    Refused when: the project is not collecting; it ends before it starts; the code is empty or
    taken; no confirmed booking has the place on the day; an observer is not a member, or there is
    none; an animal is not enrolled on the day; a restriction bars all research with it; a needed
    permission is not live on the day or does not cover place, people or animals; an observer lacks
    the training that the house asks for before whatever is planned.
    """
    require(by, Verb.PROJECT_PLAN_SESSION, project)
    project = still(project)
    follows(project, "plan_session")
    chosen = _of_project(project, enrolments, _NOT_PLANNED)
    watchers = list(observers)
    _sound_times(_NOT_PLANNED, planned_start, planned_end, "planned_end")
    _free_code(project, code)
    _booked(project, place, planned_start, planned_end)
    _members(project, watchers)
    _enrolled(chosen, planned_start)
    _permitted(project, place, planned_start, watchers, chosen)
    session = Session.objects.create(
        project=project,
        code=code.strip(),
        place=place,
        planned_start=planned_start,
        planned_end=planned_end,
        made_by=by,
    )
    session.observers.set(watchers)
    session.enrolments.set(chosen)
    record(
        Verb.PROJECT_PLAN_SESSION,
        session,
        by=by,
        after=session.state,
        observers=[one.pk for one in watchers],
        enrolments=[one.pk for one in chosen],
    )
    return session


def _of_project(project: Project, enrolments: Iterable[Enrolment], what: str) -> list[Enrolment]:
    """Give the enrolments anew, in order, their animals locked, once all are of the project."""
    ids = {one.pk for one in enrolments}
    asked = Enrolment.objects.filter(project=project, pk__in=ids).order_by("pk")
    still_subjects([one.subject for one in asked.select_related("animal", "group")])
    # Read anew: what was read before the locks may have changed while they were waited for.
    rows = list(asked.select_related("animal__taxon", "group__taxon", "booking"))
    if len(rows) != len(ids):
        raise Unsound(
            what,
            "An animal that was chosen is not enrolled in this project.",
            "Choose among the project's enrolments.",
            fields={"enrolments": "Choose among the project's enrolments."},
        )
    return rows


def _sound_times(what: str, start: datetime, end: datetime, field: str) -> None:
    if end <= start:
        raise Unsound(
            what,
            "It would end before it starts.",
            "Give a later end.",
            fields={field: "Not after the start."},
        )


def _free_code(project: Project, code: str) -> None:
    if not code.strip() or project.sessions.filter(code=code.strip()).exists():
        raise Unsound(
            _NOT_PLANNED,
            _("The project has a session “%(code)s” already.") % {"code": code.strip()}
            if code.strip()
            else "No code.",
            "Give a code of its own: the data name the session by it.",
            fields={"code": "It is taken." if code.strip() else "Give a code."},
        )


def _booked(project: Project, place: Enclosure, start: datetime, end: datetime) -> None:
    first, last = timezone.localdate(start), timezone.localdate(end)
    held = Booking.objects.filter(
        project=project, state="confirmed", places=place, starts_on__lte=first, ends_on__gte=last
    )
    if not held.exists():
        raise Unsound(
            _NOT_PLANNED,
            _("No confirmed booking of this project has %(place)s on %(first)s.")
            % {"place": place, "first": day_said(first)},
            "Choose a booked place and day, or ask the curator for a booking.",
            fields={"place": "Not booked on that day."},
        )


def _members(project: Project, watchers: Sequence[Person]) -> None:
    members = set(project.members.live().values_list("person", flat=True))
    strangers = [str(one) for one in watchers if one.pk not in members]
    if strangers or not watchers:
        raise Unsound(
            _NOT_PLANNED,
            _("%(strangers)s: not in this project.") % {"strangers": ", ".join(strangers)}
            if strangers
            else "Nobody observes.",
            "Choose members of the project, or have the lead supervisor assign them.",
            fields={"observers": "Choose members of the project."},
        )


def _enrolled(chosen: Sequence[Enrolment], start: datetime) -> None:
    day = timezone.localdate(start)
    absent = [
        one.code
        for one in chosen
        if one.state != "enrolled" or one.from_on > day or (one.left_on and one.left_on < day)
    ]
    if absent:
        raise Unsound(
            _NOT_PLANNED,
            _("%(absent)s: not enrolled on %(day)s.")
            % {"absent": ", ".join(absent), "day": day_said(day)},
            "Leave them out, or choose another day.",
            fields={
                "enrolments": _("Not enrolled that day: %(absent)s.")
                % {"absent": ", ".join(absent)}
            },
        )


def _permitted(
    project: Project,
    place: Enclosure,
    start: datetime,
    watchers: Sequence[Person],
    chosen: Sequence[Enrolment],
) -> None:
    """Refuse what no approval covers that day; the procedure is known only when it is held."""
    day = timezone.localdate(start)
    needed = needed_by(project, day, watchers)
    events = [
        event_of(
            one.subject,
            project=project,
            day=day,
            procedure=None,
            place=place,
            people=watchers,
            enrolment=one.pk,
        )
        for one in chosen
    ] or [EventFacts(day=day, place=thing(place), people=tuple(thing(one) for one in watchers))]
    said = [short.said for event in events for short in uncovered(event, needed, {})]
    said += untrained(needed, day, planned_of(project))
    # Watching stays open under “observation only”; what is done is judged when it is held.
    subjects = [one.subject for one in chosen]
    restricted = restricted_on(subjects, day, is_contact=False, project=project)
    said += [words for bars in restricted.values() for words in bars]
    if said:
        raise Unsound(
            _NOT_PLANNED,
            " ".join(dict.fromkeys(said)),
            "Choose another day, place or animals, or have the approval amended.",
        )


# ------------------------------------------------------------------------------- what became of it


@transaction.atomic
def hold_session(
    session: Session,
    *,
    started_at: datetime,
    ended_at: datetime,
    enrolments: Iterable[Enrolment],
    procedure: Procedure,
    visitors: int | None = None,
    noise_db: float | None = None,
    noise_medium: str = "",
    notes: str = "",
    by: Person,
) -> Session:
    """Enter what happened: when, who was in view; one use for each. What passed a limit is entered
    all the same, and opens a breach.

    Refused when: it ends before it starts; it lies in the future; an animal is not of this project;
    noise has no medium, or a medium no noise.
    """
    require(by, Verb.SESSION_HOLD, session)
    project = still(session.project)
    session = locked(session)
    follows(session, "hold")
    chosen = _of_project(project, enrolments, _NOT_HELD)
    _sound_times(_NOT_HELD, started_at, ended_at, "ended_at")
    must_be_past(ended_at, _NOT_HELD, "Enter it when it is over.", field="ended_at")
    if (noise_db is None) == bool(noise_medium):
        raise Unsound(
            _NOT_HELD,
            "A level of noise means nothing without its medium: decibels in air and in water have "
            "different references.",
            "Give both, or neither.",
            fields={"noise_medium": "Give both, or neither."},
        )
    before, after = move(session, "hold")
    session.started_at, session.ended_at = started_at, ended_at
    session.recorded_at = timezone.now()
    session.visitors, session.noise_db, session.noise_medium = visitors, noise_db, noise_medium
    session.notes = notes.strip()
    session.save()
    session.enrolments.set(chosen)
    uses, breaches = write_uses(
        Happening(
            project=project,
            moment=started_at,
            procedure=procedure,
            place=session.place,
            people=list(session.observers.order_by("pk")),
            severity=procedure.severity,
        ),
        [Handled(one.subject, one, one.number) for one in chosen],
        session=session,
        note="",
        by=by,
    )
    record(
        Verb.SESSION_HOLD,
        session,
        by=by,
        before=before,
        after=after,
        touched=[*uses, *breaches],
        uses=[one.pk for one in uses],
        breaches=[one.pk for one in breaches],
    )
    return session


@transaction.atomic
def miss_session(session: Session, *, reason: str, by: Person) -> Session:
    """Say that a planned session was not held, and why.

    Refused when: there is no reason.
    """
    require(by, Verb.SESSION_MISS, session)
    session = locked(session)
    reason = reasoned(session, "miss", reason)
    before, after = move(session, "miss")
    session.missing_reason, session.recorded_at = reason, timezone.now()
    session.save(update_fields=["missing_reason", "recorded_at"])
    record(Verb.SESSION_MISS, session, by=by, before=before, after=after, reason=reason)
    return session


@transaction.atomic
def abandon_session(session: Session, *, reason: str, by: Person) -> Session:
    """Give up a held session for the data; the uses of its animals stand.

    Refused when: there is no reason.
    """
    require(by, Verb.SESSION_ABANDON, session)
    session = locked(session)
    reason = reasoned(session, "abandon", reason)
    before, after = move(session, "abandon")
    session.missing_reason = reason
    session.save(update_fields=["missing_reason"])
    record(Verb.SESSION_ABANDON, session, by=by, before=before, after=after, reason=reason)
    return session
