"""Margins of limits on the page of enrolling and in the API."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from registry.oversight import actions
from registry.oversight.bars import margins_of
from tests.worlds.oversight import make_confirmed_booking, make_handling

pytestmark = pytest.mark.django_db


def test_the_limits_of_a_booking_are_told_with_what_they_leave_on_the_page_and_in_the_api() -> None:
    world = make_handling()
    booking = make_confirmed_booking(world, 2)
    api = APIClient()
    api.force_authenticate(world.student)
    address = f"/api/v1/bookings/{booking.pk}/limits/"
    told = {one["limited"]: one for one in api.get(address).json()}
    line = world.approval.limits.get()
    assert told["animals"]["approval"] == world.approval.pk
    assert told["animals"]["asked"] == "2"
    assert told["animals"]["left"] == line.max_animals - 2
    assert told["animals"]["is_kept"]
    late = (world.approval.ends_on + timedelta(days=1)).isoformat()
    told = {one["limited"]: one for one in api.get(address, {"on": late}).json()}
    assert (told["days"]["left"], told["days"]["is_kept"]) == (-1, False)
    refused = api.get(address, {"on": "soon"})
    assert refused.status_code == 400, refused.content
    api.force_login(world.student)
    page = api.get(f"/oversight/bookings/{booking.pk}/enrol/").content.decode()
    assert "Each limit, and what it leaves" in page


def test_the_limits_of_many_animals_cost_as_many_queries_as_those_of_one() -> None:
    counts = []
    for animals in (1, 6):
        booking = make_confirmed_booking(make_handling(), animals)
        with CaptureQueriesContext(connection) as asked:
            assert margins_of(booking, timezone.localdate())
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_what_is_enrolled_already_asks_for_no_more_limits() -> None:
    world = make_handling()
    booking = make_confirmed_booking(world, 1)
    assert margins_of(booking, timezone.localdate())
    actions.enrol_animals(
        booking,
        subjects=list(booking.subjects.all()),
        from_on=timezone.localdate(),
        by=world.student,
    )
    assert margins_of(booking, timezone.localdate()) == []
