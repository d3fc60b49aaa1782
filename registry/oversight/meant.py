"""Lay out every limit that work with animals on a day would be held against, before it is done."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Group
from registry.oversight.bars import planned_of, restricted_on, shared_units
from registry.oversight.facts import event_of, needed_by, subject_of
from registry.oversight.limits import EventFacts
from registry.oversight.margins import Limited, Margin, barred_margins, margins, rest_margins
from registry.oversight.models import Enrolment, Session
from registry.oversight.resting import hands_on_days, rules_on
from registry.oversight.used import used_of
from registry.people.models import Person
from registry.projects.models import Procedure, Project


@dataclass(frozen=True, slots=True)
class Meant:
    """Work that is meant: with whom, on which day, by which procedures, where and by whom."""

    project: Project
    day: date
    enrolments: Sequence[Enrolment]
    procedures: Sequence[Procedure]
    place: Enclosure | None = None
    people: Sequence[Person] = ()


def limits_of(meant: Meant) -> list[Margin]:
    """Give each limit, what it allows, what is asked and what is left; none without an animal.

    As many queries for many animals as for one.
    """
    if not meant.enrolments or not meant.procedures:
        return []
    day, procedures = meant.day, meant.procedures
    needed = needed_by(meant.project, day, meant.people)
    used = used_of(needed, {one.pk for one in procedures})
    events = [_event(meant, one, procedure) for one in meant.enrolments for procedure in procedures]
    return [*margins(events, needed, used), *_of_house(meant, events)]


def _event(meant: Meant, enrolment: Enrolment, procedure: Procedure) -> EventFacts:
    subject: Animal | Group = enrolment.subject
    return event_of(
        subject,
        project=meant.project,
        day=meant.day,
        procedure=procedure,
        place=meant.place or subject.enclosure,
        people=meant.people,
        severity=procedure.severity,
        animals=enrolment.number,
        enrolment=enrolment.pk,
    )


def _of_house(meant: Meant, events: Sequence[EventFacts]) -> list[Margin]:
    subjects: list[Any] = [one.subject for one in meant.enrolments]
    is_contact = any(one.is_contact for one in meant.procedures)
    names = {subject_of(one): str(one) for one in subjects}
    kept_off = restricted_on(subjects, meant.day, is_contact=is_contact, project=meant.project)
    found = barred_margins(
        Limited.BARS, {names[k]: said for k, said in kept_off.items()}, meant.day
    )
    if is_contact:
        units = [(one.subject, one.unit) for one in meant.enrolments]
        shared = shared_units(meant.project, units, meant.day)
        bars = {names[key]: said for key, said in shared.items()}
        found += barred_margins(Limited.UNITS, bars, meant.day)
        rules = rules_on(meant.day)
        found += rest_margins(events, hands_on_days(subjects, meant.day, meant.day, rules), rules)
    return found


def meant_by(
    project: Project,
    day: date,
    *,
    enrolments: Iterable[Enrolment] | None = None,
    procedure: Procedure | None = None,
    place: Enclosure | None = None,
    people: Iterable[Person] = (),
) -> Meant:
    """Give what is meant: every animal of the project on the day, and every planned procedure,
    where none is named.
    """
    if enrolments is None:
        rows = Enrolment.objects.filter(project=project).live_on(day)
        enrolments = rows.select_related(*_WITH_HOMES)
    procedures = planned_of(project) if procedure is None else [procedure]
    return Meant(project, day, list(enrolments), procedures, place, list(people))


_WITH_HOMES = ("animal__taxon", "animal__enclosure", "group__taxon", "group__enclosure")


def of_session(session: Session, procedure: Procedure | None = None) -> Meant:
    """Give what a session means: its animals, or all of the project's where it names none yet."""
    chosen = list(session.enrolments.select_related(*_WITH_HOMES).order_by("pk"))
    return meant_by(
        session.project,
        timezone.localdate(session.planned_start),
        enrolments=chosen or None,
        procedure=procedure,
        place=session.place,
        people=session.observers.order_by("pk"),
    )
