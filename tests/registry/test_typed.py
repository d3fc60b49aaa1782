"""What was typed and could not be taken in is kept, and given back to whoever typed it."""

from typing import Any

import pytest
from django.test import Client

from registry.people.actions import end_standing
from registry.permissions import Role
from registry.questions.models import Question
from tests.worlds.people import fresh, make_person
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db

WORDS = "All tanks are full until the spring."


def sent_signed_out(client: Client, by: Any, question: Question, **more: str) -> Any:
    return client.post(
        f"/questions/{question.pk}/park/", {"reason": WORDS, "typed_by": str(by.pk), **more}
    )


def test_a_form_says_whose_it_is(client: Client) -> None:
    curator, question = make_person(Role.CURATOR), make_question()
    client.force_login(curator)
    page = client.get(f"/questions/{question.pk}/park/").content.decode()
    assert f'<input type="hidden" name="typed_by" value="{curator.pk}">' in page


def test_what_was_sent_after_the_session_ended_is_back_after_signing_in(client: Client) -> None:
    curator, question = make_person(Role.CURATOR), make_question()
    answer = sent_signed_out(client, curator, question)
    assert answer.headers["Location"] == f"/sign-in/?next=/questions/{question.pk}/park/"
    client.force_login(curator)
    page = client.get(f"/questions/{question.pk}/park/").content.decode()
    assert WORDS in page
    assert "It has not been sent yet" in page
    assert Question.objects.get(pk=question.pk).state == "posted"
    again = client.get(f"/questions/{question.pk}/park/").content.decode()
    assert WORDS not in again


def test_nobody_else_is_given_what_a_person_typed(client: Client) -> None:
    curator, other, question = make_person(Role.CURATOR), make_person(Role.CURATOR), make_question()
    sent_signed_out(client, curator, question)
    client.force_login(other)
    assert WORDS not in client.get(f"/questions/{question.pk}/park/").content.decode()


def test_without_a_name_on_the_form_nothing_is_kept(client: Client) -> None:
    question = make_question()
    for said in ("", "x", "-1"):
        client.post(f"/questions/{question.pk}/park/", {"reason": WORDS, "typed_by": said})
    assert "typed" not in client.session


def test_secrets_and_what_is_very_long_are_not_kept(client: Client) -> None:
    curator, question = make_person(Role.CURATOR), make_question()
    sent_signed_out(client, curator, question, new_password1="sesame", otp_code="123456")
    assert "sesame" not in str(client.session["typed"])
    assert "123456" not in str(client.session["typed"])
    sent_signed_out(client, curator, make_question(), note="x" * 70_000)
    assert len(client.session["typed"]) == 1
    for _ in range(5):
        sent_signed_out(client, curator, make_question())
    assert len(client.session["typed"]) == 3


def test_a_page_that_stood_open_too_long_gives_back_what_was_typed() -> None:
    client = Client(enforce_csrf_checks=True)
    curator, question = make_person(Role.CURATOR), make_question()
    client.force_login(curator)
    page = sent_signed_out(client, curator, question)
    html = page.content.decode()
    assert page.status_code == 403
    assert "Open the form again" in html
    assert WORDS in html
    assert Question.objects.get(pk=question.pk).state == "posted"
    assert WORDS in client.get(f"/questions/{question.pk}/park/").content.decode()


def test_what_another_site_sent_is_neither_kept_nor_shown() -> None:
    client = Client(enforce_csrf_checks=True)
    curator, question = make_person(Role.CURATOR), make_question()
    client.force_login(curator)
    page = client.post(
        f"/questions/{question.pk}/park/",
        {"reason": WORDS, "typed_by": str(curator.pk)},
        headers={"origin": "https://evil.example"},
    )
    assert page.status_code == 403
    assert WORDS not in page.content.decode()
    assert "typed" not in client.session


def test_a_refusal_without_a_form_still_shows_what_was_typed(client: Client) -> None:
    curator, question = make_person(Role.CURATOR), make_question()
    end_standing(curator, role=Role.CURATOR, reason="left", by=make_person(Role.ADMINISTRATOR))
    client.force_login(fresh(curator))
    page = sent_signed_out(client, curator, question)
    html = page.content.decode()
    assert page.status_code == 403
    assert "What you typed" in html
    assert WORDS in html


def test_a_conflict_keeps_the_form_as_it_was(client: Client) -> None:
    curator, question = make_person(Role.CURATOR), make_question()
    client.force_login(curator)
    assert sent_signed_out(client, curator, question).status_code == 302
    again = sent_signed_out(client, curator, question)
    assert again.status_code == 409
    assert WORDS in again.content.decode()
