"""The store's commands: verifying what is held, sweeping what nothing speaks of."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.utils import timezone

from archive.acceptance import erase
from archive.actions import withdraw_version
from archive.models import Version
from archive.places import quarantine, store
from archive.rounds import path_of, place_of, room_of, take_in
from registry.animals.actions import withdraw_photograph
from registry.animals.pictures import keeping
from registry.permissions import Role
from tests.worlds.archive import make_checked, make_version
from tests.worlds.identity import make_photograph, make_picture
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
ORPHAN = "ark:99999/s1orphan0000.v1.0.0"


def said(name: str, **options: object) -> str:
    out = StringIO()
    call_command(name, stdout=out, **options)
    return out.getvalue()


@pytest.fixture
def orphan(tmp_path: Path) -> str:
    """Leave an object in the store, as an acceptance that broke off between bytes and row."""
    (tmp_path / "a.csv").write_bytes(b"a\n1\n")
    store().publish(
        ORPHAN,
        {"data/a.csv": tmp_path / "a.csv"},
        message="m",
        user_name="person 1",
        created=timezone.now(),
    )
    return ORPHAN


def test_an_orphan_is_harmless_listed_and_swept_once_it_is_a_day_old(orphan: str) -> None:
    version = make_version()
    assert orphan not in said("sweep_store")
    assert orphan in said("sweep_store", list=True, older_than=0)
    assert orphan in set(store().object_ids())
    assert orphan in said("sweep_store", older_than=0)
    held = set(store().object_ids())
    assert orphan not in held
    assert version.identifier in held


def test_a_photograph_of_no_mark_is_swept_once_it_is_a_day_old() -> None:
    held, left = make_photograph(), make_picture()
    withdraw_photograph(held, reason="another animal", by=make_person(Role.CURATOR))
    places = {one: keeping.path_of(one) for one in (left.sha256, left.small_sha256)}
    kept = [keeping.path_of(one) for one in (held.sha256, held.small_sha256)]
    assert left.sha256 not in said("sweep_store")
    assert left.sha256 in said("sweep_store", list=True, older_than=0)
    assert all(place.exists() for place in places.values())
    swept = said("sweep_store", older_than=0)
    assert all(digest in swept for digest in places)
    assert not any(place.exists() for place in places.values())
    assert all(place.exists() for place in kept)  # also of one that was withdrawn


def test_a_file_whose_upload_broke_off_before_its_row_is_swept_and_no_other_one_is() -> None:
    deposit = make_checked()
    spoken = deposit.files.get()
    left = place_of(take_in(deposit, "half.csv", [b"a"]))
    assert left not in said("sweep_store")
    assert left in said("sweep_store", list=True, older_than=0)
    assert left in quarantine().held_keys()
    assert left in said("sweep_store", older_than=0)
    assert left not in quarantine().held_keys()
    assert path_of(spoken).read_bytes()
    assert (room_of(deposit) / "report.json").is_file()


def test_the_bytes_of_an_erasure_that_broke_off_are_swept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    version = make_version()
    steward, administrator = make_person(Role.STEWARD), make_person(Role.ADMINISTRATOR)
    withdraw_version(version, ground="legal", reason="r", by=steward)
    erase(version, reason="r", by=steward)
    with monkeypatch.context() as patch:
        patch.setattr("archive.acceptance.erase_bytes", lambda _: None)
        erase(version, reason="r", by=administrator)
    assert version.identifier in set(store().object_ids())
    assert version.identifier in said("sweep_store")
    assert version.identifier not in set(store().object_ids())


def test_every_version_is_verified_and_a_changed_byte_is_found() -> None:
    version = make_version()
    assert said("verify_store").endswith("0 with something wrong.\n")
    path = store().path(version.identifier, "data/scans.csv")
    kept = path.read_bytes()
    path.chmod(0o644)
    path.write_bytes(kept[:-2] + b"9\n")
    with pytest.raises(SystemExit) as ended:
        said("verify_store")
    assert ended.value.code == 1
    path.write_bytes(kept)
    assert said("verify_store").startswith("1 versions read, 0")


def test_a_row_that_was_changed_behind_the_store_is_found() -> None:
    version = make_version()
    manifest = version.manifest
    changed = manifest | {"data/scans.csv": manifest["data/scans.csv"] | {"bytes": 1}}
    Version.objects.filter(pk=version.pk).update(manifest=changed)
    with pytest.raises(SystemExit):
        said("verify_store")
    Version.objects.filter(pk=version.pk).update(manifest=manifest)
    said("verify_store")
