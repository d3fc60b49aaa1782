"""Rules of rest between hands-on events: set, ended, counted over all projects, shown ahead."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st
from rest_framework.test import APIClient

from registry.errors import NotPermitted, Unsound
from registry.oversight import actions
from registry.oversight.limits import EventFacts, RestFacts, rested
from registry.oversight.limits.rest import fullest
from registry.oversight.models import Breach, RestRule
from registry.permissions import Role
from tests.worlds.oversight import (
    make_enrolled,
    make_handling,
    make_planned_session,
    make_two_under_one,
    make_use,
)
from tests.worlds.people import make_person
from tests.worlds.projects import make_procedure

DAY = date(2026, 5, 10)


def set_rule(**more: object) -> RestRule:
    given: dict[str, object] = {
        "most": 1,
        "days": 3,
        "why": "Rays need two quiet days.",
        "from_on": timezone.localdate() - timedelta(days=60),
        "by": make_person(Role.CURATOR),
        **more,
    }
    return actions.set_rest_rule(**given)  # type: ignore[arg-type]  # why: a test's own words


@given(st.lists(st.integers(-40, 40), max_size=12), st.integers(1, 20))
def test_no_window_that_holds_the_day_is_fuller_than_the_fullest(
    offsets: list[int], length: int
) -> None:
    contacts = sorted([DAY, *(DAY + timedelta(days=one) for one in offsets)])
    windows = [DAY + timedelta(days=back) for back in range(1 - length, 1)]
    counted = [
        sum(first <= one < first + timedelta(days=length) for one in contacts) for first in windows
    ]
    assert fullest(contacts, DAY, length) == max(counted)


def test_a_longer_window_is_never_emptier() -> None:
    contacts = [DAY + timedelta(days=n) for n in (-9, -3, 0, 2, 2, 11)]
    counts = [fullest(contacts, DAY, length) for length in range(1, 30)]
    assert all(one <= other for one, other in pairwise(counts))
    assert counts[-1] == len(contacts)


def test_a_rule_binds_its_taxon_while_it_holds() -> None:
    rule = RestFacts(1, 1, 3, DAY, "Ann", taxon=5, until=DAY + timedelta(days=2))
    event = EventFacts(DAY)
    assert rested(event, [DAY], [rule]) == []  # of another taxon, as far as is known
    everyone = RestFacts(2, 1, 3, DAY, "Ann", until=DAY + timedelta(days=2))
    assert [one.left for one in rested(event, [DAY], [everyone])] == [-1]
    late = EventFacts(DAY + timedelta(days=2))
    assert rested(late, [DAY], [everyone]) == []


@pytest.mark.django_db
def test_a_rule_is_set_by_curator_or_vet_with_a_reason_and_ended_with_another() -> None:
    with pytest.raises(NotPermitted):
        set_rule(by=make_person(Role.KEEPER))
    for wrong in ({"most": 0}, {"days": 366}, {"why": " "}):
        with pytest.raises(Unsound):
            set_rule(**wrong)
    rule = set_rule()
    with pytest.raises(Unsound):
        actions.end_rest_rule(rule, reason=" ", by=make_person(Role.VET))
    rule = actions.end_rest_rule(rule, reason="They take no notice.", by=make_person(Role.VET))
    assert (rule.state, rule.ended_on) == ("ended", timezone.localdate())


@pytest.mark.django_db
@pytest.mark.postgres
def test_hands_on_work_without_rest_is_a_breach_over_all_projects_and_watching_is_not() -> None:
    first, second = make_two_under_one()
    set_rule(why="Two quiet days.")
    enrolled = make_enrolled(first, 1, from_on=timezone.localdate())[0]
    now = timezone.now()
    assert not make_use(first, enrolled, happened_at=now).breaches.filter(code="rest-not-kept")
    watched = make_use(first, enrolled, procedure=make_procedure(), happened_at=now)
    assert not watched.breaches.filter(code="rest-not-kept")
    again = make_use(second, animal=enrolled.animal, happened_at=now)
    breach = again.breaches.get(code="rest-not-kept")
    assert "1 in any 3 days" in breach.said
    assert "would have 2" in breach.said


@pytest.mark.django_db
def test_an_entry_that_comes_late_is_held_against_the_days_after_it_too() -> None:
    world = make_handling(days_ago=20)
    set_rule()
    enrolled = make_enrolled(world, 1)[0]
    now = timezone.now()
    make_use(world, enrolled, happened_at=now)
    make_use(world, enrolled, happened_at=now - timedelta(days=4))
    assert not Breach.objects.filter(code="rest-not-kept").exists()
    make_use(world, enrolled, happened_at=now - timedelta(days=2))
    assert Breach.objects.filter(code="rest-not-kept").count() == 1


@pytest.mark.django_db
def test_a_session_tells_ahead_what_each_limit_leaves_at_the_same_cost_for_many() -> None:
    world = make_handling()
    set_rule()
    enrolled = make_enrolled(world, 3)
    make_use(world, enrolled[0])
    api = APIClient()
    api.force_authenticate(world.student)
    counts = []
    for chosen in (enrolled[:1], enrolled):
        session = make_planned_session(world, chosen)
        with CaptureQueriesContext(connection) as asked:
            told = api.get(f"/api/v1/sessions/{session.pk}/limits/").json()
        counts.append(len(asked))
    assert counts[0] == counts[1]
    rest = next(one for one in told if one["limited"] == "rest between hands-on events")
    assert (rest["left"], rest["is_kept"]) == (-1, False)
    assert {one["limited"] for one in told} >= {"people", "places", "days", "keep off"}
    of_use = api.get(f"/api/v1/enrolments/{enrolled[1].pk}/limits/").json()
    rest = next(one for one in of_use if one["limited"] == "rest between hands-on events")
    assert (rest["left"], rest["is_kept"]) == (0, True)
    api.force_login(world.student)
    page = api.get(f"/oversight/projects/{world.project.pk}/record_use/").content.decode()
    assert "Each limit, and what it leaves" in page


@pytest.mark.django_db
def test_whoever_does_the_work_needs_a_live_induction_where_one_is_needed() -> None:
    world = make_handling()
    enrolled = make_enrolled(world, 1)[0]
    assert not make_use(world, enrolled).breaches.exists()
    breach = make_use(world, enrolled, by=world.lead).breaches.get()
    assert str(world.lead) in breach.said
    assert breach.code == "no-live-permission"
