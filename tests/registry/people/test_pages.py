"""The pages and the API of people and bodies."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from registry.people import actions
from registry.people.models import ApiToken, Body, Institution, Person
from registry.permissions import Role
from tests.worlds.people import fresh, make_body, make_institution, make_person

pytestmark = pytest.mark.django_db


def test_the_list_shows_only_those_whom_one_may_see(client: Client) -> None:
    student, vet = make_person(Role.STUDENT), make_person(Role.VET, name="Ola Reef")
    client.force_login(student)
    assert [one.pk for one in client.get("/people/").context["page"]] == [student.pk]
    client.force_login(vet)
    assert {one.pk for one in client.get("/people/").context["page"]} == {student.pk, vet.pk}
    assert [one.pk for one in client.get("/people/?role=vet").context["page"]] == [vet.pk]
    assert [one.pk for one in client.get("/people/?name=reef").context["page"]] == [vet.pk]
    assert b"Nobody matches" in client.get("/people/?name=nobody").content


def test_a_persons_page_shows_standing_seats_and_inductions(client: Client) -> None:
    body, chair, _ = make_body("Collection committee")
    today = timezone.localdate()
    actions.induct_person(
        chair,
        about="Quarantine room",
        given_on=today - timedelta(400),
        expires_on=today - timedelta(35),
        by=make_person(Role.VET),
    )
    client.force_login(make_person(Role.CURATOR))
    page = client.get(chair.get_absolute_url()).content.decode()
    for said in (body.name, "chair", "Quarantine room", "expired", chair.email, "No standing"):
        assert said in page
    assert "Tokens for programs" not in page
    client.force_login(chair)
    assert "Tokens for programs" in client.get(chair.get_absolute_url()).content.decode()


def test_the_clock_has_no_page(client: Client) -> None:
    made = make_person(Role.AUDITOR)
    clock = Person.objects.get(is_system=True)
    client.force_login(made)
    assert client.get(f"/people/{clock.pk}/").status_code == 404


def test_an_administrator_adds_a_person_who_is_sent_a_link(
    client: Client, mailoutbox: list[object]
) -> None:
    client.force_login(make_person(Role.ADMINISTRATOR))
    typed = {"name": "Una Strand", "email": "una@skerrywick.example", "institution": ""}
    answer = client.post("/people/add/", typed)
    una = Person.objects.get(email="una@skerrywick.example")
    assert answer.headers["Location"] == una.get_absolute_url()
    (letter,) = mailoutbox
    assert letter.to == [una.email]  # type: ignore[attr-defined]
    assert "/password/set/" in letter.body  # type: ignore[attr-defined]
    again = client.post("/people/add/", typed)
    assert again.status_code == 422
    assert b"already signs in" in again.content
    assert len(mailoutbox) == 1


def test_standing_is_given_and_ended_from_the_pages(client: Client) -> None:
    client.force_login(make_person(Role.ADMINISTRATOR))
    person = make_person()
    given = {"role": "keeper", "reason": "new in the penguin team"}
    assert client.post(f"/people/{person.pk}/give_standing/", given).status_code == 302
    assert client.post(f"/people/{person.pk}/give_standing/", given).status_code == 409
    assert Role.KEEPER in fresh(person).roles
    ended = {"role": "keeper", "reason": "left"}
    assert client.post(f"/people/{person.pk}/end_standing/", ended).status_code == 302
    assert Role.KEEPER not in fresh(person).roles
    assert client.post(f"/people/{person.pk}/end_standing/", ended).status_code == 422


def test_an_induction_is_recorded_from_the_page(client: Client) -> None:
    client.force_login(make_person(Role.CURATOR))
    person = make_person(Role.STUDENT)
    typed = {"about": "Ray pool", "given_on": "2026-03-01", "expires_on": "2026-02-01"}
    address = f"/people/{person.pk}/induct/"
    page = client.post(address, typed)
    assert page.status_code == 422
    assert b"Ray pool" in page.content
    assert client.post(address, {**typed, "expires_on": "2027-03-01"}).status_code == 302
    assert person.inductions.get().about == "Ray pool"


def test_a_body_is_set_up_seated_and_unseated_from_the_pages(client: Client) -> None:
    client.force_login(make_person(Role.ADMINISTRATOR))
    typed = {"name": "Animal ethics", "institution": make_institution().pk, "quorum": 2}
    client.post("/bodies/open/", {**typed, "is_ethics": "on"})
    body = Body.objects.get()
    assert body.is_ethics
    assert b"no chair" in client.get("/bodies/").content
    chair = make_person(name="Runa Hale")
    seat = {"person": chair.pk, "is_chair": "on"}
    assert client.post(f"/bodies/{body.pk}/seat/", seat).status_code == 302
    assert b"Runa Hale" in client.get("/bodies/").content
    assert client.post(f"/bodies/{body.pk}/seat/", seat).status_code == 422
    ended = {"person": chair.pk, "reason": "term over"}
    assert client.post(f"/bodies/{body.pk}/unseat/", ended).status_code == 302
    assert b"Former members" in client.get(body.get_absolute_url()).content


def test_a_student_reads_who_sits_on_a_body_but_is_led_to_nobodys_page(client: Client) -> None:
    body, chair, _ = make_body()
    client.force_login(make_person(Role.STUDENT))
    page = client.get(body.get_absolute_url()).content.decode()
    assert chair.name in page
    assert chair.get_absolute_url() not in page
    assert "in the ledger" not in page


def test_a_token_is_shown_once_works_and_is_revoked(client: Client) -> None:
    student = make_person(Role.STUDENT)
    client.force_login(student)
    page = client.post("/people/tokens/", {"name": "field logger", "days": "30", "scope": "read"})
    secret = page.context["secret"]
    assert secret.encode() in page.content
    assert "no-store" in page.headers["Cache-Control"]
    assert secret.encode() not in client.get("/people/tokens/").content
    token = ApiToken.objects.get()
    api = APIClient()
    api.credentials(HTTP_AUTHORIZATION=f"Token {secret}")
    assert api.get("/api/v1/questions/").status_code == 200
    token.refresh_from_db()
    assert token.used_at is not None
    assert client.get(f"/people/tokens/{token.pk}/revoke/").status_code == 405
    other = Client()
    other.force_login(make_person(Role.STUDENT))
    assert other.post(f"/people/tokens/{token.pk}/revoke/").status_code == 404
    assert api.get("/api/v1/questions/").status_code == 200
    assert client.post(f"/people/tokens/{token.pk}/revoke/").status_code == 302
    assert api.get("/api/v1/questions/").status_code == 401


def test_a_token_that_has_expired_or_whose_owner_may_no_longer_sign_in_opens_nothing() -> None:
    person = make_person(Role.STUDENT)
    secret, token = actions.make_token(person, name="logger", days=1, by=person)
    api = APIClient()
    api.credentials(HTTP_AUTHORIZATION=f"Token {secret}")
    assert api.get("/api/v1/questions/").status_code == 200
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert api.get("/api/v1/questions/").status_code == 401
    Person.objects.filter(pk=person.pk).update(is_active=True)
    ApiToken.objects.filter(pk=token.pk).update(expires_at=timezone.now() - timedelta(1))
    assert api.get("/api/v1/questions/").status_code == 401


def test_a_token_for_too_many_days_is_refused_and_what_was_typed_stands(client: Client) -> None:
    client.force_login(make_person())
    page = client.post("/people/tokens/", {"name": "field logger", "days": "4000"})
    assert page.status_code == 422
    assert b"field logger" in page.content
    assert not ApiToken.objects.exists()


def test_the_api_shows_people_and_bodies_and_does_the_same_deeds() -> None:
    body, chair, member = make_body()
    api = APIClient()
    api.force_authenticate(make_person(Role.ADMINISTRATOR))
    shown = api.get(f"/api/v1/bodies/{body.pk}/").json()
    assert {(seat["person"], seat["is_chair"]) for seat in shown["seats"]} == {
        (chair.pk, True),
        (member.pk, False),
    }
    assert shown["can"] == ["describe", "plan_meeting", "call_off", "seat", "unseat"]
    person = api.get(f"/api/v1/people/{chair.pk}/").json()
    assert "password" not in person
    assert set(person["can"]) == {"give_standing", "end_standing", "stop"}
    given = api.post(
        f"/api/v1/people/{chair.pk}/give_standing/",
        {"role": "keeper", "reason": "r"},
        format="json",
    )
    assert (given.status_code, given.json()["standings"][0]["role"]) == (200, "keeper")
    made = api.post("/api/v1/people/", {"name": "U", "email": "u@x.example"}, format="json")
    assert (made.status_code, made.json()["email"]) == (201, "u@x.example")
    api.force_authenticate(make_person(Role.STUDENT))
    assert api.get("/api/v1/people/").json()["count"] == 1
    assert api.get(f"/api/v1/people/{chair.pk}/").status_code == 404
    assert api.post("/api/v1/bodies/", {}, format="json").status_code == 403


def test_the_first_administrator_is_made_at_the_machine(
    client: Client, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("make_administrator", "Runa Hale", "runa@skerrywick.example")
    runa = Person.objects.get(email="runa@skerrywick.example")
    assert Role.ADMINISTRATOR in runa.roles
    assert not Institution.objects.exists()  # what they are called is for a person to say
    link = capsys.readouterr().out.splitlines()[-1].removeprefix("http://localhost:8000")
    form = client.get(link, follow=True)
    chosen = {"new_password1": "herring at noon", "new_password2": "herring at noon"}
    client.post(form.redirect_chain[-1][0], chosen)
    assert client.login(username="runa@skerrywick.example", password="herring at noon")
    with pytest.raises(CommandError, match="holds it already"):
        call_command("make_administrator", "Runa Hale", "runa@skerrywick.example")
    with pytest.raises(CommandError, match="not-an-address"):
        call_command("make_administrator", "Runa Hale", "not-an-address")
