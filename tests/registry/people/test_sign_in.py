"""Signing in and out, and passwords."""

import re

import pytest
from django.core.cache import cache
from django.test import Client
from pytest_django import Settings

from registry.people.models import Person
from registry.people.sign_in.brake import OF_EMAIL
from registry.permissions import Role
from tests.worlds.people import PASSWORD, make_person

pytestmark = pytest.mark.django_db
NEW = {"new_password1": "herring at noon", "new_password2": "herring at noon"}


@pytest.fixture(autouse=True)
def _no_tries_yet() -> None:
    cache.clear()


def sign_in(client: Client, person: Person, password: str = PASSWORD, **more: str) -> int:
    typed = {"username": person.email.upper(), "password": password, **more}
    return client.post("/sign-in/", typed).status_code


def test_one_signs_in_and_out(client: Client) -> None:
    person = make_person(Role.KEEPER)
    typed = {"username": person.email, "password": PASSWORD, "next": "/questions/"}
    answer = client.post("/sign-in/", typed)
    assert answer.headers["Location"] == "/questions/"
    assert client.get("/questions/").status_code == 200
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/").headers["Location"] == "/sign-in/"
    assert client.get("/questions/").headers["Location"] == "/sign-in/?next=/questions/"


def test_a_wrong_password_is_refused_as_an_unknown_email_is(client: Client) -> None:
    person = make_person()
    said = []
    for email in (person.email, "nobody@skerrywick.example"):
        page = client.post("/sign-in/", {"username": email, "password": "wrong"})
        assert page.status_code == 200
        said.append(
            re.findall(
                r'<section class="refusal errs".*?</section>', page.content.decode(), re.DOTALL
            )
        )
    assert said[0]
    assert said[0] == said[1]


def test_one_is_not_led_off_the_site_after_signing_in(client: Client) -> None:
    person = make_person()
    typed = {"username": person.email, "password": PASSWORD, "next": "https://elsewhere.example/"}
    assert "elsewhere" not in client.post("/sign-in/", typed).headers["Location"]


def test_after_ten_wrong_tries_an_email_must_rest_and_another_need_not(client: Client) -> None:
    person, other = make_person(), make_person()
    for _ in range(OF_EMAIL.tries):
        assert sign_in(client, person, "wrong") == 200
    page = client.post("/sign-in/", {"username": person.email, "password": PASSWORD})
    assert b"Too many wrong tries" in page.content
    assert sign_in(client, other, next="/questions/") == 302
    cache.clear()
    client.logout()
    assert sign_in(client, person, next="/questions/") == 302


def test_a_right_password_forgets_the_wrong_ones(client: Client) -> None:
    person = make_person()
    for _ in range(2):
        for _ in range(OF_EMAIL.tries - 1):
            sign_in(client, person, "wrong")
        assert sign_in(client, person, next="/questions/") == 302
        client.logout()


def test_one_who_may_no_longer_sign_in_cannot(client: Client) -> None:
    person = make_person()
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert sign_in(client, person) == 200


def test_a_forgotten_password_is_set_by_a_link_that_works_once(
    client: Client, mailoutbox: list[object]
) -> None:
    person = make_person()
    asked = client.post("/password/forgotten/", {"email": person.email.upper()})
    assert asked.headers["Location"] == "/password/sent/"
    (letter,) = mailoutbox
    link = re.search(r"http://localhost:8000(/password/set/\S+)", letter.body)[1]  # type: ignore[attr-defined,index]
    form = client.get(link, follow=True)
    address = form.redirect_chain[-1][0]
    weak = client.post(address, {"new_password1": "12345678", "new_password2": "12345678"})
    assert b"to put right" in weak.content
    done = client.post(address, NEW, follow=True)
    assert b"Your password is set" in done.content
    assert sign_in(client, person, NEW["new_password1"], next="/questions/") == 302
    client.logout()
    assert b"no longer works" in client.get(link, follow=True).content


def test_the_page_says_the_same_whether_or_not_there_is_an_account(
    client: Client, mailoutbox: list[object]
) -> None:
    asked = client.post("/password/forgotten/", {"email": "nobody@x.example"}, follow=True)
    assert b"If someone signs in with that e-mail" in asked.content
    clock = make_person() and Person.objects.get(is_system=True)
    client.post("/password/forgotten/", {"email": clock.email})
    assert mailoutbox == []


def test_where_the_letters_lie_is_told_only_while_the_site_is_worked_on(
    client: Client, settings: Settings
) -> None:
    settings.MAILERS = {
        "default": {
            "BACKEND": "django.core.mail.backends.filebased.EmailBackend",
            "OPTIONS": {"file_path": "/letters/here"},
        }
    }
    assert b"/letters/here" not in client.get("/password/sent/").content
    settings.DEBUG = True
    assert b"/letters/here" in client.get("/password/sent/").content


def test_a_password_is_changed_with_the_old_one_and_one_stays_signed_in(client: Client) -> None:
    person = make_person()
    client.force_login(person)
    assert (
        b"to put right"
        in client.post("/password/change/", {"old_password": "wrong", **NEW}).content
    )
    answer = client.post("/password/change/", {"old_password": PASSWORD, **NEW})
    assert answer.headers["Location"] == person.get_absolute_url()
    assert client.get(person.get_absolute_url()).status_code == 200
    person.refresh_from_db()
    assert person.check_password(NEW["new_password1"])


def test_the_sign_in_page_tells_nothing_of_accounts(client: Client) -> None:
    make_person(name="Runa Hale")
    page = client.get("/sign-in/").content.decode()
    assert "Runa" not in page
    assert "@" not in page
