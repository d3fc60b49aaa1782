"""The archive over the API: a deposit from its first file to a version, in the same rules."""

import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from archive import actions
from archive.models import Deposit
from registry.permissions import Role
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import check_here, descriptor, make_version, rows
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def test_a_deposit_becomes_a_version_over_the_api() -> None:
    world = make_collecting()
    api = APIClient()
    api.force_authenticate(world.lead)
    study = f"/api/v1/studies/{world.project.study.pk}"
    refused = api.post(
        f"{study}/write_dictionary/", {"descriptor": {"resources": []}}, format="json"
    )
    assert refused.status_code == 422
    made = api.post(f"{study}/write_dictionary/", {"descriptor": descriptor()}, format="json")
    assert made.status_code == 201
    dictionary = made.json()["id"]

    api.force_authenticate(world.student)
    opened = api.post(
        f"/api/v1/projects/{world.project.pk}/deposit/", {"dictionary": dictionary}, format="json"
    )
    assert opened.status_code == 201
    deposit = f"/api/v1/deposits/{opened.json()['id']}/"
    assert set(opened.json()["can"]) == {
        "add_file",
        "drop_file",
        "convert",
        "mend",
        "submit",
        "discard",
    }
    files = [SimpleUploadedFile("scans.csv", rows())]
    added = api.post(f"{deposit}add_file/", {"files": files}, format="multipart")
    assert added.status_code == 200
    assert [one["name"] for one in added.json()["files"]] == ["scans.csv"]
    assert api.post(f"{deposit}submit/").json()["state"] == "submitted"
    assert api.get(f"{deposit}report/").json()["verdict"] is None
    check_here(Deposit.objects.get())
    report = api.get(f"{deposit}report/").json()
    assert report["verdict"] == "valid"
    assert report["tables"][0]["columns"][4]["greatest"] == "4.5"
    assert {one["code"] for one in report["counts"]} >= {"not-enrolled"}
    terms = {"licence": "CC-BY-4.0", "access": "open"}
    assert api.post(f"{deposit}accept/", terms, format="json").status_code == 403

    api.force_authenticate(world.lead)
    assert api.post(f"{deposit}accept/", {"access": "open"}, format="json").status_code == 422
    accepted = api.post(f"{deposit}accept/", terms, format="json")
    assert accepted.status_code == 201
    version = accepted.json()
    assert (version["number"], version["rows"]) == ("1.0.0", 4)
    assert version["manifest"]["data/scans.csv"]["bytes"] == len(rows())
    again = api.post(f"{deposit}accept/", terms, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "conflict")


def test_a_visitor_reads_what_was_published_and_nothing_of_closed_data() -> None:
    open_one = make_version()
    closed = make_version(access="restricted", terms={"restricted_because": "Owner's wish."})
    api = APIClient()
    listed: dict[int, Any] = {
        row["id"]: row for row in api.get("/api/v1/versions/").json()["results"]
    }
    assert listed[open_one.pk]["rows"] == 4
    assert listed[closed.pk]["rows"] is None
    assert listed[closed.pk]["manifest"] is None
    assert listed[closed.pk]["licence"] == "CC-BY-4.0"
    assert "person" not in listed[open_one.pk]["creators"][0]
    assert listed[open_one.pk]["can"] == []
    datasets = api.get("/api/v1/datasets/").json()["results"]
    assert {row["id"] for row in datasets} == {open_one.dataset_id, closed.dataset_id}
    for plural in ("deposits", "dictionaries"):
        assert api.get(f"/api/v1/{plural}/").status_code == 401
    refused = api.post(f"/api/v1/versions/{open_one.pk}/withdraw/", {}, format="json")
    assert refused.status_code in {401, 403}


def test_a_steward_withdraws_over_the_api_and_two_erase() -> None:
    version = make_version()
    address = f"/api/v1/versions/{version.pk}/"
    api = APIClient()
    steward, administrator = make_person(Role.STEWARD), make_person(Role.ADMINISTRATOR)
    api.force_authenticate(steward)
    told = {"ground": "consent", "reason": "the student asked"}
    assert api.post(f"{address}withdraw/", told, format="json").json()["state"] == "withdrawn"
    assert api.get(address).json()["can"] == ["register", "erase"]
    assert api.post(f"{address}erase/", {"reason": "r"}, format="json").json()["state"] == (
        "withdrawn"
    )
    api.force_authenticate(administrator)
    erased = api.post(f"{address}erase/", {"reason": "r"}, format="json").json()
    assert (erased["state"], erased["creators"]) == ("erased", [])


def test_a_deposit_of_another_project_is_not_found() -> None:
    deposit = actions.open_deposit(
        (world := make_collecting()).project, dictionary=None, by=world.student
    )
    api = APIClient()
    api.force_authenticate(make_person(Role.STUDENT))
    for verb in ("submit", "add_file", "discard"):
        answer = api.post(f"/api/v1/deposits/{deposit.pk}/{verb}/", {}, format="json")
        assert answer.status_code == 404, json.dumps(answer.json())
