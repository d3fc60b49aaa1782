"""The page of a dictionary beside the one before it, and what the next cohort begins with."""

import io
from typing import Any

import openpyxl
import pytest
from django.test import Client

from registry.permissions import Role
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import descriptor, make_checked, make_dictionary, rows
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def changed(**change: Any) -> dict[str, Any]:
    """Give the resources of the usual dictionary, its depth changed."""
    resources = descriptor()["resources"]
    resources[0]["schema"]["fields"][4] |= change
    return {"resources": resources}


@pytest.mark.postgres
def test_a_dictionary_says_what_changed_and_which_release_it_is(client: Client) -> None:
    study = make_collecting().project.study
    first = make_dictionary(study)
    wider = make_dictionary(study, **changed(constraints={"minimum": 0, "maximum": 20}))
    narrower = make_dictionary(study, **changed(constraints={"minimum": 0, "maximum": 8}))
    client.force_login(make_person(Role.KEEPER))
    page = client.get(first.get_absolute_url()).content.decode()
    assert "What changed" not in page
    assert "<dd>1.0.0</dd>" in page
    page = client.get(wider.get_absolute_url()).content.decode()
    assert "must be 20 or less; before, it must be 12 or less" in page
    assert "Every table that was valid" in page
    assert "<dd>1.1.0</dd>" in page
    page = client.get(narrower.get_absolute_url()).content.decode()
    assert "must be 8 or less, which was not asked before" in page
    assert "may fail under this one" in page
    assert "<dd>2.0.0</dd>" in page


def test_the_next_cohort_is_given_sheets_advice_and_what_the_reports_complained_of(
    client: Client,
) -> None:
    deposit = make_checked({"scans.csv": rows("1,R-01,,REST,deep", "2,R-01,,REST,deeper")})
    dataset, study = deposit.dataset, deposit.dataset.project.study
    address = f"/archive/{dataset.pk}/next/"
    client.force_login(deposit.maker)
    assert address in client.get(dataset.get_absolute_url()).content.decode()
    page = client.get(address).content.decode()
    assert "Widen the limits of “Depth”." in page
    assert "A new column breaks old tables" in page
    assert deposit.get_absolute_url() in page
    assert ": depth" in page
    dictionary = study.dictionaries.get()
    sheet = client.get(f"/archive/dictionaries/{dictionary.pk}/blank.xlsx")
    book = openpyxl.load_workbook(io.BytesIO(sheet.content))
    assert [cell.value for cell in book["scans"][1]] == [
        "scan",
        "ray",
        "seen_on",
        "posture",
        "depth",
    ]
    # Who may not see a deposit is not told what its report says.
    client.force_login(make_person(Role.KEEPER))
    page = client.get(address).content.decode()
    assert "Nothing that you may see." in page
    assert deposit.get_absolute_url() not in page
    assert client.get("/archive/999999/next/").status_code == 404
