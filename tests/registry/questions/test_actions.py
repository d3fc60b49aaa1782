"""Deeds on questions."""

from datetime import timedelta

import pytest
from django.utils import timezone

from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.permissions import Role, can
from registry.questions import actions
from tests.worlds.people import make_person
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db


def test_a_question_wanted_by_a_past_day_is_refused() -> None:
    keeper = make_person(Role.KEEPER)
    asked = {"title": "t", "why": "w", "would_change": "c", "animals": "rays"}
    yesterday = timezone.localdate() - timedelta(days=1)
    with pytest.raises(Unsound, match="has passed"):
        actions.post_question(**asked, wanted_by=yesterday, by=keeper)
    question = actions.post_question(**asked, by=keeper)
    assert question.state == "posted"


def test_a_student_may_not_post_a_question_but_may_say_that_it_is_liked() -> None:
    student = make_person(Role.STUDENT)
    with pytest.raises(NotPermitted):
        actions.post_question(title="t", why="w", would_change="c", animals="a", by=student)
    question = make_question()
    actions.like_question(question, note="from May on", by=student)
    with pytest.raises(Conflict, match="already"):
        actions.like_question(question, note="", by=student)
    actions.unlike_question(question, by=student)
    with pytest.raises(Conflict, match="have not said"):
        actions.unlike_question(question, by=student)


def test_taking_on_needs_both_months_and_is_recorded_with_its_reason() -> None:
    question, curator = make_question(), make_person(Role.CURATOR)
    with pytest.raises(Unsound, match="one of the two months"):
        actions.take_on_question(question, reason="r", first_month=3, by=curator)
    actions.take_on_question(question, reason="we lack this", by=curator)
    entry = Entry.objects.get(verb="question.take_on")
    assert (entry.before, entry.after, entry.reason) == ("posted", "taken_on", "we lack this")


def test_a_question_merges_only_into_one_that_is_followed() -> None:
    curator = make_person(Role.CURATOR)
    question, other = make_question(), make_question()
    with pytest.raises(Unsound, match="still followed"):
        actions.merge_question(question, into=question, reason="r", by=curator)
    actions.merge_question(question, into=other, reason="the same", by=curator)
    question.refresh_from_db()
    assert (question.state, question.merged_into) == ("merged", other)


def test_a_parked_question_is_reopened_and_a_declined_one_is_not() -> None:
    curator = make_person(Role.CURATOR)
    question, other = make_question(), make_question()
    actions.park_question(question, reason="no tanks", by=curator)
    actions.reopen_question(question, reason="tanks again", by=curator)
    actions.decline_question(other, reason="known", by=curator)
    with pytest.raises(Conflict):
        actions.reopen_question(other, reason="please", by=curator)


def test_what_one_can_do_follows_the_table_and_the_state() -> None:
    question = make_question()
    assert can(question, make_person(Role.STUDENT)) == ["like", "unlike"]
    assert "take_on" in can(question, make_person(Role.CURATOR))
    assert can(question, make_person(Role.KEEPER)) == []
