"""Bodies meet on days that are planned, and take papers until some days before."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from registry.errors import Conflict, NotPermitted, Unsound
from registry.people import actions
from registry.permissions import Role
from tests.worlds.people import make_body, make_person

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.mark.postgres
def test_a_chair_plans_meetings_and_calls_one_off() -> None:
    body, chair, member = make_body()
    body = actions.describe_body(body, quorum=2, lead_time_d=14, by=make_person(Role.ADMINISTRATOR))
    held_on = timezone.localdate() + 30 * DAY
    with pytest.raises(NotPermitted):
        actions.plan_meeting(body, held_on=held_on, by=member)
    meeting = actions.plan_meeting(body, held_on=held_on, by=chair)
    assert meeting.papers_by == held_on - 14 * DAY
    with pytest.raises(Conflict, match="already"):
        actions.plan_meeting(body, held_on=held_on, by=chair)
    browser = Client()
    browser.force_login(member)
    assert "papers 14 days before" in browser.get(body.get_absolute_url()).content.decode()
    actions.call_off_meeting(body, meeting=meeting, reason="No quorum.", by=chair)
    assert not body.meetings.to_come().exists()
    with pytest.raises(Conflict):
        actions.call_off_meeting(body, meeting=meeting, reason="Again.", by=chair)
    assert actions.plan_meeting(body, held_on=held_on, by=chair).pk != meeting.pk


def test_a_meeting_is_to_come_and_its_papers_are_in_before_it() -> None:
    body, chair, _ = make_body()
    today = timezone.localdate()
    with pytest.raises(Unsound) as refused:
        actions.plan_meeting(body, held_on=today - DAY, by=chair)
    assert list(refused.value.fields) == ["held_on"]
    with pytest.raises(Unsound) as refused:
        actions.plan_meeting(body, held_on=today, papers_by=today + DAY, by=chair)
    assert list(refused.value.fields) == ["papers_by"]
    assert actions.plan_meeting(body, held_on=today, by=chair).papers_by == today


def test_a_body_decides_with_someone() -> None:
    body, chair, _ = make_body()
    administrator = make_person(Role.ADMINISTRATOR)
    with pytest.raises(Unsound, match="Nobody"):
        actions.describe_body(body, quorum=0, lead_time_d=0, by=administrator)
    with pytest.raises(NotPermitted):
        actions.describe_body(body, quorum=1, lead_time_d=0, by=chair)
    assert actions.describe_body(body, quorum=1, lead_time_d=3, by=administrator).quorum == 1
