"""The brake on guessing, what is told to whoever guesses, and what is written of it."""

import logging
from typing import Any

import pytest
from django.contrib.auth import hashers
from django.core.cache import cache
from django.db import connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from pytest_django import Settings

from registry.people.models import Person
from registry.people.sign_in import brake
from tests.worlds.people import PASSWORD, make_person

pytestmark = pytest.mark.django_db

WRONG = "not this one either"


@pytest.fixture(autouse=True)
def _no_tries_yet() -> None:
    cache.clear()


def sign_in(client: Client, email: str, password: str = WRONG, **heads: str) -> Any:
    return client.post("/sign-in/", {"username": email, "password": password}, **heads)


def test_a_network_that_tries_many_emails_must_rest_and_another_need_not(client: Client) -> None:
    person = make_person()
    for n in range(brake.OF_NETWORK.tries):
        sign_in(client, f"someone{n}@x.example", REMOTE_ADDR="192.0.2.7")
    held = sign_in(client, person.email, PASSWORD, REMOTE_ADDR="192.0.2.7")
    assert b"Too many wrong tries from your network" in held.content
    assert sign_in(client, person.email, PASSWORD, REMOTE_ADDR="192.0.2.8").status_code == 302


@pytest.mark.parametrize(
    ("is_behind", "peer", "forwarded", "network"),
    [
        (False, "192.0.2.7", "198.51.100.1", "192.0.2.7"),
        (True, "127.0.0.1", "198.51.100.1", "198.51.100.1"),
        (True, "127.0.0.1", "203.0.113.9, 198.51.100.1", "198.51.100.1"),
        (True, "127.0.0.1", "made up", "unknown"),
        (True, "192.0.2.7", None, "192.0.2.7"),
        (False, "2001:db8:1:2:3:4:5:6", None, "2001:db8:1:2::/64"),
        (False, "::ffff:192.0.2.7", None, "192.0.2.7"),
        (False, "", None, "unknown"),
    ],
)
def test_the_network_is_what_the_nearest_proxy_saw_and_never_what_the_guesser_says(
    rf: RequestFactory,
    settings: Settings,
    is_behind: bool,
    peer: str,
    forwarded: str | None,
    network: str,
) -> None:
    """Addresses for examples: RFC 5737 and RFC 3849."""
    settings.IS_BEHIND_PROXY = is_behind
    heads = {"X-Forwarded-For": forwarded} if forwarded else {}
    assert brake.network_of(rf.get("/", headers=heads, REMOTE_ADDR=peer)) == network


def test_behind_a_proxy_a_guesser_does_not_slip_the_brake_by_a_made_up_address(
    client: Client, settings: Settings
) -> None:
    settings.IS_BEHIND_PROXY = True
    assert make_person()  # while there is nobody, the page asks for the first one instead
    for n in range(brake.OF_NETWORK.tries):
        heads = {"HTTP_X_FORWARDED_FOR": f"203.0.113.{n}, 198.51.100.1"}
        sign_in(client, f"someone{n}@x.example", **heads)
    last = {"HTTP_X_FORWARDED_FOR": "203.0.113.250, 198.51.100.1"}
    held = sign_in(client, "someone@x.example", **last)
    assert b"from your network" in held.content


def test_a_known_and_an_unknown_email_cost_the_same_work(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    known, stopped, fresh_one = make_person(), make_person(), make_person()
    Person.objects.filter(pk=stopped.pk).update(is_active=False)
    fresh_one.set_unusable_password()
    fresh_one.save()
    runs: list[str] = []
    encode = hashers.MD5PasswordHasher.encode

    def counted(self: Any, password: str, salt: str) -> str:
        runs.append(password)
        return str(encode(self, password, salt))

    monkeypatch.setattr(hashers.MD5PasswordHasher, "encode", counted)
    sign_in(client, "warm@x.example")
    told, asked = set(), set()
    for email in (known.email, "nobody@x.example", stopped.email, fresh_one.email):
        runs.clear()
        with CaptureQueriesContext(connection) as queries:
            page = sign_in(client, email)
        assert len(runs) == 1, email
        asked.add(len(queries))
        told.add(page.content.decode().replace(email, "…").split("<main")[1])
    assert len(asked) == 1, asked
    # Whoever asks sees the same page, but for the token of the form.
    assert len({_without_token(page) for page in told}) == 1


def _without_token(page: str) -> str:
    head, _, rest = page.partition('name="csrfmiddlewaretoken" value="')
    return head + rest.partition('"')[2]


def test_whoever_asks_for_a_link_is_told_the_same_for_every_email(client: Client) -> None:
    known, stopped = make_person(), make_person()
    Person.objects.filter(pk=stopped.pk).update(is_active=False)
    told = set()
    for email in (known.email, "nobody@x.example", stopped.email):
        answer = client.post("/password/forgotten/", {"email": email}, follow=True)
        assert [step for step, _ in answer.redirect_chain] == ["/password/sent/"]
        told.add(answer.content.decode().split("<main")[1].split("</main>")[0])
    assert len(told) == 1


def test_a_letter_box_is_not_filled_with_links(client: Client, mailoutbox: list[Any]) -> None:
    person = make_person()
    for _ in range(brake.OF_LETTERS.tries + 3):
        answer = client.post("/password/forgotten/", {"email": person.email})
        assert answer.headers["Location"] == "/password/sent/"
    assert len(mailoutbox) == brake.OF_LETTERS.tries
    for n in range(brake.OF_LETTERS_TO_A_NETWORK.tries):
        client.post("/password/forgotten/", {"email": f"someone{n}@x.example"})
    page = client.post("/password/forgotten/", {"email": "other@x.example"})
    assert b"Too many links were asked for" in page.content


def test_refusals_are_written_to_the_log_without_what_was_typed(
    client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    person = make_person()
    with caplog.at_level(logging.INFO, "strandline.security"):
        sign_in(client, person.email, WRONG, REMOTE_ADDR="192.0.2.7")
        sign_in(client, WRONG, WRONG, REMOTE_ADDR="192.0.2.7")
        client.get("/api/v1/questions/", headers={"Authorization": "Token abcdef"})
    assert f"Sign-in refused: person {person.pk}, from 192.0.2.7" in caplog.text
    assert "Sign-in refused: nobody known, from 192.0.2.7" in caplog.text
    assert "Token refused: unknown" in caplog.text
    for secret in (WRONG, person.email, "abcdef"):
        assert secret not in caplog.text


def test_a_revoked_token_is_written_to_the_log(
    client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    person = make_person()
    client.force_login(person)
    page = client.post("/people/tokens/", {"name": "logger", "days": "1", "scope": "read"})
    token = person.tokens.get()
    with caplog.at_level(logging.INFO, "strandline.security"):
        client.post(f"/people/tokens/{token.pk}/revoke/")
        secret = page.context["secret"]
        client.get("/api/v1/questions/", headers={"Authorization": f"Token {secret}"})
    assert f"Token revoked: token {token.pk} of person {person.pk}" in caplog.text
    assert f"Token refused: token {token.pk} of person {person.pk}" in caplog.text
    assert secret not in caplog.text
