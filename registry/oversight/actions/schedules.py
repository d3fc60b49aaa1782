"""The deed that plans every session of a schedule in one go."""

from collections.abc import Iterable, Sequence
from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Enclosure
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.oversight.locks import still
from registry.oversight.models import Session
from registry.oversight.planned import Planning
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.achieved import Due, due_sessions
from registry.projects.designed import standing
from registry.projects.models import Project
from registry.saying import moment_said
from registry.transitions import follows

_NOT = "No session was planned."
MOST_SAID = 12
"""Sessions of which a refusal tells why; the rest are counted."""


@transaction.atomic
def plan_schedule(
    project: Project,
    *,
    place: Enclosure,
    observers: Iterable[Person],
    first: date | None = None,
    last: date | None = None,
    codes_begin: str = "S",
    by: Person,
) -> Project:
    """Plan every session of the plan's schedule that is to come and is not planned yet, or none.

    Refused when: the project is not collecting; its plan has no schedule; nothing of it is left to
    plan; it names an animal that is not enrolled; an observer is not a member, or there is none;
    any of its sessions could not be planned by itself.
    """
    require(by, Verb.PROJECT_PLAN_SCHEDULE, project)
    project = still(project)
    follows(project, "plan_schedule")
    watchers = list(observers)
    _members(project, watchers)
    dues = _to_come(project, first, last)
    planning = Planning(project, place, watchers)
    _sound(planning, dues)
    taken = set(project.sessions.values_list("code", flat=True))
    sessions = Session.objects.bulk_create(
        Session(
            project=project,
            code=_free(f"{codes_begin.strip()}{one.number:03}", taken),
            place=place,
            planned_start=timezone.make_aware(one.begins),
            planned_end=timezone.make_aware(one.ends),
            made_by=by,
        )
        for one in dues
    )
    _link(sessions, dues, planning, watchers)
    record(
        Verb.PROJECT_PLAN_SCHEDULE,
        project,
        by=by,
        touched=sessions,
        sessions=[one.code for one in sessions],
        observers=[one.pk for one in watchers],
    )
    return project


def _members(project: Project, watchers: Sequence[Person]) -> None:
    members = set(project.members.live().values_list("person", flat=True))
    strangers = [str(one) for one in watchers if one.pk not in members]
    if strangers or not watchers:
        raise Unsound(
            _NOT,
            _("%(strangers)s: not in this project.") % {"strangers": ", ".join(strangers)}
            if strangers
            else "Nobody observes.",
            "Choose members of the project, or have the lead supervisor assign them.",
            fields={"observers": "Choose members of the project."},
        )


def _to_come(project: Project, first: date | None, last: date | None) -> list[Due]:
    """Give the sessions of the schedule that are still to be planned, one at least."""
    if "schedule" not in standing(project.plan):
        raise Conflict(
            _NOT,
            "The plan holds no schedule.",
            "Plan sessions one by one; the next plan can take a schedule from the design pages.",
        )
    dues = [
        one
        for one in due_sessions(project, project.plan)
        if (first is None or first <= one.day) and (last is None or one.day <= last)
    ]
    if not dues:
        raise Conflict(
            _NOT,
            "Of the schedule nothing is left to plan within these days.",
            "Look at the project's sessions, give other days, or plan a session by itself.",
        )
    return dues


def _sound(planning: Planning, dues: Sequence[Due]) -> None:
    if strangers := planning.strangers(dues):
        raise Unsound(
            _NOT,
            _("The schedule names %(strangers)s, and no enrolled animal goes by that.")
            % {"strangers": ", ".join(strangers)},
            "Enrol them under these codes, or plan the sessions one by one.",
        )
    why = {one: planning.why_not(one) for one in dues}
    barred = {one: said for one, said in why.items() if said}
    if barred:
        told = [
            f"{moment_said(one.begins)}: {' '.join(said)}"
            for one, said in list(barred.items())[:MOST_SAID]
        ]
        more = (
            _(" And %(number)s more.") % {"number": len(barred) - MOST_SAID}
            if len(barred) > MOST_SAID
            else ""
        )
        raise Unsound(
            _NOT,
            _("%(number)s of %(number_too)s cannot be: %(told)s%(more)s")
            % {
                "number": len(barred),
                "number_too": len(dues),
                "told": " ".join(told),
                "more": more,
            },
            "Mend what stands in the way, choose other people or another place, or plan the days "
            "before and after it apart.",
        )


def _free(code: str, taken: set[str]) -> str:
    """Give a code that the project has not used: of a session moved or missed, with a letter."""
    letters = iter("bcdefghijklmnopqrstuvwxyz")
    free = code
    while free in taken:
        free = code + next(letters)
    taken.add(free)
    return free


def _link(
    sessions: Sequence[Session],
    dues: Sequence[Due],
    planning: Planning,
    watchers: Sequence[Person],
) -> None:
    """Write who observes each session and whom, with two queries."""
    watching, watched = Session.observers.through, Session.enrolments.through
    watching._default_manager.bulk_create(
        watching(session=one, person=person) for one in sessions for person in watchers
    )
    watched._default_manager.bulk_create(
        watched(session=session, enrolment=one)
        for session, due in zip(sessions, dues, strict=True)
        for one in planning.enrolments(due)
    )
