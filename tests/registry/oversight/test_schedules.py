"""Every session of a schedule planned in one go, or none; told why not."""

from datetime import datetime, time, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from registry import design
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger import proof
from registry.oversight import actions
from registry.oversight.models import Enrolment, Session
from registry.projects.models import DesignPart, Project
from tests.worlds.animals import make_restriction
from tests.worlds.approvals import World, make_collecting
from tests.worlds.oversight import make_confirmed_booking, make_enrolled, make_planned_session

pytestmark = pytest.mark.django_db
TOMORROW = timezone.localdate() + timedelta(days=1)


def scheduled(world: World, enrolled: list[Enrolment], days: int = 4) -> World:
    """Write a schedule of some days into a plan that collects, as if it had stood there before."""
    given = {
        "animals": [one.code for one in enrolled],
        "days": [(TOMORROW + timedelta(days=one)).isoformat() for one in range(-3, days)],
        "slots": [["10:00", ""], ["15:00", ""]],
        "length_min": 45,
        "watched": 1,
        "seed": "00" * 32,
    }
    kept = design.reckoned("schedule", given)
    DesignPart.objects.filter(plan=world.project.plan).update(is_dropped=True)
    DesignPart.objects.create(
        plan=world.project.plan, part="schedule", given=given, told=kept.told, said=kept.said,
        taken_by=world.lead,
    )  # fmt: skip
    return world


def plan(world: World, **more: Any) -> Project:
    project = Project.objects.get(pk=world.project.pk)
    given = {"place": world.place, "observers": [world.student], "by": world.student, **more}
    return actions.plan_schedule(project, **given)


@pytest.mark.postgres
def test_all_that_is_to_come_is_planned_at_once_each_with_its_own_animals() -> None:
    world = make_collecting()
    enrolled = make_enrolled(world, 2)
    with pytest.raises(Conflict, match="no schedule"):
        plan(world)
    scheduled(world, enrolled)
    begins = timezone.make_aware(datetime.combine(TOMORROW, time(10)))
    make_planned_session(world, [], start=begins)
    plan(world, first=TOMORROW, last=TOMORROW)
    assert Session.objects.count() == 2  # one stood there, and the other of that day
    plan(world)
    planned = list(Session.objects.order_by("planned_start"))
    assert len(planned) == 8
    assert {one.planned_end - one.planned_start for one in planned[1:]} == {timedelta(minutes=45)}
    assert {one.observers.get() for one in planned} == {world.student}
    assert {one.enrolments.count() for one in planned[1:]} == {1}
    assert {one.enrolments.get() for one in planned[1:]} == set(enrolled)
    assert len({one.code for one in planned}) == 8
    with pytest.raises(Conflict, match="nothing is left"):
        plan(world)
    DesignPart.objects.all().delete()  # it was written past the deeds
    assert proof.check(with_subjects=True)[0] == []


def test_where_one_cannot_be_none_is_and_each_is_told() -> None:
    world = make_collecting()
    enrolled = make_enrolled(world, 2, ends_on=TOMORROW + timedelta(days=1))
    scheduled(world, enrolled)
    with pytest.raises(NotPermitted):
        plan(world, by=world.curator)
    with pytest.raises(Unsound, match="not in this project"):
        plan(world, observers=[world.curator])
    with pytest.raises(Unsound, match=r"4 of 8 cannot be: .*No confirmed booking"):
        plan(world)
    assert not Session.objects.exists()
    plan(world, last=TOMORROW)
    make_confirmed_booking(world, 1)
    make_restriction(enrolled[0].animal, strength="bars_all")
    with pytest.raises(Unsound, match="is under a restriction"):
        plan(world)
    part = DesignPart.objects.get(is_dropped=False)
    part.told["sessions"][-1][3] = ["Moss"]
    part.save()
    with pytest.raises(Unsound, match="names Moss, and no enrolled animal"):
        plan(world)
    assert Session.objects.count() == 2


def test_a_hundred_cost_as_many_queries_as_one_and_page_and_api_do_the_same() -> None:
    world = make_collecting()
    enrolled = make_enrolled(world, 2)
    scheduled(world, enrolled, 50)
    counts = []
    for last in (TOMORROW, None):
        with CaptureQueriesContext(connection) as asked:
            plan(world, last=last)
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert Session.objects.count() == 100
    browser, api = Client(), APIClient()
    browser.force_login(world.student)
    api.force_authenticate(world.student)
    page = browser.get(f"/oversight/projects/{world.project.pk}/plan_schedule/")
    assert "Every session of the plan" in page.content.decode()
    sent = {"place": world.place.pk, "observers": [world.student.pk], "codes_begin": "S"}
    refused = api.post(f"/api/v1/projects/{world.project.pk}/plan_schedule/", sent)
    assert (refused.status_code, "nothing is left" in refused.json()["why"]) == (409, True)
    project = browser.get(world.project.get_absolute_url()).content.decode()
    assert "Plan all sessions of the schedule" in project
