"""Adverse events, deviations, keeper time, and what an animal went through in all its life."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from registry.answers.standing import missing_to_close
from registry.approvals import actions as approvals
from registry.approvals.screens import Said
from registry.errors import NotPermitted, Unsound
from registry.oversight import actions
from registry.oversight.account import account_of, asked_min
from registry.oversight.lifetime import lifetime_of
from registry.oversight.models import AdverseEvent
from registry.permissions import Role
from tests.worlds.animals import make_animal
from tests.worlds.approvals import World
from tests.worlds.oversight import make_enrolled, make_handling, make_use
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def report(world: World, **more: object) -> AdverseEvent:
    given: dict[str, object] = {
        "sort": "injury",
        "text": "A scratch on the left wing; the net was changed.",
        "happened_at": timezone.now(),
        "by": make_person(Role.KEEPER),
        **more,
    }
    return actions.report_event(world.project, **given)  # type: ignore[arg-type]  # why: a test's own


def test_a_keeper_reports_harm_and_only_a_vet_outside_the_project_assesses_it() -> None:
    world = make_handling()
    one = make_enrolled(world, 1)[0]
    for wrong in (
        {"happened_at": timezone.now() + timedelta(hours=1)},
        {"text": " "},
        {"enrolment": make_enrolled(make_handling(), 1)[0]},
    ):
        with pytest.raises(Unsound):
            report(world, **wrong)
    event = report(world, enrolment=one, end_point="A wound that bleeds.")
    assert event.animal == one.animal
    assert any("Not assessed" in said for said in missing_to_close(world.project))
    given = {"severity": 1, "course": "watch", "assessment": "It heals."}
    with pytest.raises(NotPermitted):
        actions.assess_event(event, **given, by=world.curator)
    with pytest.raises(Unsound):
        actions.assess_event(event, **{**given, "assessment": " "}, by=make_person(Role.VET))
    event = actions.assess_event(event, **given, by=make_person(Role.VET))
    assert (event.state, event.course) == ("assessed", "watch")
    assert not world.project.breaches.exists()
    assert not any("Not assessed" in said for said in missing_to_close(world.project))


def test_harm_beyond_the_severity_expected_is_a_breach() -> None:
    world = make_handling()
    event = report(world, enrolment=make_enrolled(world, 1)[0])
    actions.assess_event(
        event, severity=3, course="withdraw", assessment="Too much.", by=make_person(Role.VET)
    )
    assert {one.code for one in world.project.breaches.all()} == {"over-severity"}


def test_deviations_and_keeper_time_are_kept_and_a_wrong_time_is_taken_back() -> None:
    world = make_handling()
    today = timezone.localdate()
    with pytest.raises(Unsound):
        actions.record_deviation(
            world.project, text="A day later.", why=" ", happened_on=today, by=world.student
        )
    with pytest.raises(NotPermitted):
        actions.record_deviation(
            world.project, text="A", why="B", happened_on=today, by=make_person(Role.KEEPER)
        )
    actions.record_deviation(
        world.project, text="A day later.", why="A storm.", happened_on=today, by=world.student
    )
    keeper = make_person(Role.KEEPER)
    for wrong in ({"minutes": 0}, {"minutes": 1441}, {"minutes": -30}):
        with pytest.raises(Unsound):
            actions.log_time(world.project, **wrong, happened_on=today, by=keeper)
    for minutes, note in ((90, ""), (60, ""), (-60, "logged twice")):
        actions.log_time(world.project, minutes=minutes, note=note, happened_on=today, by=keeper)
    found = account_of(world.project)
    assert (found.deviations, found.spent_min) == (1, 90)


def test_the_account_holds_what_was_planned_and_what_was_done() -> None:
    world = make_handling()
    first, second = make_enrolled(world, 2)
    make_use(world, first)
    wrong = make_use(world, second)
    actions.reverse_use(wrong, reason="Another one.", by=world.student)
    actions.discharge_animal(
        first, left_on=timezone.localdate(), actual_severity=1, by=world.student
    )
    report(world)
    found = account_of(world.project)
    assert (found.enrolled_animals, found.uses, found.contacts) == (2, 1, 1)
    assert (found.severities, found.still_enrolled) == ({"mild": 1}, 1)
    assert (found.events, found.unexpected_events, found.events_to_assess) == (1, 1, 1)
    week = world.project.starts_on + timedelta(days=6)
    assert asked_min(world.project, week) == 2 * 60  # two hours a week, for a week
    assert asked_min(world.project, world.project.starts_on - timedelta(days=1)) == 0
    page = Client()
    page.force_login(world.student)
    shown = page.get(f"/oversight/projects/{world.project.pk}/account/").content.decode()
    assert "2 enrolled of 12 planned" in shown
    stranger = Client()
    stranger.force_login(make_person(Role.STUDENT))
    address = f"/oversight/projects/{world.project.pk}/account/"
    assert stranger.get(address).status_code in {403, 404}


def test_a_lifetime_holds_every_project_and_tells_regulated_work_from_watching() -> None:
    first = make_handling()
    second = make_handling(places=[first.place], taxon=first.taxon)
    approvals.screen_procedure(
        first.project,
        procedure=first.procedure,
        taxon=first.taxon,
        life_stage="adult",
        told=Said("uk", "scientific", "reaches"),
        answer="regulated",
        reason="As the rules say.",
        by=first.chair,
    )
    one = make_enrolled(first, 1)[0]
    ray = one.animal
    make_use(first, one)
    actions.discharge_animal(one, left_on=timezone.localdate(), actual_severity=2, by=first.lead)
    make_use(second, animal=ray)
    report(first, enrolment=one)
    life = lifetime_of(ray)
    assert [(part.is_regulated, part.severity, part.uses) for part in life.stretches] == [
        (True, 2, 1),
        (False, 1, 1),
    ]
    assert (life.uses, life.contacts, life.regulated, life.highest) == (2, 2, 1, "moderate")
    assert not life.again.is_allowed
    assert len(life.events) == 1
    never = lifetime_of(make_animal(taxon=first.taxon))
    assert never.again.is_allowed
    assert (never.uses, never.highest) == (0, "")
    page = Client()
    page.force_login(make_person(Role.VET))
    shown = page.get(f"/oversight/lifetime/animals/{ray.pk}/").content.decode()
    assert "Before it is used again" in shown
    told: Any = page.get(f"/api/v1/animals/{ray.pk}/lifetime/")
    lived = told.json()
    assert [(part["is_regulated"], part["severity"]) for part in lived["stretches"]] == [
        (True, 2),
        (False, 1),
    ]
    assert (lived["regulated"], lived["highest"], lived["events"]) == (
        1,
        "moderate",
        [life.events[0].pk],
    )
    assert lived["against"] == list(life.again.against)
    page.force_login(first.student)
    assert page.get(f"/oversight/lifetime/animals/{ray.pk}/").status_code == 403
    assert page.get(f"/api/v1/animals/{ray.pk}/lifetime/").status_code == 403


def test_a_lifetime_costs_as_many_queries_for_many_uses_as_for_one() -> None:
    world = make_handling()
    one = make_enrolled(world, 1)[0]
    counts = []
    for _round in range(2):
        make_use(world, one)
        with CaptureQueriesContext(connection) as asked:
            lifetime_of(one.animal)
        counts.append(len(asked))
    assert counts[0] == counts[1]
