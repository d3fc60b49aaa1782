"""Typed copies of accepted tables: made by the worker, served behind the same door, erased too."""

import io
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from django.core.management import call_command
from django.test import Client

from archive.acceptance import erase
from archive.actions import withdraw_version
from archive.columnar import copies_of, copy_columns, copy_of, folder_of, make_columns, tables_in
from archive.extending.columns import write_columns
from archive.models import Version
from registry.permissions import Role
from tests.worlds.archive import make_version, rows
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def here(_module, options, _room, *, next):
    """Do what the child does, in this process: a child takes seconds to start."""
    return {
        "rows": write_columns(Path(options["source"]), Path(options["target"]), options["resource"])
    }


@pytest.fixture
def version(monkeypatch, django_capture_on_commit_callbacks):
    monkeypatch.setattr("archive.columnar.ask", here)
    with django_capture_on_commit_callbacks() as waiting:
        made = make_version({"scans.csv": rows("1,R-01,,REST,1.5", "2,R-02,,SWIM,")})
    assert len([one for one in waiting if "enqueue_columns" in one.__qualname__]) == 1
    return made


def test_the_copy_is_typed_and_is_served_whole_and_in_part_to_whom_the_version_is(version):
    assert copies_of(version) == []
    client = Client()
    address = f"/archive/versions/{version.slug}/columns/scans.parquet"
    assert client.get(address).status_code == 404
    assert copy_columns.call(version.pk) == {"scans": "2"}
    whole = b"".join(client.get(address))
    table = pq.read_table(io.BytesIO(whole))
    assert table.to_pydict()["depth"] == [1.5, None]
    assert table.schema.field("depth").metadata[b"x:unit"] == b"m"
    part = client.get(address, headers={"Range": "bytes=0-3"})
    assert (part.status_code, b"".join(part)) == (206, b"PAR1")
    assert address in client.get(version.get_absolute_url()).content.decode()
    # What is there is left alone.
    assert make_columns(version) == {}


def test_restricted_columns_are_not_served(version):
    make_columns(version)
    Version.objects.filter(pk=version.pk).update(access="restricted")
    address = f"/archive/versions/{version.slug}/columns/scans.parquet"
    assert Client().get(address).status_code == 403


def test_what_has_no_copy_is_copied_by_the_command(version, capsys):
    call_command("copy_columns")
    assert "scans: 2" in capsys.readouterr().out
    call_command("copy_columns")
    assert "0 tables were tried" in capsys.readouterr().out


def test_an_erased_version_leaves_no_copy_behind(version):
    make_columns(version)
    steward = make_person(Role.STEWARD)
    withdraw_version(version, ground="consent", reason="Asked for.", by=steward)
    erase(version, reason="Asked for.", by=steward)
    erase(version, reason="Asked for.", by=make_person(Role.ADMINISTRATOR))
    assert not folder_of(version).exists()
    # Nor does one that was at work when it was erased.
    assert copy_columns.call(version.pk) == {}


def test_a_copy_that_ends_after_the_erasure_is_removed(version, monkeypatch):
    def late(_module, options, _room, *, next):
        Version.objects.filter(pk=version.pk).update(state="erased")
        return here(_module, options, _room, next=next)

    monkeypatch.setattr("archive.columnar.ask", late)
    make_columns(version)
    assert not folder_of(version).exists()


def test_the_child_makes_the_copy_in_a_process_of_its_own():
    version = make_version({"scans.csv": rows("1,R-01,,REST,1.5")})
    assert make_columns(version) == {"scans": "1"}
    (table,) = tables_in(version)
    assert pq.read_table(copy_of(version, table)).num_rows == 1
