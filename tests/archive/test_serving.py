"""Versions over HTTP: the very bytes, in part or whole, to those who may read them."""

import csv
import hashlib
import io
import json
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import bagit
import openpyxl
import pytest
import time_machine
from django.http.response import HttpResponseBase
from django.test import Client
from django.utils import timezone

from archive import actions
from archive.acceptance import erase
from archive.models import Version
from registry.errors import Conflict, NotPermitted, Unsound
from registry.people.actions import make_token
from registry.permissions import Role
from registry.transitions import day_said
from tests.worlds.archive import make_version, pooling_here, rows, zipped
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of

pytestmark = pytest.mark.django_db
PARTS = (
    "datapackage.json",
    "data/scans.csv",
    "spreadsheet/scans.csv",
    "package.zip",
    "bag.zip",
    "crate.zip",
)


def body(response: HttpResponseBase) -> bytes:
    content = getattr(response, "streaming_content", None)
    read = b"".join(content) if content is not None else response.content  # type: ignore[attr-defined]
    return bytes(read)


def statuses(client: Client, version: Version) -> dict[str, int]:
    found = {}
    for part in PARTS:
        response = client.get(f"{version.get_absolute_url()}{part}")
        found[part] = response.status_code
        body(response)
    return found


def test_an_open_version_gives_anyone_the_very_bytes(client: Client) -> None:
    version = make_version()
    home = version.get_absolute_url()
    table = client.get(f"{home}data/scans.csv")
    assert table["Content-Type"] == "text/csv"
    assert int(table["Content-Length"]) == len(rows())
    assert body(table) == rows()
    digest = hashlib.sha256(rows()).hexdigest()
    assert table["ETag"] == f'"{digest}"'
    told = json.loads(body(client.get(f"{home}datapackage.json")))
    assert told["resources"][0]["hash"] == f"sha256:{digest}"
    assert told["resources"][0]["path"] == "data/scans.csv"
    again = client.get(f"{home}data/scans.csv", headers={"if-none-match": table["ETag"]})
    assert (again.status_code, body(again)) == (304, b"")
    absent = client.get(f"{home}data/moods.csv")
    assert absent.status_code == 404
    assert set(absent.json()) == {"code", "what", "why", "next"}
    assert client.post(f"{home}data/scans.csv").status_code == 405


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [
        ("bytes=0-4", 0, 5),
        ("bytes=5-", 5, None),
        ("bytes=-6", -6, None),
        ("bytes=3-99999", 3, None),
    ],
)
def test_a_part_of_a_file_is_given(
    client: Client, asked: str, first: int, last: int | None
) -> None:
    version = make_version()
    part = client.get(f"{version.get_absolute_url()}data/scans.csv", headers={"range": asked})
    assert part.status_code == 206
    wanted = rows()[first:last]
    assert body(part) == wanted
    assert part["Content-Length"] == str(len(wanted))
    assert part["Content-Range"].endswith(f"/{len(rows())}")


def test_a_part_beyond_the_end_is_refused_and_a_stale_one_is_given_whole(client: Client) -> None:
    address = f"{make_version().get_absolute_url()}data/scans.csv"
    assert client.get(address, headers={"range": "bytes=999999-"}).status_code == 416
    stale = client.get(address, headers={"range": "bytes=0-4", "if-range": '"old"'})
    assert (stale.status_code, body(stale)) == (200, rows())


def test_the_package_is_whole_and_its_descriptor_fits(client: Client) -> None:
    version = make_version()
    sent = body(client.get(f"{version.get_absolute_url()}package.zip"))
    with zipfile.ZipFile(io.BytesIO(sent)) as archive:
        assert sorted(archive.namelist()) == ["LICENSE", "data/scans.csv", "datapackage.json"]
        assert archive.read("data/scans.csv") == rows()
        assert archive.testzip() is None


# The reference reader's own, with Python 3.13.
@pytest.mark.filterwarnings("ignore:'count' is passed as positional argument")
def test_a_bag_of_the_version_is_valid_to_the_reference_reader(
    client: Client, tmp_path: Path
) -> None:
    version = make_version({"scans.csv": rows()})
    sent = body(client.get(f"{version.get_absolute_url()}bag.zip"))
    with zipfile.ZipFile(io.BytesIO(sent)) as archive:
        archive.extractall(tmp_path)
    (folder,) = tmp_path.iterdir()
    read = bagit.Bag(str(folder))
    read.validate()
    assert read.info["External-Identifier"] == version.identifier
    # What was received, and the report, stay within.
    payload = sorted(read.payload_entries())
    assert payload == ["data/LICENSE", "data/data/scans.csv", "data/datapackage.json"]


def test_the_copy_for_spreadsheets_holds_no_formula_and_the_archive_is_untouched(
    client: Client,
) -> None:
    lines = rows("1,=cmd(),2026-11-03,REST,1", "2,+x,2026-11-03,REST,2")
    version = make_version({"scans.csv": lines})
    home = version.get_absolute_url()
    text = body(client.get(f"{home}spreadsheet/scans.csv")).decode("utf-8-sig")
    assert [row[1] for row in csv.reader(io.StringIO(text))] == ["ray", "'=cmd()", "'+x"]
    with pooling_here():
        book = openpyxl.load_workbook(io.BytesIO(body(client.get(f"{home}workbook/scans.xlsx"))))
        assert client.get(f"{home}workbook/moods.xlsx").status_code == 404
    cells = [[cell.value for cell in row] for row in book["scans"].iter_rows()]
    assert [row[1] for row in cells] == ["ray", "'=cmd()", "'+x"]
    assert [row[0] for row in cells[1:]] == [1, 2]
    assert body(client.get(f"{home}data/scans.csv")) == lines


def test_an_embargo_ends_by_itself_at_the_time_of_asking(client: Client) -> None:
    until = timezone.localdate() + timedelta(days=30)
    version = make_version(access="embargoed", terms={"embargoed_until": until})
    assert set(statuses(client, version).values()) == {403}
    refused = client.get(f"{version.get_absolute_url()}data/scans.csv").json()
    assert day_said(until) in refused["why"]
    client.force_login(make_person(Role.STUDENT))
    assert set(statuses(client, version).values()) == {403}
    client.force_login(lead_of(version.dataset.project))
    assert set(statuses(client, version).values()) == {200}
    client.logout()
    with time_machine.travel(timezone.now() + timedelta(days=31)):
        assert set(statuses(client, version).values()) == {200}


def test_a_restricted_version_is_closed_but_for_members_and_stewards(client: Client) -> None:
    version = make_version(access="restricted", terms={"restricted_because": "Owner's wish."})
    assert set(statuses(client, version).values()) == {403}
    for person in (make_person(Role.KEEPER), make_person(Role.SUPERVISOR)):
        client.force_login(person)
        assert set(statuses(client, version).values()) == {403}
    client.force_login(make_person(Role.STEWARD))
    assert set(statuses(client, version).values()) == {200}


def test_a_program_reads_closed_data_with_the_token_of_someone_who_may(client: Client) -> None:
    version = make_version(access="restricted", terms={"restricted_because": "Owner's wish."})
    lead = lead_of(version.dataset.project)
    secret, _ = make_token(lead, name="notebook", days=7, by=lead)
    address = f"{version.get_absolute_url()}data/scans.csv"
    answer = client.get(address, headers={"authorization": f"Token {secret}"})
    assert (answer.status_code, body(answer)) == (200, rows())
    wrong = client.get(address, headers={"authorization": "Token nothing"})
    assert (wrong.status_code, wrong.json()["code"]) == (401, "not_authenticated")


def test_a_withdrawn_version_is_gone_for_everyone_and_says_so_to_programs(client: Client) -> None:
    version = make_version()
    steward = make_person(Role.STEWARD)
    actions.withdraw_version(version, ground="faulty", reason="r", by=steward)
    client.force_login(steward)
    assert set(statuses(client, version).values()) == {410}
    stone = client.get(f"{version.get_absolute_url()}datapackage.json").json()
    assert stone["state"] == "withdrawn"
    assert stone["identifier"] == version.identifier
    assert "[withdrawn" in stone["citation"]
    cited = client.get(f"{version.get_absolute_url()}citation.bib")
    assert cited.status_code == 200


def test_an_erased_version_keeps_its_tombstone_and_no_name_where_consent_was_withdrawn(
    client: Client,
) -> None:
    version = make_version()
    steward, administrator = make_person(Role.STEWARD), make_person(Role.ADMINISTRATOR)
    actions.withdraw_version(version, ground="consent", reason="r", by=steward)
    assert client.get(f"{version.get_absolute_url()}data/scans.csv").json()["creators"] != [
        "name removed"
    ]
    erase(version, reason="r", by=steward)
    erase(version, reason="r", by=administrator)
    stone = client.get(f"{version.get_absolute_url()}data/scans.csv")
    assert stone.status_code == 410
    assert stone.json()["creators"] == ["name removed"]
    assert stone.json()["erased_on"] == timezone.localdate().isoformat()
    page = client.get(version.get_absolute_url())
    assert page.status_code == 410
    names = [f"{one['family']}, {one['given'][:1]}" for one in version.creators]
    for form in ("txt", "harvard", "bib", "ris", "json", "cff", "xml"):
        cited = client.get(f"{version.get_absolute_url()}citation.{form}").content.decode()
        assert "Name removed" in cited, form
        assert not any(name in cited for name in names), form
    told = client.get(f"/archive/ark/{version.identifier.rpartition('/')[2]}/?info")
    assert told["Content-Type"] == "text/plain; charset=utf-8"
    assert "who: Name removed" in told.content.decode()
    assert not any(name in told.content.decode() for name in names)
    assert b"Vestergaard" not in page.content


@pytest.mark.postgres
def test_a_doi_or_a_handle_stands_beside_the_identifier_in_every_record(client: Client) -> None:
    version, other = make_version(), make_version()
    steward = make_person(Role.STEWARD)
    page = version.get_absolute_url()
    client.force_login(steward)
    address = f"/archive/versions/{version.pk}/register/"
    for wrong in ("10.5/x", "20.1000/105", "ark:/12345/x"):
        answer = client.post(address, {"identifier": wrong})
        assert (answer.status_code, wrong in answer.content.decode()) == (422, True)
    # The DOI of the handbook's example.
    done = client.post(address, {"identifier": "https://doi.org/10.5555/12345678"}, follow=True)
    assert "doi:10.5555/12345678" in done.content.decode()
    client.logout()
    for form in ("bib", "ris", "json", "cff", "xml"):
        assert "10.5555/12345678" in client.get(f"{page}citation.{form}").content.decode(), form
    told = client.get(f"{page}citation.jsonld").json()
    assert "https://doi.org/10.5555/12345678" in told["sameAs"]
    assert version.identifier in told["identifier"]
    with pytest.raises(Conflict, match="never changed"):
        actions.register_version(version, identifier="hdl:20.1000/105", by=steward)
    with pytest.raises(Unsound, match="never used again"):
        actions.register_version(other, identifier="doi:10.5555/12345678", by=steward)
    with pytest.raises(NotPermitted):
        actions.register_version(other, identifier="hdl:20.1000/105", by=make_person(Role.CURATOR))
    noted = actions.register_version(other, identifier="hdl:20.1000/105", by=steward)
    told = client.get(f"{other.get_absolute_url()}citation.xml").content.decode()
    assert ">20.1000/105</alternateIdentifier>" in told
    name = noted.identifier.rpartition("/")[2]
    info = client.get(f"/archive/ark/{name}/?info").content.decode()
    assert info.startswith("erc:\nwho: ")
    assert f"what: {noted.dataset.title}, version 1.0.0\n" in info


def test_addresses_cannot_be_guessed() -> None:
    version = make_version()
    name, _, tail = version.slug.partition("-v")
    assert name == version.dataset.identifier.split("/")[1]
    # 29 characters in ten places, drawn anew for each dataset: about 4e14 (identifier.BLADE).
    assert len(name) == 13
    assert tail == "1-0-0"


def test_a_file_that_is_no_table_is_served_to_be_kept_not_shown(client: Client) -> None:
    package: dict[str, Any] = {
        "resources": [
            {
                "name": "scans",
                "path": "scans.csv",
                "schema": {"fields": [{"name": "a", "type": "integer"}]},
            },
            {"name": "notes", "path": "notes.html"},
        ]
    }
    files = {
        "datapackage.json": json.dumps(package).encode(),
        "scans.csv": b"a\n1\n",
        "notes.html": b"<script>alert(1)</script>",
    }
    version = make_version({"all.zip": zipped(files)}, dictionary=False)
    answer = client.get(f"{version.get_absolute_url()}data/notes.html")
    assert body(answer) == files["notes.html"]
    assert answer["Content-Type"] == "application/octet-stream"
    assert answer["Content-Disposition"].startswith("attachment")


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ("txt", "Vestergaard-Nwosu, I."),
        ("bib", "@misc{"),
        ("ris", "TY  - DATA"),
        ("json", '"dataset"'),
        ("cff", "cff-version"),
        ("xml", "<resourceType"),
    ],
)
def test_a_version_is_cited_in_each_form(client: Client, form: str, words: str) -> None:
    version = make_version()
    answer = client.get(f"{version.get_absolute_url()}citation.{form}")
    assert words in answer.content.decode()
    assert client.get(f"{version.get_absolute_url()}citation.doc").status_code == 404
