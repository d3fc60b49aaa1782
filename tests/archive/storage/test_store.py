import errno
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from archive.storage import disk
from archive.storage.contract import VersionStore
from archive.storage.store import Store
from registry.errors import Conflict, StoreFailed, Unseen, Unsound

ROOT = Path(__file__).resolve().parents[3]
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
    descriptor = tmp_path / "datapackage.json"
    descriptor.write_bytes(b'{"name": "pebbles"}\n')
    return {
        "data/pebbles.csv": table,
        "original/pebbles.csv": table,
        "datapackage.json": descriptor,
    }


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "ocfl")


def everything(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()] if folder.exists() else []


def test_a_store_on_a_disk_keeps_the_contract(store):
    kept: VersionStore = store  # held by mypy; here its verbs are there
    assert all(
        callable(getattr(kept, verb))
        for verb in (
            "publish",
            "manifest",
            "open_file",
            "verify",
            "scrub",
            "erase",
            "sweep_staging",
        )
    )


def test_a_published_object_is_read_as_it_was_written(store, sources):
    manifest = store.publish(ID, sources, **STORY)
    assert [file.logical for file in manifest.files] == sorted(sources)
    for file in manifest.files:
        content = sources[file.logical].read_bytes()
        assert file.bytes == len(content)
        assert file.sha256 == hashlib.sha256(content).hexdigest()
        assert file.sha512 == hashlib.sha512(content).hexdigest()
        with store.open_file(ID, file.logical) as opened:
            assert opened.read() == content
    assert manifest == store.manifest(ID)
    assert store.verify(ID) == []
    assert list(store.object_ids()) == [ID]
    assert everything(store.workbench.folder) == []


def test_every_stored_file_is_read_only(store, sources):
    store.publish(ID, sources, **STORY)
    stored = [path for path in everything(store.root) if "v1" in path.parts]
    assert len(stored) == 5
    assert {path.stat().st_mode & 0o777 for path in stored} == {0o444}


def test_the_root_says_what_it_is_and_how_it_is_laid_out(store, sources):
    store.publish(ID, sources, **STORY)
    assert (store.root / "0=ocfl_1.1").read_bytes() == b"ocfl_1.1\n"
    layout = json.loads((store.root / "ocfl_layout.json").read_text())
    config = store.root / "extensions" / layout["extension"] / "config.json"
    assert json.loads(config.read_text())["extensionName"] == layout["extension"]


def test_the_same_object_twice_is_one_and_another_under_its_name_is_refused(store, sources):
    first = store.publish(ID, sources, **STORY)
    assert store.publish(ID, sources, **STORY) == first
    fewer = {"datapackage.json": sources["datapackage.json"]}
    with pytest.raises(Conflict):
        store.publish(ID, fewer, **STORY)
    sources["data/pebbles.csv"].write_bytes(b"nest,pebbles\n1,13\n")
    with pytest.raises(Conflict):
        store.publish(ID, sources, **STORY)
    assert store.manifest(ID) == first
    assert store.verify(ID) == []


def test_a_file_that_changed_since_its_receipt_is_not_stored(store, sources):
    right = hashlib.sha256(sources["datapackage.json"].read_bytes()).hexdigest()
    with pytest.raises(Unsound):
        store.publish(ID, sources, expected={"datapackage.json": "0" * 64}, **STORY)
    assert list(store.object_ids()) == []
    assert everything(store.workbench.folder) == []
    store.publish(ID, sources, expected={"datapackage.json": right}, **STORY)


def test_an_unsound_path_or_an_hour_without_a_zone_is_refused(store, sources):
    with pytest.raises(Unsound):
        store.publish(ID, {"../x.csv": sources["datapackage.json"]}, **STORY)
    with pytest.raises(ValueError, match="time zone"):
        store.publish(ID, sources, **{**STORY, "created": datetime(2026, 5, 1)})  # noqa: DTZ001
    assert not store.root.exists()


def test_what_is_not_there_is_unseen(store, sources):
    with pytest.raises(Unseen):
        store.manifest(ID)
    store.publish(ID, sources, **STORY)
    with pytest.raises(Unseen):
        store.open_file(ID, "data/none.csv")
    with pytest.raises(Unseen):
        store.open_file(ID, "../../datapackage.json")
    with pytest.raises(Unseen):
        store.erase("ark:99999/s1other")


def damaged_byte(path):
    content = bytearray(path.read_bytes())
    content[0] ^= 1
    path.chmod(0o644)
    path.write_bytes(content)


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (lambda root: damaged_byte(root / "v1/content/data/pebbles.csv"), "E092"),
        (lambda root: (root / "v1/content/datapackage.json").unlink(), "E092"),
        (lambda root: (root / "v1/content/more.csv").write_bytes(b"x"), "E023"),
        (lambda root: damaged_byte(root / "inventory.json"), "E060"),
        (lambda root: (root / "inventory.json").unlink(), "E063"),
        (lambda root: (root / "v1/content/link").symlink_to(root), "E090"),
        (lambda root: (root / "v1/content/empty").mkdir(), "E024"),
        (shutil.rmtree, "E003"),
    ],
)
def test_each_kind_of_damage_is_found(store, sources, spoil, code):
    store.publish(ID, sources, **STORY)
    assert store.verify(ID) == []
    spoil(store._path(ID))
    assert code in {problem.code for problem in store.verify(ID)}


def test_a_damaged_inventory_is_never_trusted(store, sources):
    store.publish(ID, sources, **STORY)
    damaged_byte(store._path(ID) / "inventory.json")
    with pytest.raises(StoreFailed):
        store.manifest(ID)
    with pytest.raises(StoreFailed):
        store.open_file(ID, "datapackage.json")


def test_a_scrub_reads_every_object_and_goes_on_where_it_stopped(store, sources):
    ids = [f"ark:99999/s1x{number}" for number in range(7)]
    for name in ids:
        store.publish(name, sources, **STORY)
    whole = list(store.scrub())
    assert sorted(each.object_id for each in whole) == ids
    assert not any(each.problems for each in whole)
    assert {each.bytes for each in whole} == {sum(p.stat().st_size for p in sources.values())}
    first = list(store.scrub(most=3))
    assert first + list(store.scrub(after=first[-1].path)) == whole


def test_a_scrub_finds_the_damaged_the_stray_and_the_misplaced(store, sources):
    for name in ("ark:99999/s1a", "ark:99999/s1b", "ark:99999/s1c"):
        store.publish(name, sources, **STORY)
    damaged_byte(store._path("ark:99999/s1a") / "v1/content/datapackage.json")
    (store.root / "stray.txt").write_text("x")
    elsewhere = store.root / "000/000/000/x"
    elsewhere.parent.mkdir(parents=True)
    store._path("ark:99999/s1b").rename(elsewhere)
    codes = {problem.code for each in store.scrub() for problem in each.problems}
    assert codes == {"E092", "E093", "E072", "E073", "E083"}
    assert sum(not each.problems for each in store.scrub()) == 1


def test_an_erased_object_leaves_nothing_and_its_neighbours_stay(store, sources):
    other = "ark:99999/s1other"
    store.publish(ID, sources, **STORY)
    store.publish(other, sources, **STORY)
    before = store.manifest(other)
    store.erase(ID)
    assert list(store.object_ids()) == [other]
    assert store.manifest(other) == before
    assert everything(store.workbench.folder) == []
    tops = {path.name for path in store.root.iterdir()}
    assert tops == {"0=ocfl_1.1", "ocfl_layout.json", "extensions", store._path(other).parts[-4]}
    assert [each.problems for each in store.scrub()] == [()]
    with pytest.raises(Unseen):
        store.manifest(ID)
    store.publish(ID, sources, **STORY)


@pytest.mark.parametrize("fault", [errno.ENOSPC, errno.EROFS, errno.EDQUOT, errno.EIO])
@pytest.mark.parametrize("step", ["copy", "seal", "rename"])
def test_a_disk_that_will_not_take_it_is_named_and_nothing_is_left(
    store, sources, monkeypatch, fault, step
):
    store.publish("ark:99999/s1first", sources, **STORY)

    def fail(*_):
        raise OSError(fault, os.strerror(fault))

    with monkeypatch.context() as patched:
        if step == "rename":
            patched.setattr(Path, "rename", fail)
        elif step == "copy":
            patched.setattr("archive.storage.making.write_through", fail)
        else:
            patched.setattr("archive.storage.making.write_file", fail)
        with pytest.raises(StoreFailed) as refused:
            store.publish(ID, sources, **STORY)
    assert refused.value.why.startswith(("The disk", "The disk quota"))
    assert list(store.object_ids()) == ["ark:99999/s1first"]
    assert everything(store.workbench.folder) == []
    assert store.publish(ID, sources, **STORY)


def test_a_real_full_disk_is_named_and_nothing_is_left(store, sources):
    # The file size limit of the process stands in for a small disk: EFBIG at the first block.
    script = (
        "import resource, signal, sys\n"
        "from datetime import UTC, datetime\n"
        "from pathlib import Path\n"
        "from archive.storage.store import Store\n"
        "from registry.errors import StoreFailed\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))\n"
        "try:\n"
        "    Store(Path(sys.argv[1])).publish(sys.argv[2], {'big.csv': Path(sys.argv[3])},\n"
        "        message='m', user_name='n', created=datetime.now(UTC))\n"
        "except StoreFailed as refused:\n"
        "    print(refused.why)\n"
    )
    big = sources["datapackage.json"].with_name("big.csv")
    big.write_bytes(b"0" * 200_000)
    told = subprocess.run(
        [sys.executable, "-c", script, store.root, ID, big],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert told.stdout == "The file is larger than this disk allows.\n"
    assert everything(store.workbench.folder) == []
    assert list(store.object_ids()) == []


def test_a_fault_that_is_not_the_disks_is_not_dressed_as_one(store, sources, tmp_path):
    sources["data/none.csv"] = tmp_path / "none.csv"
    with pytest.raises(FileNotFoundError):
        store.publish(ID, sources, **STORY)
    assert everything(store.workbench.folder) == []


def test_a_foreign_folder_is_not_taken_for_the_store(store, sources):
    store.root.mkdir()
    (store.root / "holiday.jpg").write_bytes(b"x")
    with pytest.raises(StoreFailed):
        store.publish(ID, sources, **STORY)
    assert [path.name for path in store.root.iterdir()] == ["holiday.jpg"]


KILLED = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from archive.storage.store import Store

class Cut(Store):
    def _reached(self, step):
        if step == sys.argv[3]:
            os.kill(os.getpid(), signal.SIGKILL)

store = Cut(Path(sys.argv[1]))
if sys.argv[3] == "taken out":
    store.erase(sys.argv[2])
else:
    files = {"data/pebbles.csv": Path(sys.argv[4]), "datapackage.json": Path(sys.argv[4])}
    store.publish(sys.argv[2], files, message="m", user_name="n", created=datetime.now(UTC))
"""


@pytest.mark.parametrize(
    ("step", "there"),
    [
        ("copied", False),
        ("sealed", False),
        ("read back", False),
        ("renamed", True),
        ("taken out", False),
    ],
)
@pytest.mark.parametrize("first", [True, False], ids=["first object", "second object"])
def test_a_killed_process_leaves_the_object_absent_or_whole(store, sources, step, there, first):
    table = sources["data/pebbles.csv"]
    files = {"data/pebbles.csv": table, "datapackage.json": table}
    neighbours = [] if first else ["ark:99999/s1first"]
    for name in neighbours:
        store.publish(name, files, **STORY)
    if step == "taken out":
        store.publish(ID, files, **STORY)
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, store.root, ID, step, table], cwd=ROOT, check=False
    )
    assert ended.returncode == -signal.SIGKILL
    assert sorted(store.object_ids()) == sorted(neighbours + [ID] * there)
    if there:
        assert store.verify(ID) == []
    # The next morning: the sweep clears the rest, and the work can be done again.
    assert len(list(store.workbench.folder.iterdir())) == 1
    assert store.sweep_staging(older_than_s=3600) == 0
    assert store.sweep_staging(older_than_s=0) == 1
    assert list(store.workbench.folder.iterdir()) == []
    assert all(each.problems == () for each in store.scrub())
    assert store.publish(ID, files, **STORY).object_id == ID
    assert store.verify(ID) == []


def test_a_sweep_leaves_work_in_progress_alone(store, sources):
    class Slow(Store):
        def _reached(self, step):
            if step == "copied":
                assert self.sweep_staging(older_than_s=0) == 0

    assert Slow(store.root).publish(ID, sources, **STORY) == store.manifest(ID)


def test_two_who_publish_the_same_object_at_once_get_one(store, sources):
    store.publish("ark:99999/s1first", sources, **STORY)
    gate = threading.Barrier(2)

    class Meeting(Store):
        def _reached(self, step):
            if step == "read back":
                gate.wait(timeout=20)

    got = []
    racers = [
        threading.Thread(
            target=lambda: got.append(Meeting(store.root).publish(ID, sources, **STORY))
        )
        for _ in range(2)
    ]
    for racer in racers:
        racer.start()
    for racer in racers:
        racer.join()
    assert got[0] == got[1] == store.manifest(ID)
    assert store.verify(ID) == []
    assert everything(store.workbench.folder) == []


def test_nothing_is_spoken_of_before_it_is_on_the_disk(store, sources, monkeypatch):
    store.publish("ark:99999/s1first", sources, **STORY)
    settled, renamed = [], []
    sync, rename = os.fsync, Path.rename

    def note(handle):
        settled.append(Path(f"/proc/self/fd/{handle}").readlink())
        sync(handle)

    def move(path, target):
        renamed.append((path, target, len(settled)))
        return rename(path, target)

    monkeypatch.setattr(disk.os, "fsync", note)
    monkeypatch.setattr(Path, "rename", move)
    store.publish(ID, sources, **STORY)
    *_, (carrier, target, settled_before) = renamed
    assert store.root in target.parents
    before = {path.name for path in settled[:settled_before]}
    stored = {path.name for path in store._path(ID).rglob("*")}
    assert len(stored) > 5
    assert stored <= before
    assert target.parent in settled[settled_before:]
    assert len([each for each in renamed if store.root in each[1].parents]) == 1
    assert not carrier.exists()
