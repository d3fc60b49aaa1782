"""A package that comes in a bag or a crate is taken out of it, once that is seen to be whole."""

import io
import json
import zipfile
from collections.abc import Mapping
from typing import Any

import pytest
from django.test import Client
from rocrate.rocrate import ROCrate

from archive.models import Deposit, Version
from tests.worlds.archive import make_checked, make_version, rows, zipped

pytestmark = pytest.mark.django_db


def body(response: Any) -> bytes:
    return b"".join(response.streaming_content)


def changed(packed: bytes, change: Mapping[str, bytes]) -> bytes:
    """Give a zip with some of its files replaced, by the ends of their names."""
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    for name in held:
        for end, content in change.items():
            if name.endswith(end):
                held[name] = content
    return zipped(held)


def verdict(deposit: Deposit) -> tuple[str, int]:
    tables = deposit.summary.get("tables", [])
    return deposit.verdict, sum(one["rows"] for one in tables)


@pytest.mark.postgres
def test_what_leaves_as_a_bag_or_a_crate_comes_in_again_and_a_changed_one_does_not(
    client: Client,
) -> None:
    version = make_version()
    project = version.dataset.project
    for form in ("bag", "crate"):
        sent = body(client.get(f"{version.get_absolute_url()}{form}.zip"))
        taken = make_checked({f"{form}.zip": sent}, project=project, dictionary=False)
        assert verdict(taken) == ("valid", 4), taken.summary
        spoiled = changed(sent, {"data/scans.csv": rows("1,R-01,2026-05-01,REST,2")})
        refused = make_checked({f"{form}.zip": spoiled}, project=project, dictionary=False)
        assert refused.verdict != "valid"
        said = json.dumps(refused.summary)
        assert f"The {form} is not whole" in said
        assert "scans.csv is not the file whose" in said


def test_a_crate_of_anothers_making_is_described_by_the_dictionary(tmp_path: Any) -> None:
    # Made by rocrate-py, not by us; it brings no descriptor of ours.
    (tmp_path / "scans.csv").write_bytes(rows())
    crate = ROCrate()
    crate.add_file(tmp_path / "scans.csv", properties={"name": "Scans"})
    crate.write_zip(tmp_path / "crate.zip")
    version: Version = make_version()
    deposit = make_checked(
        {"crate.zip": (tmp_path / "crate.zip").read_bytes()}, project=version.dataset.project
    )
    assert verdict(deposit) == ("valid", 4), deposit.summary
    alone = make_checked(
        {"crate.zip": (tmp_path / "crate.zip").read_bytes()},
        project=version.dataset.project,
        dictionary=False,
    )
    # Without one its columns are explained by nobody, and the check says so.
    assert alone.verdict != "valid"
    assert "no-schema" in json.dumps(alone.summary)
