"""Who was here, and where, on an earlier day; by what is known now and by what was known then."""

from datetime import date
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from registry.animals import actions
from registry.animals.reads import end_of, lived_in, numbers_on, states_on
from registry.animals.then import then_of
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_enclosure, make_group, make_restriction
from tests.worlds.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]
TODAY = days_ago(0)


@pytest.fixture
def curator() -> Person:
    return make_person(Role.CURATOR)


def who(enclosure: Any, day: date, **known: Any) -> dict[str, int]:
    return {row.code: state.count.total for row, state in lived_in(enclosure, day, **known)}


def test_an_enclosure_tells_who_lived_in_it_on_any_day(curator: Person) -> None:
    here, there = make_enclosure(), make_enclosure()
    ray = make_animal(code="ray", enclosure=here, arrived_on=days_ago(90))
    shoal = make_group(code="shoal", enclosure=here, arrived_on=days_ago(80))
    actions.move_animal(ray, enclosure=there, happened_on=days_ago(50), by=curator)
    actions.count_group(shoal, unknown=-4, sort="died", happened_on=days_ago(40), by=curator)
    actions.leave_group(shoal, sort="departed", happened_on=days_ago(10), by=curator)
    by_day = {days: who(here, days_ago(days)) for days in (91, 90, 80, 50, 40, 11, 10, 0)}
    assert by_day == {
        91: {},
        90: {"ray": 1},
        80: {"ray": 1, "shoal": 9},
        50: {"shoal": 9},
        40: {"shoal": 5},
        11: {"shoal": 5},
        10: {},
        0: {},
    }
    assert who(there, TODAY) == {"ray": 1}


def test_what_was_recorded_late_is_seen_only_from_its_recording_on(curator: Person) -> None:
    with time_machine.travel(end_of(days_ago(20)), tick=False):
        tank = make_enclosure()
        shoal = make_group(code="late", enclosure=tank, arrived_on=days_ago(30))
        before = numbers_on(days_ago(25))
    actions.count_group(shoal, unknown=-3, sort="died", happened_on=days_ago(26), by=curator)
    day, then = days_ago(25), end_of(days_ago(20))
    assert who(tank, day, known_by=then) == {"late": 9}
    assert who(tank, day) == {"late": 6}
    assert numbers_on(day, then) == before
    assert numbers_on(day) == before - 3
    actions.take_back_group_event(shoal, reason="they hid", by=curator)
    assert who(tank, day) == {"late": 9}
    assert who(tank, day, known_by=then) == {"late": 9}


def test_states_cost_the_same_queries_however_many_they_are() -> None:
    made = []
    for _ in range(2):
        rows = [*(make_animal() for _ in range(3)), *(make_group() for _ in range(3))]
        with CaptureQueriesContext(connection) as counted:
            states = states_on(rows, TODAY)
        made.append(len(counted))
        assert all(states[str(row.kind), row.pk].is_here for row in rows)
    assert made == [2, 2]


def test_the_page_of_an_enclosure_looks_back_and_never_ahead(
    client: Client, curator: Person
) -> None:
    tank = make_enclosure()
    ray = make_animal(name="Morwen", enclosure=tank, arrived_on=days_ago(90))
    actions.move_animal(ray, enclosure=make_enclosure(), happened_on=days_ago(50), by=curator)
    client.force_login(make_person(Role.STUDENT))
    address = tank.get_absolute_url()
    for days, is_there in ((60, True), (50, False)):
        page = client.get(address, {"on": days_ago(days).isoformat()})
        assert ("Morwen" in page.content.decode()) is is_there
    ahead = client.get(address, {"on": days_ago(-1).isoformat()})
    assert "has not come yet" in ahead.content.decode()


def test_the_page_and_the_api_look_back_by_what_was_known_then(
    client: Client, curator: Person
) -> None:
    here, there = make_enclosure(name="North tank"), make_enclosure(name="South tank")
    with time_machine.travel(end_of(days_ago(20)), tick=False):
        ray = make_animal(sex="unknown", enclosure=here, arrived_on=days_ago(90))
    actions.move_animal(ray, enclosure=there, happened_on=days_ago(50), by=curator)
    barred = make_restriction(ray, sort="moult", began_on=days_ago(40))
    client.force_login(make_person(Role.STUDENT))
    days = {"on": days_ago(30).isoformat()}
    known = {**days, "known": days_ago(20).isoformat()}
    of_api = f"/api/v1/animals/{ray.pk}/as_of/"
    now, then = (client.get(of_api, asked).json() for asked in (days, known))
    assert (now["enclosure"], now["restrictions"]) == (there.pk, [barred.pk])
    assert (then["enclosure"], then["restrictions"]) == (here.pk, [])
    assert client.get(of_api, {"on": days_ago(200).isoformat()}).json()["is_here"] is False
    page = client.get(ray.get_absolute_url(), known).content.decode()
    assert "nothing barred it" in page
    assert "what was recorded later is left out" in page
    page = client.get(ray.get_absolute_url(), {"on": days_ago(200).isoformat()}).content.decode()
    assert "It was not here." in page
    lived = f"/api/v1/enclosures/{here.pk}/lived_here/"
    assert client.get(lived, days).json()["lived_here"] == []
    (one,) = client.get(lived, known).json()["lived_here"]
    assert (one["id"], one["females"], one["unknown"]) == (ray.pk, 0, 1)
    ahead = client.get(of_api, {"known": days_ago(-1).isoformat()})
    assert ahead.status_code == 422
    assert "has not come yet" in ahead.json()["why"]


def test_a_restriction_that_was_ended_later_still_bars_by_what_was_known(curator: Person) -> None:
    with time_machine.travel(end_of(days_ago(20)), tick=False):
        ray = make_animal()
        barred = make_restriction(ray, sort="moult", began_on=days_ago(40))
    actions.end_restriction(barred, ended_on=days_ago(35), reason="it was over", by=curator)
    assert then_of(ray, days_ago(30), None).restrictions == []
    assert then_of(ray, days_ago(30), days_ago(20)).restrictions == [barred]
    assert then_of(ray, days_ago(30), days_ago(21)).restrictions == []
