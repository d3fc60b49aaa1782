"""Institutions: added, renamed, and which kind of body stands in one."""

import pytest
from django.test import Client
from rest_framework.test import APIClient

from registry.errors import NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.people.actions import open_body, open_institution, rename_institution
from registry.people.models import BodyKind, Institution
from registry.permissions import Role
from tests.worlds.people import make_institution, make_person

pytestmark = pytest.mark.django_db


def test_an_administrator_adds_an_institution_and_no_two_bear_a_name() -> None:
    administrator = make_person(Role.ADMINISTRATOR)
    given = {"name": "  Norrholm   University ", "is_university": True}
    with pytest.raises(NotPermitted):
        open_institution(**given, by=make_person(Role.CURATOR))
    made = open_institution(**given, by=administrator)
    assert (made.name, made.is_university) == ("Norrholm University", True)
    with pytest.raises(Unsound) as refused:
        open_institution(name="norrholm university", is_university=False, by=administrator)
    assert refused.value.fields == {"name": "It is taken."}
    assert Institution.objects.count() == 1


def test_a_renamed_institution_keeps_its_old_name_in_the_ledger() -> None:
    administrator = make_person(Role.ADMINISTRATOR)
    one, other = make_institution("Skerrywick Aquarium"), make_institution("Norrholm University")
    with pytest.raises(Unsound):
        rename_institution(one, name=other.name, reason="Merged.", by=administrator)
    rename_institution(one, name="Skerrywick Sea Centre", reason="New owners.", by=administrator)
    entry = Entry.objects.about(one).order_by("-number")[0]
    assert entry.facts["details"] == {"was": "Skerrywick Aquarium"}
    assert entry.reason == "New owners."
    # A name of its own, in other letters, is no other's.
    rename_institution(one, name="SKERRYWICK sea centre", reason="As it says.", by=administrator)


def test_institutions_are_added_and_renamed_on_their_pages(client: Client) -> None:
    client.force_login(make_person(Role.ADMINISTRATOR))
    assert "No institution is in the register" in client.get("/institutions/").content.decode()
    answer = client.post("/institutions/open/", {"name": "Skerrywick Aquarium"})
    here = Institution.objects.get().get_absolute_url()
    assert answer["Location"] == here
    page = client.post(f"{here}rename/", {"name": "Skerrywick Sea Centre"})
    assert page.status_code == 422
    assert "Skerrywick Sea Centre" in page.content.decode()
    client.post(f"{here}rename/", {"name": "Skerrywick Sea Centre", "reason": "So it is."})
    assert "Skerrywick Sea Centre" in client.get("/institutions/").content.decode()
    client.force_login(make_person(Role.KEEPER))
    assert "rename/" not in client.get(here).content.decode()
    assert client.get("/institutions/open/").status_code == 403


def test_a_program_adds_and_renames_an_institution() -> None:
    api = APIClient()
    api.force_authenticate(make_person(Role.ADMINISTRATOR))
    made = api.post("/api/v1/institutions/", {"name": "Norrholm University", "is_university": True})
    assert made.status_code == 201
    assert made.data["can"] == ["rename"]
    here = f"/api/v1/institutions/{made.data['id']}/rename/"
    assert api.post(here, {"name": "Norrholm", "reason": "Short."}).data["name"] == "Norrholm"


def test_a_body_may_be_of_a_kind_that_the_reference_data_know(client: Client) -> None:
    kind = BodyKind.objects.create(code="owner", name="owner of animals", jurisdiction="anywhere")
    administrator = make_person(Role.ADMINISTRATOR)
    body = open_body(
        name="Lenders",
        institution=make_institution(),
        sort=kind,
        is_ethics=False,
        quorum=1,
        by=administrator,
    )
    client.force_login(administrator)
    assert "owner of animals" in client.get(body.get_absolute_url()).content.decode()
    assert "owner of animals" in client.get("/bodies/").content.decode()
    assert "owner of animals" in client.get("/bodies/open/").content.decode()
