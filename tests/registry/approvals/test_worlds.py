"""The ready states are what they say."""

import pytest

from tests.worlds.approvals import make_accepted, make_collecting, make_ready

pytestmark = pytest.mark.django_db


def test_the_ready_states_are_what_they_say() -> None:
    assert make_accepted().state == "accepted"
    assert make_ready().project.state == "accepted"
    world = make_collecting(days_ago=20)
    assert (world.project.state, world.approval.state) == ("collecting", "approved")
