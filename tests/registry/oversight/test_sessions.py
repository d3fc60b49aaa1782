"""Deeds on sessions."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.utils import timezone

from registry.animals.models import Restriction
from registry.approvals.actions import suspend_approval
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.oversight import actions
from registry.oversight.models import Session
from registry.permissions import Role
from registry.projects.actions import halt_project
from tests.worlds.animals import days_ago, make_enclosure, make_restriction
from tests.worlds.approvals import World, make_collecting, make_ready
from tests.worlds.oversight import (
    make_enrolled,
    make_handling,
    make_held_session,
    make_planned_session,
)
from tests.worlds.people import make_person
from tests.worlds.projects import make_procedure

pytestmark = pytest.mark.django_db


def plan(world: World, **changes: Any) -> Session:
    """Plan a session an hour from now at the world's place, unless said otherwise."""
    start = timezone.now()
    given = {
        "code": "S1",
        "place": world.place,
        "planned_start": start,
        "planned_end": start + timedelta(minutes=30),
        "observers": [world.student],
        "enrolments": [],
        "by": world.student,
        **changes,
    }
    return actions.plan_session(world.project, **given)


def hold(world: World, session: Session, **changes: Any) -> Session:
    """Enter a session as it was planned, when it is over."""
    given = {
        "started_at": session.planned_start,
        "ended_at": session.planned_end,
        "enrolments": list(session.enrolments.all()),
        "procedure": world.procedure,
        "by": world.student,
        **changes,
    }
    with time_machine.travel(session.planned_end + timedelta(minutes=5), tick=False):
        return actions.hold_session(session, **given)


def test_a_session_is_planned_inside_a_booking_by_members_with_enrolled_animals() -> None:
    world, other = make_collecting(), make_collecting()
    with pytest.raises(Unsound, match="No confirmed booking"):
        plan(world)
    enrolments = make_enrolled(world, ends_on=days_ago(-5))
    strangers = make_enrolled(other)
    later = timezone.now() + timedelta(days=6)
    for changes, why in (
        ({"place": make_enclosure()}, "No confirmed booking"),
        (
            {"planned_start": later, "planned_end": later + timedelta(hours=1)},
            "No confirmed booking",
        ),
        ({"planned_end": timezone.now() - timedelta(hours=1)}, "before it starts"),
        ({"code": " "}, "No code"),
        ({"observers": []}, "Nobody observes"),
        ({"observers": [other.student]}, "not in this project"),
        ({"enrolments": strangers}, "not enrolled in this project"),
    ):
        with pytest.raises(Unsound, match=why):
            plan(world, **changes)
    session = plan(world, enrolments=enrolments)
    assert set(session.enrolments.all()) == set(enrolments)
    with pytest.raises(Unsound, match="has a session “S1” already"):
        plan(world)


def test_a_session_is_planned_only_while_the_project_collects() -> None:
    ready = make_ready()
    make_enrolled(ready)
    with pytest.raises(Conflict):
        plan(ready)
    world = make_collecting()
    make_enrolled(world)
    assert plan(world)
    halt_project(world.project, reason="One is ill.", by=make_person(Role.KEEPER))
    with pytest.raises(Conflict, match="halted"):
        plan(world, code="S2")


def test_no_session_is_planned_for_a_day_without_a_live_permission() -> None:
    world = make_collecting()
    make_enrolled(world)
    assert plan(world)
    suspend_approval(world.approval, reason="Look again.", by=make_person(Role.VET))
    with pytest.raises(Unsound, match="is suspended"):
        plan(world, code="S2")


def test_an_observer_whom_the_approval_does_not_name_is_refused() -> None:
    world = make_collecting()
    make_enrolled(world)
    world.approval.people.set([world.student])
    with pytest.raises(Unsound, match=f"does not name {world.lead}"):
        plan(world, observers=[world.student, world.lead])
    assert plan(world)


def test_an_animal_that_left_or_is_barred_is_not_planned_for() -> None:
    world = make_collecting()
    first, second, third = make_enrolled(world, 3)
    actions.discharge_animal(first, left_on=days_ago(0), actual_severity=0, by=world.student)
    with pytest.raises(Unsound, match=f"{first.code}: not enrolled"):
        plan(world, enrolments=[first])
    make_restriction(second.animal)
    with pytest.raises(Unsound, match="under a restriction"):
        plan(world, enrolments=[second])
    make_restriction(third.animal, strength=Restriction.Strength.OBSERVATION_ONLY)
    assert plan(world, enrolments=[third])


def test_what_happened_is_one_use_for_each_animal_in_view() -> None:
    world = make_collecting()
    enrolments = make_enrolled(world, 3)
    session = make_planned_session(world, enrolments)
    held = hold(
        world,
        session,
        enrolments=enrolments[:2],
        visitors=40,
        noise_db=61.5,
        noise_medium="air",
        notes="A talk next door.",
    )
    assert (held.state, held.visitors) == ("held", 40)
    uses = held.uses.order_by("pk")
    assert [one.enrolment for one in uses] == enrolments[:2]
    assert {(one.procedure, one.place, one.happened_at) for one in uses} == {
        (world.procedure, world.place, session.planned_start)
    }
    assert not held.breaches.exists()
    assert Entry.objects.get(verb="session.hold").after == "held"


def test_a_session_is_not_entered_before_it_is_over() -> None:
    world = make_collecting()
    session = make_planned_session(world)
    with pytest.raises(Unsound, match="has not happened yet"):
        actions.hold_session(
            session,
            started_at=session.planned_start,
            ended_at=timezone.now() + timedelta(minutes=1),
            enrolments=[],
            procedure=world.procedure,
            by=world.student,
        )
    with pytest.raises(Unsound, match="before it starts"):
        hold(world, session, ended_at=session.planned_start)
    with pytest.raises(Unsound, match="nothing without its medium"):
        hold(world, session, noise_db=60)
    with pytest.raises(Unsound, match="nothing without its medium"):
        hold(world, session, noise_medium="water")
    with pytest.raises(Unsound, match="not enrolled in this project"):
        hold(world, session, enrolments=make_enrolled(make_collecting()))
    with pytest.raises(NotPermitted):
        hold(world, session, by=world.curator)
    assert hold(world, session).state == "held"
    with pytest.raises(Conflict):
        hold(world, session)


def test_what_passed_a_limit_is_entered_all_the_same_and_opens_breaches() -> None:
    world = make_handling()
    first, second = make_enrolled(world)
    session = make_planned_session(world, [first, second])
    make_restriction(first.animal)
    world.approval.limits.update(max_contacts_each=1)
    hold(world, session)
    assert session.uses.count() == 2
    (breach,) = session.breaches.all()
    assert (breach.code, breach.animal, breach.state) == ("restricted", first.animal, "opened")
    again = make_planned_session(world, [second])
    hold(world, again)
    (breach,) = again.breaches.all()
    assert (breach.code, breach.approval) == ("over-contacts", world.approval)
    assert "time 2" in breach.said


def test_another_procedure_than_was_approved_is_a_breach() -> None:
    world = make_collecting()
    session = make_held_session(world, procedure=make_procedure("netting"))
    codes = sorted(session.breaches.values_list("code", flat=True))
    assert codes == ["over-severity"] * 2 + ["procedure-not-covered"] * 2


def test_a_session_in_a_halt_is_entered_and_is_a_breach() -> None:
    world = make_collecting()
    enrolments = make_enrolled(world)
    session = make_planned_session(world, enrolments, start=timezone.now() + timedelta(hours=1))
    halt_project(world.project, reason="One is ill.", by=make_person(Role.KEEPER))
    hold(world, session)
    assert set(session.breaches.values_list("code", flat=True)) == {"halted"}


def test_a_missed_session_says_why_and_writes_no_use() -> None:
    world = make_collecting()
    session = make_planned_session(world)
    with pytest.raises(Unsound, match="No reason"):
        actions.miss_session(session, reason="", by=world.student)
    missed = actions.miss_session(session, reason="The pool was drained.", by=world.student)
    assert (missed.state, missed.missing_reason) == ("missed", "The pool was drained.")
    assert not session.uses.exists()


def test_an_abandoned_session_keeps_its_uses() -> None:
    world = make_collecting()
    session = make_held_session(world)
    with pytest.raises(Unsound, match="No reason"):
        actions.abandon_session(session, reason="", by=world.student)
    actions.abandon_session(session, reason="The sheet fell in.", by=world.student)
    assert session.uses.standing().count() == 2
