"""Bookings, enrolments, sessions and uses for the tests, on top of a project that collects."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from itertools import count
from typing import Any

import time_machine
from django.utils import timezone

from registry.animals.models import Animal, Group
from registry.approvals import actions as approvals
from registry.approvals.models import Approval
from registry.approvals.screens import Said
from registry.oversight import actions
from registry.oversight.models import Booking, Breach, Enrolment, Session, Use
from registry.permissions import Role
from tests.worlds.animals import make_animals, make_enclosure, make_taxon
from tests.worlds.approvals import World, make_collecting, make_request, screen_limits, state_needs
from tests.worlds.people import make_body, make_person
from tests.worlds.projects import (
    fresh_project,
    lead_of,
    make_plan_accepted,
    make_procedure,
    student_of,
)

__all__ = [
    "make_breach",
    "make_confirmed_booking",
    "make_enrolled",
    "make_handling",
    "make_held_session",
    "make_offered_booking",
    "make_planned_session",
    "make_regulated",
    "make_requested_booking",
    "make_two_under_one",
    "make_use",
]

_number = count(1)


def make_handling(**more: Any) -> World:
    """Give a project that collects by weighing and measuring, in which animals are touched."""
    return make_collecting(procedure=make_procedure("weighing-measuring"), **more)


def make_regulated(**more: Any) -> World:
    """Give one in which that is screened as regulated."""
    world = make_handling(**more)
    approvals.screen_procedure(
        world.project,
        procedure=world.procedure,
        taxon=world.taxon,
        life_stage="adult",
        told=Said("uk", "scientific", "reaches"),
        answer="regulated",
        reason="As the inspector said.",
        by=world.chair,
    )
    return world


def make_two_under_one(*, max_animals: int = 3) -> tuple[World, World]:
    """Give two projects that collect under one and the same approval, led by one person."""
    procedure, place, taxon = make_procedure("weighing-measuring"), make_enclosure(), make_taxon()
    shared: dict[str, Any] = {"procedure": procedure, "places": [place], "taxon": taxon}
    first = make_plan_accepted(**shared)
    lead = lead_of(first)
    second = make_plan_accepted(**shared, lead=lead)
    curator = make_person(Role.CURATOR)
    body, chair, member = make_body()
    request = make_request(first, body, places=[place], max_severity=procedure.severity)
    approvals.cover_project(request, project=second, by=lead)
    approvals.add_limit(request, taxon=taxon, procedure=procedure, max_animals=max_animals, by=lead)
    screen_limits(request, by=chair)
    approvals.submit_approval(request, by=lead)
    approvals.grant_approval(request, decision="Sound.", deciders=[chair, member], by=chair)
    worlds = []
    for project in (first, second):
        student = student_of(project)
        state_needs(project, "research-committee", by=lead)
        approvals.start_project(project, by=lead)
        worlds.append(
            World(
                project=fresh_project(project),
                lead=lead,
                student=student,
                curator=curator,
                approval=Approval.objects.get(pk=request.pk),
                body=body,
                chair=chair,
                member=member,
                taxon=taxon,
                procedure=procedure,
                place=place,
            )
        )
    return worlds[0], worlds[1]


def make_requested_booking(
    world: World, *, starts_on: date | None = None, ends_on: date | None = None
) -> Booking:
    """Give a booking that the student asked for; the whole of the project from today on."""
    return actions.request_booking(
        world.project,
        wish="Twelve adult rays that feed well.",
        starts_on=starts_on or max(timezone.localdate(), world.project.starts_on),
        ends_on=ends_on or world.project.ends_on,
        by=world.student,
    )


def make_offered_booking(
    world: World,
    n: int = 2,
    *,
    animals: Sequence[Animal] | None = None,
    groups: Sequence[tuple[Group, int]] = (),
    max_contacts_each: int | None = None,
    starts_on: date | None = None,
    ends_on: date | None = None,
) -> Booking:
    """Give a booking that the curator offered: n new animals, unless some are given."""
    booking = make_requested_booking(world, starts_on=starts_on, ends_on=ends_on)
    if animals is None:
        animals = [] if groups else make_animals(n, taxon=world.taxon, enclosure=world.place)
    return actions.offer_booking(
        booking,
        animals=animals,
        groups=groups,
        places=[world.place],
        starts_on=booking.starts_on,
        ends_on=booking.ends_on,
        max_contacts_each=max_contacts_each,
        by=world.curator,
    )


def make_confirmed_booking(world: World, n: int = 2, **more: Any) -> Booking:
    """Give a confirmed booking of n new animals; see make_offered_booking for what may be said."""
    return actions.confirm_booking(make_offered_booking(world, n, **more), by=world.curator)


def make_enrolled(
    world: World, n: int = 2, *, from_on: date | None = None, **more: Any
) -> list[Enrolment]:
    """Give n animals enrolled from today on, under a new booking."""
    booking = make_confirmed_booking(world, n, **more)
    return actions.enrol_animals(
        booking,
        subjects=list(booking.subjects.all()),
        from_on=from_on or booking.starts_on,
        by=world.student,
    )


def make_planned_session(
    world: World,
    enrolments: Sequence[Enrolment] | None = None,
    *,
    start: datetime | None = None,
    code: str = "",
) -> Session:
    """Give a session planned for today, or for another time, with these animals or two new ones."""
    start = start or timezone.now()
    return actions.plan_session(
        world.project,
        code=code or f"S{next(_number)}",
        place=world.place,
        planned_start=start,
        planned_end=start + timedelta(minutes=30),
        observers=[world.student],
        enrolments=make_enrolled(world) if enrolments is None else enrolments,
        by=world.student,
    )


def make_held_session(
    world: World,
    enrolments: Sequence[Enrolment] | None = None,
    *,
    start: datetime | None = None,
    **more: Any,
) -> Session:
    """Give a session that was held just now: it is planned, time passes, and it is entered."""
    session = make_planned_session(world, enrolments, start=start)
    with time_machine.travel(max(timezone.now(), session.planned_end), tick=False):
        return actions.hold_session(
            session,
            started_at=session.planned_start,
            ended_at=session.planned_end,
            enrolments=list(session.enrolments.all()),
            procedure=more.pop("procedure", world.procedure),
            by=world.student,
            **more,
        )


def make_use(world: World, enrolment: Enrolment | None = None, **more: Any) -> Use:
    """Give a use of an enrolled animal, just now unless said otherwise."""
    if enrolment is None and not {"animal", "group"} & set(more):
        enrolment = make_enrolled(world, 1)[0]
    given: dict[str, Any] = {
        "enrolment": enrolment,
        "procedure": world.procedure,
        "happened_at": timezone.now(),
        "by": world.student,
        **more,
    }
    return actions.record_use(world.project, **given)


def make_breach(world: World) -> Breach:
    """Give a breach that is to be explained: an animal was used that was never enrolled."""
    animal = make_animals(1, taxon=world.taxon, enclosure=world.place)[0]
    return make_use(world, animal=animal).breaches.get()
