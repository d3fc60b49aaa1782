"""Copies: made, read again in turn, set aside when damaged, and mended from one another."""

import hashlib
import json
import shutil
from collections.abc import Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from archive.acceptance import erase
from archive.actions import withdraw_version
from archive.copies.examining import faults_of
from archive.copies.models import Copy, StoreRun
from archive.copies.reviewing import to_review
from archive.copies.rounds import FIRST, SECOND, go_round, make_copy
from archive.copies.tasks import copy_version, enqueue_when_due, noted_round, scrub_copies
from archive.models import Version
from archive.places import second_store, store
from registry.ledger import proof
from registry.ledger.models import Entry
from registry.oversight.models import RetentionRule
from registry.permissions import Role, Verb
from tests.worlds.archive import make_version
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
AT_ONCE = timedelta(0)


@pytest.fixture(autouse=True)
def _disks_of_its_own(tmp_path: Path, settings: Any) -> Iterator[None]:
    settings.VAR, settings.STORE = tmp_path, tmp_path / "store"
    settings.SECOND_STORE = tmp_path / "elsewhere"
    yield
    assert proof.check(with_subjects=True)[0] == []


def round_of(**more: Any) -> tuple[StoreRun | None, list[str]]:
    said: list[str] = []
    run = go_round(budget_s=60, every=AT_ONCE, tell=said.append, **more)
    return run, said


def folder_in(held: Any, version: Version) -> Path:
    with held.laid(version.identifier) as folder:
        return Path(folder)


def tree(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def flip(path: Path) -> None:
    """Flip the lowest bit of the byte in the middle."""
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.chmod(0o644)
    path.write_bytes(content)


def both(version: Version) -> tuple[Any, Any]:
    second = second_store()
    assert second is not None
    return store(), second


def test_one_flipped_bit_in_any_file_of_either_copy_is_found_and_mended_from_the_other() -> None:
    version = make_version()
    run, _ = round_of()
    assert run is not None
    assert (run.made, run.read, run.damaged) == (2, 0, 0)
    first, second = both(version)
    whole = tree(folder_in(first, version))
    assert tree(folder_in(second, version)) == whole
    cases = 0
    for there in (first, second):
        for name in whole:
            flip(folder_in(there, version) / name)
            assert faults_of(there, version), name
            run, said = round_of()
            assert run is not None
            assert (run.damaged, run.mended, run.left) == (1, 1, 0), (name, said)
            assert tree(folder_in(first, version)) == tree(folder_in(second, version)) == whole
            cases += 1
        # What was damaged is kept aside as it was.
        assert len(there.set_aside_names()) == len(whole)
    assert cases == 2 * len(whole) >= 20
    print(f"flipped bits: {cases} cases ran")
    found = Entry.objects.filter(verb=Verb.COPY_FIND_DAMAGED)
    assert found.count() == Entry.objects.filter(verb=Verb.COPY_MEND).count() == cases
    assert not Copy.objects.damaged().exists()


def test_an_object_that_was_altered_with_its_own_digests_is_found_by_those_outside() -> None:
    version = make_version()
    round_of()
    first, second = both(version)
    folder = folder_in(first, version)
    table = folder / "v1/content/data/scans.csv"
    old = table.read_bytes()
    new = old.replace(b"REST", b"SWIM")
    told = (folder / "inventory.json").read_text()
    for way in ("sha256", "sha512"):
        told = told.replace(hashlib.new(way, old).hexdigest(), hashlib.new(way, new).hexdigest())
    sidecar = f"{hashlib.sha512(told.encode()).hexdigest()} inventory.json\n"
    forged = {"inventory.json": told.encode(), "inventory.json.sha512": sidecar.encode()}
    forged |= {f"v1/{name}": content for name, content in forged.items()}
    for name, content in (forged | {"v1/content/data/scans.csv": new}).items():
        (folder / name).chmod(0o644)
        (folder / name).write_bytes(content)
    # The same bytes stand under original/ too, so that it is not even a forgery of one file.
    (folder / "v1/content/original/scans.csv").chmod(0o644)
    (folder / "v1/content/original/scans.csv").write_bytes(new)
    assert first.verify(version.identifier) == []
    run, said = round_of()
    assert run is not None
    assert (run.damaged, run.mended) == (1, 1)
    assert "its files are not those of the database" in said[0]
    # A forged history alone, its files as they were, is found by the seal.
    folder = folder_in(first, version)
    told = json.dumps(json.loads((folder / "inventory.json").read_text()))
    sidecar = f"{hashlib.sha512(told.encode()).hexdigest()} inventory.json\n"
    for name, text in (("inventory.json", told), ("inventory.json.sha512", sidecar)):
        for place in (folder, folder / "v1"):
            (place / name).chmod(0o644)
            (place / name).write_text(text)
    assert first.verify(version.identifier) == []
    assert "its inventory is not that of the database" in round_of()[1][0]
    assert first.seal_of(version.identifier) == second.seal_of(version.identifier) == version.seal


def test_a_copy_that_is_gone_comes_back_and_without_another_nothing_damaged_is_served(
    settings: Any, client: Client
) -> None:
    version = make_version()
    round_of()
    first, second = both(version)
    shutil.rmtree(folder_in(first, version))
    assert round_of()[0].mended == 1  # type: ignore[union-attr]
    assert faults_of(first, version) == []
    # Both damaged: nothing is taken for right, nothing damaged is served.
    for there in (first, second):
        flip(folder_in(there, version) / "v1/content/data/scans.csv")
    address = f"{version.get_absolute_url()}data/scans.csv"
    run, said = round_of()
    assert run is not None
    assert (run.damaged, run.mended, run.left) == (2, 0, 2)
    assert sum("no whole copy to mend it from" in line for line in said) == 2
    assert client.get(address).status_code == 507
    page = client.get(version.get_absolute_url())
    assert page.status_code == 200
    assert "cannot be served now" in page.content.decode()
    assert client.get("/archive/").status_code == 200
    steward = Client()
    steward.force_login(make_person(Role.STEWARD))
    told = steward.get("/archive/copies/").content.decode()
    assert "2 copies are damaged" in told
    assert "A copy is damaged, and no whole one is there" in steward.get("/").content.decode()
    listed = steward.get("/api/v1/copies/", {"state": "damaged"}).json()
    assert [(one["place"], one["can"]) for one in listed["results"]] == [(FIRST, []), (SECOND, [])]
    rounds = steward.get("/api/v1/store-runs/").json()
    assert (rounds["count"], rounds["results"][0]["id"]) == (StoreRun.objects.count(), run.pk)
    assert rounds["results"][0]["digest"] == run.digest
    client.force_login(make_person(Role.KEEPER))
    assert client.get("/archive/copies/").status_code == 403
    assert [client.get(f"/api/v1/{one}/").json()["count"] for one in ("copies", "store-runs")] == [
        0,
        0,
    ]
    client.logout()
    assert round_of()[0].left == 2  # type: ignore[union-attr]
    # A whole one is laid back, as out of a backup: it mends both.
    aside = second.aside / second.set_aside_names()[0]
    flip(aside / "v1/content/data/scans.csv")
    second.adopt(version.identifier, aside)
    run, _ = round_of()
    assert run is not None
    assert (run.mended, run.left) == (2, 0)
    assert b"".join(client.get(address).streaming_content).startswith(b"scan,")


def test_a_store_whose_disk_is_not_there_is_no_damage_and_nothing_in_it_is_altered(
    settings: Any,
) -> None:
    version = make_version()
    round_of()
    first, _ = both(version)
    first.root.rename(first.root.with_name("unplugged"))
    first.root.mkdir()
    said = noted_round(budget_s=60, every=AT_ONCE)
    assert said[0].startswith("the store: nothing in it was read or altered.")
    assert said[0].endswith("is its disk mounted?")
    assert not Copy.objects.damaged().exists()
    assert list(first.root.iterdir()) == []
    first.root.rmdir()
    first.root.with_name("unplugged").rename(first.root)
    assert noted_round(budget_s=60, every=AT_ONCE)[-1] == "No copy is damaged."


def test_a_second_copy_is_made_at_once_on_command_and_of_a_whole_first_one_alone(
    settings: Any, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        version = make_version()
    assert DBTaskResult.objects.filter(task_path=copy_version.module_path).count() == 1
    assert copy_version.call(version.pk) is True
    first, second = both(version)
    assert faults_of(second, version) == []
    other = make_version(project=version.dataset.project)
    flip(folder_in(first, other) / "v1/content/data/scans.csv")
    out = StringIO()
    with pytest.raises(SystemExit):
        call_command("replicate_store", stdout=out)
    assert "Its first copy is damaged" in out.getvalue()
    assert "0 versions copied" in out.getvalue()
    assert not second.holds(other.identifier)
    flip(folder_in(first, other) / "v1/content/data/scans.csv")
    call_command("replicate_store", stdout=(out := StringIO()))
    assert out.getvalue() == f"1 versions copied to {settings.SECOND_STORE}, 0 could not be.\n"
    call_command("verify_store", stdout=(out := StringIO()))
    assert out.getvalue() == "2 versions read, 0 with something wrong.\n"
    flip(folder_in(second, other) / "v1/content/data/scans.csv")
    with pytest.raises(SystemExit):
        call_command("verify_store", stdout=(out := StringIO()))
    assert "the second store: E092" in out.getvalue()
    call_command("scrub_store", all=True, stdout=(out := StringIO()))
    assert "1 found damaged, 1 mended." in out.getvalue()
    settings.SECOND_STORE = None
    with pytest.raises(CommandError, match="There is no second store"):
        call_command("replicate_store")


@pytest.mark.postgres
def test_an_erasure_takes_every_copy_and_what_was_set_aside() -> None:
    version = make_version()
    round_of()
    first, second = both(version)
    flip(folder_in(second, version) / "v1/content/data/scans.csv")
    round_of()
    steward, administrator = make_person(Role.STEWARD), make_person(Role.ADMINISTRATOR)
    withdraw_version(version, ground="legal", reason="r", by=steward)
    round_of()  # one that is withdrawn is kept, and read
    for person in (steward, administrator):
        erase(Version.objects.get(pk=version.pk), reason="r", by=person)
    for there in (first, second):
        assert not there.holds(version.identifier)
        assert there.set_aside_names() == []
    assert round_of()[0] is None
    assert make_copy(version.pk, SECOND) is False


@pytest.mark.postgres
def test_each_copy_is_read_in_its_turn_within_the_time_and_the_round_stands_in_the_ledger(
    settings: Any,
) -> None:
    assert enqueue_when_due() is False
    versions = [make_version()]
    versions.append(make_version(project=versions[0].dataset.project))
    assert go_round(budget_s=60) is not None  # makes them all, and none is due
    assert go_round(budget_s=60) is None
    with time_machine.travel(timezone.now() + timedelta(days=31)):
        Copy.objects.filter(version=versions[0], place=FIRST).update(checked_at=timezone.now())
        assert go_round(budget_s=-1) is None
        run = go_round(budget_s=60)
        assert run is not None
        assert (run.made, run.read, run.versions) == (0, 3, 2)
        listed = sorted((one.identifier, one.seal) for one in versions)
        text = "".join(f"{seal}  {identifier}\n" for identifier, seal in listed)
        assert run.digest == hashlib.sha256(text.encode()).hexdigest()
        entry = Entry.objects.get(subject=f"archive.storerun:{run.pk}")
        assert json.loads(entry.text)["details"]["digest"] == run.digest
        assert go_round(budget_s=60) is None
        assert enqueue_when_due() is True
        assert enqueue_when_due() is False
        assert scrub_copies.call() == ["No copy is damaged."]
        assert enqueue_when_due() is False


def test_a_second_copy_in_an_object_store_mends_a_disk_and_is_mended_by_it(
    object_server: Any, settings: Any
) -> None:
    settings.SECOND_STORE = object_server.new_bucket()
    version = make_version()
    round_of()
    first, second = both(version)
    whole = tree(folder_in(first, version))
    flip(folder_in(first, version) / "v1/content/data/scans.csv")
    assert round_of()[0].mended == 1  # type: ignore[union-attr]
    key = f"{second.keys.root_of(version.identifier)}/v1/content/LICENSE"
    name = second.bucket.address.name
    second.bucket.client.put_object(Bucket=name, Key=key, Body=b"none")
    assert round_of()[0].mended == 1  # type: ignore[union-attr]
    with second.laid(version.identifier) as folder:
        assert tree(folder) == tree(folder_in(first, version)) == whole
    settings.SECOND_STORE = settings.SECOND_STORE.__class__(name, endpoint="http://127.0.0.1:9")
    run, said = round_of()
    assert run is not None
    assert run.read == 1
    assert "It does not answer" in said[0]
    assert not Copy.objects.damaged().exists()


@pytest.mark.postgres
def test_a_dataset_past_its_least_time_is_to_be_reviewed_and_stays(client: Client) -> None:
    version = make_version()
    client.force_login(make_person(Role.STEWARD))
    assert list(to_review()) == []
    RetentionRule.objects.create(code="data", record="data", years=10, counted_from="use")
    assert "kept for 10 years" in client.get("/archive/copies/").content.decode()
    with time_machine.travel(timezone.now() + timedelta(days=3652)):
        assert list(to_review()) == []
    with time_machine.travel(timezone.now() + timedelta(days=3654)):
        assert list(to_review()) == [version.dataset]
        client.force_login(make_person(Role.STEWARD))
        page = client.get("/archive/copies/")
        assert list(page.context["to_review"]) == [version.dataset]
        assert version.dataset.title in page.content.decode()
    assert Version.objects.get().state == "held"
