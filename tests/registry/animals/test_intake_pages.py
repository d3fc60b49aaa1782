"""The pages and the API for bringing in a list of animals."""

import re
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from rest_framework.test import APIClient

from registry.animals.intake.columns import COLUMNS
from registry.animals.models import Animal, Intake, Taxon
from registry.permissions import Role
from tests.worlds.animals import make_animal, make_enclosure, make_taxon
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
HEAD = "code,taxon,enclosure,arrived_on,taxon_class,common_name"
SOUND = "UR-{0},Raja undulata,T1,2024-03-01,,"


@pytest.fixture(autouse=True)
def _somewhere(settings: Any, tmp_path: Path) -> None:
    settings.UPLOADS = tmp_path / "uploads"


@pytest.fixture
def curator(client: Client) -> Any:
    """A curator who is signed in, with a tank T1 and rays."""
    person = make_person(Role.CURATOR)
    make_taxon(by=person)
    make_enclosure("T1", by=person)
    client.force_login(person)
    return person


def upload(*rows: str) -> SimpleUploadedFile:
    text = "\n".join([HEAD, *rows])
    return SimpleUploadedFile("march list.csv", text.encode(), content_type="text/csv")


def looked_at(client: Client, *rows: str) -> tuple[str, str]:
    """Send a file, and give the page that looks at it, with its address."""
    answer = client.post("/animals/import/", {"file": upload(*rows)})
    assert answer.status_code == 302, answer.content.decode()
    return client.get(answer["Location"]).content.decode(), answer["Location"]


def hidden(page: str) -> dict[str, str]:
    return dict(
        re.findall(r'<input type="hidden" name="(kept|named|seen|\w+_order)" value="([^"]*)"', page)
    )


def test_limits_columns_and_the_blank_list_are_told_before_anything_is_sent(
    client: Client, curator: Any
) -> None:
    page = client.get("/animals/import/").content.decode()
    assert "20 000 at most" in page.replace("\u00a0", " ").replace("\u202f", " ")
    assert all(f">{column.name}</code>" in page for column in COLUMNS)
    blank = client.get("/animals/import/animals.csv")
    assert blank.headers["Content-Disposition"] == 'attachment; filename="animals.csv"'
    assert blank.content.decode().strip() == ",".join(column.name for column in COLUMNS)


def test_a_look_writes_nothing_and_what_was_looked_at_is_what_comes_in(
    client: Client, curator: Any
) -> None:
    page, here = looked_at(client, SOUND.format(1), SOUND.format(2))
    assert "2 rows to bring in" in page
    assert page.count("to be received</td>") == 2
    assert not Animal.objects.exists()
    answer = client.post(here, hidden(page))
    intake = Intake.objects.get()
    assert answer["Location"] == intake.get_absolute_url()
    assert (intake.file_name, intake.animals_brought) == ("march list.csv", 2)
    shown = client.get(answer["Location"]).content.decode()
    assert "UR-2" in shown
    assert "march list.csv" in client.get("/animals/imports/").content.decode()
    again, _ = looked_at(client, SOUND.format(1), SOUND.format(2))
    assert "All of it is here already" in again
    assert "Bring in 2" not in again


def test_a_faulty_row_is_told_with_row_column_value_and_remedy_and_is_mended_and_sent_again(
    client: Client, curator: Any
) -> None:
    page, here = looked_at(client, SOUND.format(1), "UR-2,Raja undulatta,T1,2024-03-01,,")
    assert "1 thing to put right in the list" in page
    for told in ("march list.csv", "<mark>Raja undulatta</mark>", "Did you mean Raja undulata?"):
        assert told in page
    assert 'name="file"' in page
    assert hidden(page) == {}
    refused = client.post(here, {"kept": here.split("/")[3], "named": "march list.csv"})
    assert refused.status_code == 422
    assert not Animal.objects.exists()
    page, here = looked_at(client, SOUND.format(1), SOUND.format(2))
    assert client.post(here, hidden(page)).status_code == 302
    assert Animal.objects.count() == 2


def test_what_is_not_in_the_register_is_offered_and_made_when_ticked(
    client: Client, curator: Any
) -> None:
    page, here = looked_at(
        client, "SC-1,Scyliorhinus canicula,T7,2024-03-01,cartilaginous_fish,catshark"
    )
    assert 'name="make_taxa"' in page
    assert 'name="make_enclosures"' in page
    refused = client.post(here, hidden(page))
    assert refused.status_code == 422
    assert "tick this" in refused.content.decode()
    ticked = {**hidden(page), "make_taxa": "on", "make_enclosures": "on"}
    assert client.post(here, ticked).status_code == 302
    assert Taxon.objects.filter(scientific_name="Scyliorhinus canicula").exists()


def test_days_that_could_be_read_two_ways_round_are_asked_on_the_page(
    client: Client, curator: Any
) -> None:
    page, here = looked_at(client, "UR-1,Raja undulata,T1,04/05/2024,,")
    assert "Which number is the day?" in page
    assert 'name="arrived_on_order"' in page
    assert "Bring in 1" not in page
    page = client.get(f"{here}&arrived_on_order=month_first").content.decode()
    assert "5 Apr" in page.replace("\u00a0", " ")
    assert client.post(here, hidden(page)).status_code == 302
    assert Animal.objects.get().arrived_on.isoformat() == "2024-04-05"


def test_a_register_that_changed_in_between_is_a_conflict_and_the_rows_stand_there_anew(
    client: Client, curator: Any
) -> None:
    page, here = looked_at(client, SOUND.format(1), SOUND.format(2))
    raced = make_animal(code="UR-1", enclosure=make_enclosure("Z9", by=curator), by=curator)
    answer = client.post(here, hidden(page))
    assert answer.status_code == 409
    now = answer.content.decode()
    assert "row 2 (UR-1) was to be received, and is already here" in now
    assert hidden(now)["seen"] == "1d1n"
    assert list(Animal.objects.all()) == [raced]
    assert client.post(here, hidden(now)).status_code == 302
    assert Animal.objects.count() == 2


def test_a_kept_file_is_for_its_person_alone_and_its_address_is_no_path(
    client: Client, curator: Any
) -> None:
    _, here = looked_at(client, SOUND.format(1))
    other = Client()
    other.force_login(make_person(Role.CURATOR))
    assert other.get(here).status_code == 422
    assert client.get(here).status_code == 200
    for name in ("..%2F..%2Fsecret-key", "0" * 64, "A" * 64):
        assert client.get(f"/animals/import/{name}/").status_code in {404, 422}


def test_a_file_that_is_no_list_is_refused_under_its_field(client: Client, curator: Any) -> None:
    book = SimpleUploadedFile("list.xlsx", b"PK\x03\x04" + b"0" * 100)
    answer = client.post("/animals/import/", {"file": book})
    assert answer.status_code == 422
    assert "It is not a sound workbook" in answer.content.decode()
    assert client.post("/animals/import/", {}).status_code == 422


def test_a_keeper_is_not_offered_it(client: Client) -> None:
    client.force_login(make_person(Role.KEEPER))
    assert client.get("/animals/import/").status_code == 403
    assert "Bring in a list" not in client.get("/animals/").content.decode()


def test_a_program_tries_a_list_and_then_brings_it_in(curator: Any) -> None:
    api = APIClient()
    api.force_authenticate(curator)
    here = "/api/v1/animals/import/"
    tried = api.post(here, {"file": upload(SOUND.format(1)), "dry_run": "true"})
    assert tried.status_code == 200
    assert (tried.data["new"], tried.data["seen"], tried.data["faults"]) == (1, "1n", [])
    assert tried.data["outcomes"] == [{"row": 2, "code": "UR-1", "outcome": "to be received"}]
    assert not Animal.objects.exists()
    kept = {"kept": tried.data["sha256"], "named": "march list.csv", "seen": tried.data["seen"]}
    made = api.post(here, kept)
    assert made.status_code == 201
    assert made.data["animals_brought"] == 1
    assert api.post(here, kept).status_code == 409


def test_a_program_is_told_each_fault(curator: Any) -> None:
    api = APIClient()
    api.force_authenticate(curator)
    faulty = "UR-1,Raja undulatta,T1,2024-03-01,,"
    tried = api.post("/api/v1/animals/import/", {"file": upload(faulty), "dry_run": "true"})
    assert tried.data["faults"] == [
        {
            "row": 2,
            "column": "taxon",
            "value": "Raja undulatta",
            "why": "A taxon is not in the register",
            "next": "Did you mean Raja undulata?",
        }
    ]
    refused = api.post("/api/v1/animals/import/", {"file": upload(faulty)})
    assert refused.status_code == 422
    assert refused.data["fields"] == {"row 2, taxon": "Did you mean Raja undulata?"}
    make_animal(code="UR-1", enclosure=make_enclosure("Z9", by=curator), by=curator)
    tried = api.post(
        "/api/v1/animals/import/", {"file": upload(SOUND.format(1)), "dry_run": "true"}
    )
    assert (tried.data["new"], tried.data["differs"]) == (0, 1)
