"""The pages of the archive: from a dictionary to a version that anyone may read."""

import json
from html import unescape
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from archive.models import Deposit, Dictionary, Version
from archive.places import quarantine
from archive.terms import months_on
from registry.people.actions import make_token
from registry.permissions import Role
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import (
    check_here,
    descriptor,
    make_checked,
    make_dictionary,
    make_opened,
    make_submitted,
    make_version,
    put,
    rows,
)
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of

pytestmark = pytest.mark.django_db


def upload(name: str, content: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def test_the_whole_way_from_a_dictionary_to_an_open_version(client: Client) -> None:
    world = make_collecting()
    study, project = world.project.study, world.project
    client.force_login(world.lead)
    page = client.get(f"/archive/studies/{study.pk}/write_dictionary/")
    assert b"x:fieldId" in page.content
    sent = {"descriptor": json.dumps(descriptor()), "notes": "The first."}
    page = client.post(f"/archive/studies/{study.pk}/write_dictionary/", sent, follow=True)
    assert b"What does each column mean?" in page.content
    dictionary = Dictionary.objects.get()
    sheet = client.get(f"/archive/dictionaries/{dictionary.pk}/scans.csv")
    assert sheet.content == b"scan,ray,seen_on,posture,depth\r\n"
    told = client.get(f"/archive/dictionaries/{dictionary.pk}/descriptor.json").json()
    assert told["resources"][0]["schema"]["fields"][4]["x:unit"] == "m"

    client.force_login(world.student)
    address = f"/archive/projects/{project.pk}/deposit/"
    page = client.post(address, {"dictionary": dictionary.pk, "note": ""}, follow=True)
    assert b"How large it may be" in page.content
    deposit = Deposit.objects.get()
    home = deposit.get_absolute_url()
    files = {"files": [upload("scans.csv", rows("1,R-01,,REST,deep"))]}
    page = client.post(f"{home}add_file/", files, follow=True)
    assert b"scans.csv" in page.content
    page = client.post(f"{home}submit/", {}, follow=True)
    assert b"Being checked" in page.content
    assert b'http-equiv="refresh"' in page.content
    check_here(deposit)
    page = client.get(home)
    assert b"Must be put right" in page.content
    assert b"<mark>deep</mark>" in page.content
    assert b"What to do" in page.content
    assert all(words in page.content for words in (b"How full", b"Spread", b'class="spark'))

    client.post(f"{home}correct/", {})
    client.post(f"{home}add_file/", {"files": [upload("scans.csv", rows())]})
    client.post(f"{home}submit/", {})
    check_here(deposit)
    page = client.get(home)
    assert b"Checked and sound" in page.content
    assert b"To be explained" in page.content
    assert f"{home}accept/".encode() not in page.content
    assert client.get(f"{home}accept/").status_code == 403

    client.force_login(world.lead)
    page = client.get(f"{home}accept/")
    assert b"They do not stand in the way" in page.content
    page = client.post(f"{home}accept/", {"licence": "CC-BY-4.0", "access": "open"}, follow=True)
    version = Version.objects.get()
    assert page.redirect_chain[-1][0] == version.get_absolute_url()
    client.logout()
    page = client.get(version.get_absolute_url())
    for words in ("Take it away", "first rows", version.identifier, "R-01", "Attribution 4.0"):
        assert words in page.content.decode()
    listed = client.get("/archive/?q=rays")
    assert version.get_absolute_url().encode() in listed.content


def test_what_was_typed_stays_after_an_unsound_dictionary(client: Client) -> None:
    world = make_collecting()
    client.force_login(world.lead)
    address = f"/archive/studies/{world.project.study.pk}/write_dictionary/"
    page = client.post(address, {"descriptor": "{no json", "notes": "my notes"})
    assert page.status_code == 422
    assert b"is not JSON" in page.content
    assert b"my notes" in page.content
    loose = descriptor()
    loose["resources"][0]["schema"]["fields"][4]["type"] = "boolean"
    page = client.post(address, {"descriptor": json.dumps(loose)})
    assert page.status_code == 422
    assert not Dictionary.objects.exists()
    page = client.post(address, {"file": upload("d.json", json.dumps(descriptor()).encode())})
    assert page.status_code == 302


@pytest.mark.postgres
@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        (r'{"title": "a\u0000b"}', "NUL sign"),
        (r'{"title": "\ud800"}', "one half of a character"),
        ('{"title": NaN}', "NaN is no JSON value"),
        ('{"title": "a", "title": "b"}', "written twice"),
        ('{"title": ' + "9" * 5000 + "}", "not sound JSON"),
        ('{"x": ' + '{"a":' * 500 + "1" + "}" * 501, "nested 501 levels deep"),
        ('{"x": ' + "[" * 100_000, "nested too deeply"),
    ],
)
def test_a_dictionary_that_no_database_can_keep_is_refused_in_words(
    client: Client, text: str, complaint: str
) -> None:
    world = make_collecting()
    client.force_login(world.lead)
    address = f"/archive/studies/{world.project.study.pk}/write_dictionary/"
    for typed in ({"descriptor": text}, {"file": upload("d.json", text.encode())}):
        page = client.post(address, typed)
        assert page.status_code == 422
        assert complaint in page.content.decode()
    assert not Dictionary.objects.exists()


def test_a_file_that_cannot_be_named_so_is_refused(client: Client) -> None:
    deposit = make_opened()
    client.force_login(deposit.maker)
    address = f"{deposit.get_absolute_url()}add_file/"
    page = client.post(address, {"files": [upload("my scans!.csv", b"a")]})
    assert page.status_code == 422
    assert b"Rename the file" in page.content
    assert b"How large it may be" in page.content
    two = {"files": [upload("a.csv", b"a"), upload("b.csv", b"b")]}
    assert client.post(address, two).status_code == 302
    assert deposit.files.count() == 2


@pytest.mark.parametrize("is_api", [False, True], ids=["page", "api"])
@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["a.csv", "my scans!.csv"], "Rename the file"),
        (["a.csv", "A.csv"], "only in capitals"),
        (["a.csv", "a.csv"], "nobody can say which counts"),
        (["a.csv", "kept.CSV"], "only in capitals"),
    ],
)
def test_of_several_files_sent_at_once_all_are_added_or_none(
    client: Client, is_api: bool, names: list[str], said: str
) -> None:
    deposit = put(make_opened(), {"kept.csv": b"a"})
    before = quarantine().held_keys()
    client.force_login(deposit.maker)
    address = f"{deposit.get_absolute_url()}add_file/"
    if is_api:
        secret, _ = make_token(
            deposit.maker, name="logger", days=3, scope="deposit", by=deposit.maker
        )
        client = Client(headers={"Authorization": f"Token {secret}"})
        address = f"/api/v1/deposits/{deposit.pk}/add_file/"
    sent = {"files": [upload(name, b"a") for name in names]}
    answer = client.post(address, sent)
    assert answer.status_code == 422
    told = unescape(answer.content.decode())
    assert said in told
    assert "None of the 2 files that you sent was added." in told
    assert [file.name for file in deposit.files.all()] == ["kept.csv"]
    assert quarantine().held_keys() == before, "bytes were left that no row speaks of"


def test_a_deposit_and_its_files_are_not_there_for_a_student_outside_the_project(
    client: Client,
) -> None:
    deposit = make_checked()
    home = deposit.get_absolute_url()
    file = deposit.files.get()
    addresses = [
        home,
        f"{home}files/{file.pk}/",
        f"{home}findings.csv",
        f"{home}findings.json",
        f"{home}submit/",
        f"/api/v1/deposits/{deposit.pk}/",
        f"/api/v1/deposits/{deposit.pk}/report/",
    ]
    client.force_login(make_person(Role.STUDENT))
    assert [client.get(address).status_code for address in addresses] == [404] * len(addresses)
    assert b"No deposit that you may see was opened yet" in client.get("/archive/deposits/").content
    client.force_login(deposit.maker)
    for address in (addresses[0], *addresses[2:4]):
        assert client.get(address).status_code == 200
    received = client.get(addresses[1])
    assert b"".join(received.streaming_content) == rows()
    assert "attachment" in received["Content-Disposition"]


def test_every_finding_can_be_taken_away_as_a_table_and_as_json(client: Client) -> None:
    many = rows(*(f"{n},R-01,,REST,=1+{n}" for n in range(1, 81)))
    deposit = make_checked({"scans.csv": many})
    client.force_login(deposit.maker)
    page = client.get(deposit.get_absolute_url())
    assert b"The first 5 of 80 are shown" in page.content
    assert "rows 2–81" in page.content.decode()
    table = client.get(f"{deposit.get_absolute_url()}findings.csv")
    text = b"".join(table.streaming_content).decode()
    assert text.count("type-error") == 80
    assert ",'=1+80," in text
    listed = client.get(f"{deposit.get_absolute_url()}findings.json")
    shapes = json.loads(b"".join(listed.streaming_content))
    assert sum(one["code"] == "type-error" for one in shapes) == 80


def test_an_embargoed_version_tells_what_it_is_and_keeps_its_numbers(client: Client) -> None:
    until = months_on(timezone.localdate(), 6)
    version = make_version(access="embargoed", terms={"embargoed_until": until})
    home = version.get_absolute_url()
    page = client.get(home)
    text = page.content.decode()
    assert page.status_code == 200
    assert "under embargo until" in text
    assert "Posture" in text
    assert "R-01" not in text
    assert "4 rows" not in text
    assert ">4<" not in client.get("/archive/").content.decode()
    client.force_login(lead_of(version.dataset.project))
    assert "R-01" in client.get(home).content.decode()


def test_a_withdrawn_version_leaves_a_tombstone(client: Client) -> None:
    version = make_version()
    steward = make_person(Role.STEWARD)
    client.force_login(steward)
    client.post(
        f"/archive/versions/{version.pk}/withdraw/",
        {"ground": "faulty", "reason": "a logger ran an hour ahead"},
    )
    client.logout()
    page = client.get(version.get_absolute_url())
    assert page.status_code == 410
    assert b"the data were faulty" in page.content
    assert b"an hour ahead" not in page.content
    told = client.get(version.get_absolute_url(), headers={"accept": "application/json"})
    assert told.status_code == 410
    assert told.json()["reason"] == {"class": "faulty", "words": "the data were faulty"}
    assert client.get(version.dataset.get_absolute_url()).status_code == 410


def test_a_dataset_of_which_nothing_was_published_is_not_there_for_visitors(
    client: Client,
) -> None:
    deposit = make_submitted()
    home = deposit.dataset.get_absolute_url()
    assert client.get(home).status_code == 404
    assert home.encode() not in client.get("/archive/").content
    client.force_login(make_person(Role.KEEPER))
    assert b"No version has been accepted yet" in client.get(home).content


def test_the_identifier_leads_to_the_page(client: Client) -> None:
    version = make_version()
    name = version.identifier.split("/")[1]
    assert client.get(f"/archive/ark/{name}/").headers["Location"] == version.get_absolute_url()
    base = version.dataset.identifier.split("/")[1]
    assert (
        client.get(f"/archive/ark/{base}/").headers["Location"].endswith(f"/{version.dataset.pk}/")
    )
    assert client.get("/archive/ark/s1nothing/").status_code == 404


def test_lists_cost_the_same_at_one_row_and_at_four(
    client: Client, django_assert_max_num_queries: Any
) -> None:
    first = make_opened()
    client.force_login(make_person(Role.STEWARD))
    addresses = ("/archive/", "/archive/deposits/", "/archive/dictionaries/", "/api/v1/deposits/")

    def counts() -> list[int]:
        found = []
        for address in addresses:
            with django_assert_max_num_queries(40) as context:
                assert client.get(address).status_code == 200
            found.append(len(context))
        return found

    before = counts()
    for _ in range(3):
        make_opened()
    put(first, {"scans.csv": rows()})
    make_dictionary(first.dataset.project.study, title="another")
    assert counts() == before
