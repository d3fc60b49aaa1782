"""The store in a bucket, on a real object store: swift's own servers with their S3 interface."""

import io
import urllib.request
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from ocfl.validator import Validator

from archive.storage.address import BucketAddress, read_address
from archive.storage.bucket import Bucket
from archive.storage.contract import VersionStore
from archive.storage.remote import RemoteStore
from archive.storage.store import Store
from registry.errors import Conflict, StoreFailed, Unseen

ID = "ark:99999/s1bcdfghjkmnq.v1"
STORY = {
    "message": "Accepted",
    "user_name": "data steward",
    "created": datetime(2026, 5, 1, 9, 30, tzinfo=UTC),
}


@pytest.fixture
def sources(tmp_path):
    table = tmp_path / "pebbles.csv"
    table.write_bytes(b"nest,pebbles\n1,12\n2,7\n")
    (tmp_path / "datapackage.json").write_bytes(b'{"name": "pebbles"}\n')
    return {"data/pebbles.csv": table, "datapackage.json": tmp_path / "datapackage.json"}


@pytest.fixture
def store(object_server, tmp_path):
    return RemoteStore(Bucket(object_server.new_bucket()), tmp_path / "bench")


def tree(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def keys(store: RemoteStore) -> list[str]:
    return [one.key for one in store.bucket.listing("", what="x")]


def spoil(store: RemoteStore, name: str) -> None:
    """Flip one bit of a file of the object."""
    root = store.keys.root_of(ID)
    content = store.bucket.read(f"{root}/{name}", what="x")
    assert content
    flipped = content[:-2] + bytes([content[-2] ^ 1]) + content[-1:]
    client = store.bucket.client
    client.put_object(Bucket=store.bucket.address.name, Key=f"{root}/{name}", Body=flipped)


def test_an_object_in_a_bucket_is_that_of_a_disk_byte_for_byte(store, sources, tmp_path):
    kept: VersionStore = store
    disk = Store(tmp_path / "ocfl")
    manifest = kept.publish(ID, sources, **STORY)
    assert manifest == disk.publish(ID, sources, **STORY) == store.manifest(ID)
    assert store.seal_of(ID) == disk.seal_of(ID)
    with store.laid(ID) as far, disk.laid(ID) as near:
        assert tree(far) == tree(near)
        assert Validator(log_warnings=True).validate_object(str(far))
    place = disk._path(ID).relative_to(disk.root).as_posix()
    assert sum(key.startswith(f"site/store/{place}/") for key in keys(store)) == 7
    assert "site/store/0=ocfl_1.1" in keys(store)
    assert (store.verify(ID), list(store.object_ids())) == ([], [ID])
    assert [(one.object_id, one.problems) for one in store.scrub()] == [(ID, ())]
    assert list(store.scrub(after=place)) == []
    assert 0 <= store.age_s(ID) < 60
    # Again it is the same one; another one under its name is refused.
    assert store.publish(ID, sources, **STORY) == manifest
    with disk.laid(ID) as near:
        store.adopt(ID, near)
    sources["data/pebbles.csv"].write_bytes(b"nest,pebbles\n1,13\n")
    with pytest.raises(Conflict):
        store.publish(ID, sources, **STORY)
    assert list(store.workbench.folder.iterdir()) == []


def test_a_file_is_read_whole_or_from_any_byte_on(store, sources):
    store.publish(ID, sources, **STORY)
    content = sources["data/pebbles.csv"].read_bytes()
    with store.open_file(ID, "data/pebbles.csv") as opened:
        assert opened.read() == content
        assert opened.seek(5) == 5
        assert opened.read(7) == content[5:12]
        assert opened.seek(0, io.SEEK_END) == len(content)
        assert opened.read() == b""
    with io.TextIOWrapper(store.open_file(ID, "data/pebbles.csv"), newline="") as lines:
        assert list(lines) == content.decode().splitlines(keepends=True)
    with store.local(ID, "data/pebbles.csv") as place:
        assert place.read_bytes() == content
    assert not place.exists()
    for refused in ("data/none.csv", "../../datapackage.json"):
        with pytest.raises(Unseen):
            store.open_file(ID, refused)
    with pytest.raises(Unseen):
        store.manifest("ark:99999/s1other")


def test_one_flipped_bit_in_any_file_is_found(store, sources, tmp_path):
    store.publish(ID, sources, **STORY)
    with store.laid(ID) as folder:
        whole = tree(folder)
    for name in whole:
        spoil(store, name)
        assert any(problem.is_error for problem in store.verify(ID)), name
        client, key = store.bucket.client, f"{store.keys.root_of(ID)}/{name}"
        client.put_object(Bucket=store.bucket.address.name, Key=key, Body=whole[name])
    assert len(whole) == 7
    assert store.verify(ID) == []


def test_what_was_damaged_is_set_aside_and_a_whole_copy_takes_its_place(store, sources, tmp_path):
    disk = Store(tmp_path / "ocfl")
    disk.publish(ID, sources, **STORY)
    with disk.laid(ID) as near:
        store.adopt(ID, near)
        spoil(store, "v1/content/data/pebbles.csv")
        name = store.set_aside(ID)
        assert not store.holds(ID)
        assert store.set_aside_names() == [name]
        store.adopt(ID, near)
    assert store.verify(ID) == []
    with pytest.raises(Unseen):
        store.set_aside("ark:99999/s1other")
    store.erase(ID)
    assert all("0=ocfl_1.1" in key or "layout" in key for key in keys(store))
    with pytest.raises(Unseen):
        store.erase(ID)


class Cut(Exception):
    """The work was cut off."""


class Cutting(RemoteStore):
    """A store whose work is cut off before its inventory is put."""

    def _reached(self, step: str) -> None:
        if step == "copied":
            raise Cut


def test_work_that_is_cut_off_shows_nothing_is_done_again_and_swept(store, sources, tmp_path):
    disk = Store(tmp_path / "ocfl")
    disk.publish(ID, sources, **STORY)
    cutting = Cutting(store.bucket, store.staging)

    def is_cut():
        with disk.laid(ID) as near, pytest.raises(Cut):
            cutting.adopt(ID, near)

    is_cut()
    assert (store.holds(ID), list(store.object_ids()), list(store.scrub())) == (False, [], [])
    assert len(keys(store)) > 6
    assert store.sweep_staging(older_than_s=0, spoken=[ID]) == 0
    store.publish(ID, sources, **STORY)
    assert store.verify(ID) == []
    store.erase(ID)
    is_cut()
    assert store.sweep_staging() == 0
    assert store.sweep_staging(older_than_s=0) == 1
    is_cut()
    # Other bytes lie where its own would: it says so, gives way, and is put.
    sources["datapackage.json"].write_bytes(b'{"name": "stones"}\n')
    with pytest.raises(Conflict):
        store.publish(ID, sources, **STORY)
    store.erase(ID)
    store.publish(ID, sources, **STORY)
    assert store.verify(ID) == []


def test_a_store_that_is_lost_shut_or_missing_is_named(object_server, store, sources, tmp_path):
    address = store.bucket.address
    for changed, why in (
        ({"endpoint": "http://127.0.0.1:9"}, "It does not answer, or broke off."),
        ({"secret": "wrong"}, "It does not let this program in"),
        ({"name": "nobodysbucket"}, "There is no such bucket."),
    ):
        lost = RemoteStore(Bucket(replace(address, **changed)), tmp_path / "bench")
        with pytest.raises(StoreFailed) as refused:
            lost.publish(ID, sources, **STORY)
        assert why in refused.value.why
        assert "wrong" not in str(refused.value)
    assert "There is no such bucket" in lost.fault()
    assert [problem.code for problem in lost.verify(ID)] == ["E063"]
    assert (store.fault(), store.free_bytes()) == ("", None)
    assert keys(store) == []


def quota(object_server, address: BucketAddress, most: int) -> None:
    """Say how many bytes a bucket takes, by the server's own way."""
    asked = urllib.request.Request(
        f"{object_server.endpoint}/auth/v1.0",
        headers={"X-Auth-User": address.key_id, "X-Auth-Key": address.secret},
    )
    with urllib.request.urlopen(asked) as answer:
        token, home = answer.headers["X-Auth-Token"], answer.headers["X-Storage-Url"]
    place = f"{object_server.endpoint}{urlsplit(home).path}/{address.name}"
    heads = {"X-Auth-Token": token, "X-Container-Meta-Quota-Bytes": str(most)}
    with urllib.request.urlopen(urllib.request.Request(place, headers=heads, method="POST")):
        pass


def test_a_full_store_is_named_and_shows_nothing(object_server, store, sources):
    quota(object_server, store.bucket.address, 1000)
    with pytest.raises(StoreFailed, match="It is full"):
        store.publish(ID, sources, **STORY)
    assert not store.holds(ID)
    quota(object_server, store.bucket.address, 1_000_000)
    store.publish(ID, sources, **STORY)
    assert store.verify(ID) == []


@pytest.mark.parametrize(
    "said",
    ["ftp://host/x", "s3://", "s3://me:word@bucket", "s3://bucket?acl=public-read"],
)
def test_an_address_that_is_none_is_refused(said):
    with pytest.raises(ValueError, match="store"):
        read_address(said)


def test_an_address_never_shows_who_asks():
    address = read_address(
        "s3://archive/a/b/?endpoint=https://objects.example.org&region=eu-2",
        key_id="KEY",
        secret="WORD",
    )
    assert isinstance(address, BucketAddress)
    assert (address.name, address.prefix, address.region) == ("archive", "a/b", "eu-2")
    assert "WORD" not in repr(address) + address.said
    assert "KEY" not in repr(address) + address.said
