"""The drill: a site by deeds, its backup, a wreck, and the restore; and what is refused."""

import hashlib
import io
import json
import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Callable
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.conf import settings as site_settings
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from django.test import Client
from django_tasks_db.models import DBTaskResult

from archive.models import Deposit, Version
from archive.places import quarantine, store
from archive.rounds import path_of
from archive.tasks import check_deposit
from registry import notes
from registry.animals.pictures.keeping import folder as pictures
from registry.animals.pictures.keeping import read as read_picture
from registry.errors import Refusal, StoreFailed, Unsound
from registry.ledger import proof, seal
from registry.ledger.models import Entry
from registry.people.actions import make_token
from registry.people.models import Person
from registry.permissions import Role
from registry.running import whole
from registry.running.backup import choosing, laying, packing, reading, rows
from registry.running.backup.choosing import fields_of, rows_of, taken
from registry.running.backup.manifest import DIGEST_NAME, NAME, Manifest
from registry.running.backup.packing import back_up
from registry.running.backup.reading import Checked, check_backup, opened
from registry.search import index
from tests.archive.steps import RESTORE, Step, When, killed_at, named
from tests.worlds.archive import make_checked, make_opened, make_version, put
from tests.worlds.archive import rows as table_rows
from tests.worlds.identity import make_photograph
from tests.worlds.people import PASSWORD, make_person
from tests.worlds.projects import lead_of
from tests.worlds.site import make_concern

ROOT = Path(__file__).resolve().parents[3]
pytestmark = pytest.mark.django_db(transaction=True)

EMPTY = Manifest("0", "", "sqlite", [], 0, "", [], [])


@pytest.fixture(autouse=True)
def _a_disk_of_its_own(tmp_path: Path, settings: Any) -> None:
    settings.VAR = tmp_path / "site"
    settings.STORE = settings.VAR / "store"
    settings.VAR.mkdir()


@pytest.fixture
def version() -> Version:
    """Build a site with a held version, a draft, a confidential concern, a token, and a task."""
    held = make_version()
    put(make_opened(held.dataset.project), {"half.csv": table_rows()})
    make_concern(project=held.dataset.project)
    person = make_person(Role.STEWARD)
    make_token(person, name="logger", days=3, by=person)
    check_deposit.enqueue(held.deposit_id, 1)
    check_deposit.enqueue(held.deposit_id, 2)
    DBTaskResult.objects.order_by("enqueued_at")[0].claim("a worker")
    return held


def contents() -> dict[str, list[tuple[Any, ...]]]:
    """Give every row of every table that is taken along, as the ORM gives it."""
    return {
        model._meta.label_lower: list(
            rows_of(model).values_list(*[field.attname for field in fields_of(model)])
        )
        for model in taken()
    }


def files() -> dict[str, bytes]:
    return {name: path.read_bytes() for name, path in packing.files_of_the_site()}


def empty_the_database() -> None:
    with seal.opened():
        call_command("flush", verbosity=0, interactive=False)


def wreck() -> None:
    """Lose the database's rows and the folders, as a machine that burnt does."""
    empty_the_database()
    shutil.rmtree(pictures(), ignore_errors=True)
    shutil.rmtree(store().root, ignore_errors=True)
    shutil.rmtree(quarantine().folder, ignore_errors=True)


def said(name: str, *args: Any, **options: Any) -> str:
    out = StringIO()
    call_command(name, *args, stdout=out, stderr=out, **options)
    return out.getvalue()


def retold(path: Path, change: Callable[[str, bytes], bytes | None]) -> Path:
    """Write a backup again with its members changed, or left out where nothing is given."""
    other = path.with_name(f"retold-{path.name}")
    with tarfile.open(path) as old, tarfile.open(other, "w", format=tarfile.PAX_FORMAT) as new:
        for member in old:
            stream = old.extractfile(member)
            assert stream is not None
            content = change(member.name, stream.read())
            if content is not None:
                member.size = len(content)
                new.addfile(member, io.BytesIO(content))
    return other


# ------------------------------------------------------------------------------- the whole drill


@pytest.mark.postgres
def test_a_wrecked_site_comes_back_with_every_row_and_byte(
    version: Version, tmp_path: Path
) -> None:
    draft = Deposit.objects.get(state="opened").files.get()
    steward = Person.objects.with_standing(Role.STEWARD).last()
    assert steward is not None
    photograph = make_photograph()
    rows_before, files_before = contents(), files()
    queued = DBTaskResult.objects.count()
    head = Entry.objects.order_by("-number").values_list("number", "digest").first()
    told = said("backup", tmp_path / "a.tar")
    assert f"ledger head {head[0]} {head[1]}" in told
    assert "The site’s secret key is not in it. Keep that apart" in told
    note = notes.read_note("backup")
    assert note is not None
    assert note["file"] == str(tmp_path / "a.tar")
    wreck()
    assert not Person.objects.exists()
    told = said("restore", tmp_path / "a.tar")
    assert "The ledger and the store are whole" in told
    assert "1 versions read, 0 with something wrong." in told
    assert contents() == rows_before
    assert files() == files_before
    assert len(rows_before["django_tasks_database.dbtaskresult"]) == queued - 1, (
        "the running one stays behind"
    )
    assert path_of(draft).read_bytes() == table_rows()
    assert read_picture(photograph.sha256)
    assert seal.is_on()
    found, reading_ = proof.check(with_subjects=True)
    assert found == []
    assert reading_.head is not None
    assert (reading_.head.number, reading_.head.digest) == head
    assert Client().login(username=steward.email, password=PASSWORD)
    assert index.find(version.dataset.title, steward)
    # What comes next takes the next numbers, in the tables and in the ledger.
    make_version()
    assert proof.check(with_subjects=True)[0] == []


def site(var: Path, database: str = "") -> Callable[..., subprocess.CompletedProcess[str]]:
    """Give a way to run commands on a site of its own, in other processes."""
    around = {name: said for name, said in os.environ.items() if not name.startswith("STRANDLINE_")}
    around |= {"STRANDLINE_TESTING": "yes", "STRANDLINE_VAR": str(var)}
    if database:
        around["STRANDLINE_DATABASE"] = database

    def run(*asked: object) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, ROOT / "manage.py", *map(str, asked)],
            cwd=ROOT,
            env=around,
            capture_output=True,
            text=True,
            check=False,
        )

    return run


def same(one: Manifest, other: Manifest) -> bool:
    """Say whether two backups hold the same rows and bytes, and the same head."""
    return (one.tables, one.pieces, one.ledger_number, one.ledger_digest) == (
        other.tables,
        other.pieces,
        other.ledger_number,
        other.ledger_digest,
    )


def test_a_new_machine_makes_its_own_tables_and_the_backup_of_it_is_the_same(
    version: Version, tmp_path: Path
) -> None:
    first = back_up(tmp_path / "a.tar")
    (tmp_path / "other").mkdir()
    told = said("drill", tmp_path / "a.tar", room=tmp_path / "other", keep=True)
    assert "the site is open" in told
    assert "The backup passed the drill" in told
    note = notes.read_note("drill")
    assert note is not None
    assert note["faults"] == 0
    (restored,) = (tmp_path / "other").iterdir()
    run = site(restored)
    again = run("restore", tmp_path / "a.tar")
    assert again.returncode == 1
    assert "The site is not empty" in again.stderr
    assert run("backup", tmp_path / "b.tar").returncode == 0
    assert same(first, check_backup(tmp_path / "b.tar").manifest)


def test_a_backup_that_does_not_pass_the_drill_says_why_and_leaves_nothing(
    tmp_path: Path,
) -> None:
    (tmp_path / "a.tar").write_bytes(b"no backup")
    (tmp_path / "other").mkdir()
    with pytest.raises(CommandError, match="did not pass the drill"):
        said("drill", tmp_path / "a.tar", room=tmp_path / "other")
    assert list((tmp_path / "other").iterdir()) == []
    note = notes.read_note("drill")
    assert note is not None
    assert note["faults"] == 1


@pytest.mark.postgres(only=True)
def test_a_backup_goes_from_one_database_to_the_other_and_back(
    version: Version, tmp_path: Path
) -> None:
    first = back_up(tmp_path / "postgres.tar")
    assert first.vendor == "postgresql"
    to_sqlite = site(tmp_path / "lite")
    told = to_sqlite("restore", tmp_path / "postgres.tar")
    assert told.returncode == 0, told.stderr
    assert to_sqlite("backup", tmp_path / "lite.tar").returncode == 0
    second = check_backup(tmp_path / "lite.tar").manifest
    assert second.vendor == "sqlite"
    assert same(first, second)
    given = connection.get_connection_params()
    with psycopg.connect(
        host=given["host"], user=given["user"], dbname="postgres", autocommit=True
    ) as server:
        server.execute("CREATE DATABASE drill")
        try:
            address = f"postgresql://{given['user']}@/drill?host={given['host']}"
            back = site(tmp_path / "post", address)
            told = back("restore", tmp_path / "lite.tar")
            assert told.returncode == 0, told.stderr
            assert back("backup", tmp_path / "again.tar").returncode == 0
        finally:
            server.execute("DROP DATABASE drill WITH (FORCE)")
    assert same(first, check_backup(tmp_path / "again.tar").manifest)


@pytest.mark.postgres
def test_a_backup_is_of_one_moment_while_others_go_on_writing(
    version: Version, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = Entry.objects.count()
    real, written = packing._add_table, []

    def meanwhile(*args: Any) -> Any:
        if not written:
            # By another process, which the backup must neither see nor hold up.
            script = (
                "import django; django.setup()\n"
                "from tests.worlds.people import make_person\n"
                "make_person('keeper')\n"
            )
            name = str(connection.settings_dict["NAME"])
            address = os.environ["STRANDLINE_DATABASE"]
            if connection.vendor == "sqlite":
                address = f"sqlite://{name}"
            else:
                address = address.replace("/postgres?", f"/{name}?")
            around = {**os.environ, "STRANDLINE_DATABASE": address}
            around["DJANGO_SETTINGS_MODULE"] = "registry.settings"
            subprocess.run([sys.executable, "-c", script], cwd=ROOT, env=around, check=True)
            written.append(True)
        return real(*args)

    monkeypatch.setattr(packing, "_add_table", meanwhile)
    manifest = back_up(tmp_path / "a.tar")
    assert Entry.objects.count() > before
    assert manifest.ledger_number == before
    table = next(one for one in manifest.tables if one.model == "ledger.entry")
    assert table.rows == before
    wreck()
    said("restore", tmp_path / "a.tar")
    assert Entry.objects.count() == before


def test_every_table_is_decided_on_and_left_out_for_a_reason() -> None:
    assert choosing.undecided() == []
    assert {"people.person", "ledger.entry", "people.apitoken"} <= {
        model._meta.label_lower for model in taken()
    }
    assert not {model._meta.label_lower for model in taken()} & choosing.LEFT_OUT.keys()
    # No manager of ours hides a row from the backup.
    for model in taken():
        with connection.cursor() as cursor:
            cursor.execute(f'SELECT count(*) FROM "{model._meta.db_table}"')
            assert cursor.fetchone()[0] == model._default_manager.count()


# ------------------------------------------------------------------------------- where it goes


def test_a_backup_is_not_written_over_another_unless_it_is_said(
    version: Version, tmp_path: Path
) -> None:
    target = tmp_path / "a.tar"
    target.write_bytes(b"an older one")
    with pytest.raises(CommandError, match=r"already something.*--replace"):
        said("backup", target)
    assert target.read_bytes() == b"an older one"
    said("backup", target, replace=True)
    assert check_backup(target).manifest.ledger_number == Entry.objects.count()
    assert target.stat().st_mode & 0o777 == 0o600
    assert sorted(tmp_path.glob("a.tar*")) == [target]


def test_a_backup_does_not_go_into_what_it_backs_up(version: Version, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="inside"):
        said("backup", store().root / "a.tar")
    with pytest.raises(CommandError, match="no folder"):
        said("backup", tmp_path / "nowhere" / "a.tar")
    assert not (store().root / "a.tar").exists()


def test_a_database_of_another_state_of_the_program_is_not_backed_up_by_this_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packing.MigrationExecutor, "migration_plan", lambda *_: [("later", False)])
    with pytest.raises(CommandError, match="not yet those of this program"):
        said("backup", tmp_path / "a.tar")
    monkeypatch.setattr(laying, "check_backup", lambda _: Checked(tmp_path, EMPTY, ""))
    monkeypatch.setattr(laying, "misfit", lambda _: "")
    with pytest.raises(CommandError, match="tables of this database are not those"):
        said("restore", tmp_path / "a.tar")
    assert not list(tmp_path.glob("a.tar*"))
    assert whole.is_whole()


def test_the_secret_key_goes_along_only_when_it_is_asked_for(
    version: Version, tmp_path: Path
) -> None:
    def has_key(name: str) -> bool:
        return site_settings.SECRET_KEY.encode() in (tmp_path / name).read_bytes()

    assert "is not in it" in said("backup", tmp_path / "a.tar")
    assert "is in it" in said("backup", tmp_path / "b.tar", with_secret_key=True)
    assert (has_key("a.tar"), has_key("b.tar")) == (False, True)
    told = said("backup", tmp_path / "b.tar", check=True)
    assert "The backup is whole. It fits this program. The site’s secret key is in it:" in told


def test_a_full_disk_says_so_and_leaves_nothing(
    version: Version, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    (tmp_path / "there").mkdir()
    for step in ("_add_table", "_add_file", "write_through"):
        with monkeypatch.context() as patch:
            patch.setattr(packing, step, full)
            with pytest.raises(StoreFailed, match="The disk is full"):
                back_up(tmp_path / "there" / "a.tar")
        assert list((tmp_path / "there").iterdir()) == []
        assert notes.read_note("backup") is None
    back_up(tmp_path / "there" / "a.tar")


MAKING = (
    Step("the first table is written", packing, "_add_table"),
    Step("the tables are read and a file is written", packing, "_add_file"),
    Step("the whole is pushed to the disk", packing, "write_through"),
)


@pytest.mark.postgres
@pytest.mark.parametrize(("step", "when"), [(step, "after") for step in MAKING], ids=named)
def test_a_backup_that_is_killed_leaves_no_file_and_is_made_again(
    version: Version, step: Step, when: When, tmp_path: Path
) -> None:
    target = tmp_path / "a.tar"
    killed_at(step, when, lambda: back_up(target), tmp_path / "told")
    assert not target.exists()
    back_up(target)
    assert sorted(tmp_path.glob("a.tar*")) == [target]
    check_backup(target)


# ------------------------------------------------------------------------------- what is refused


def refused(path: Path) -> str:
    """Restore, be refused, see that nothing was written, and give why."""
    with pytest.raises(CommandError) as fault:
        said("restore", path)
    assert not Person.objects.exists()
    assert not Entry.objects.exists()
    assert not store().root.exists()
    assert not quarantine().folder.exists()
    assert not pictures().exists()
    assert whole.is_whole()
    return str(fault.value)


@pytest.fixture
def backup(version: Version, tmp_path: Path) -> Path:
    """Give the backup of a site that is gone."""
    back_up(tmp_path / "a.tar")
    wreck()
    return tmp_path / "a.tar"


def test_a_backup_that_was_cut_short_is_refused_before_anything_is_written(backup: Path) -> None:
    content = backup.read_bytes()
    with opened(backup) as tar:
        last = max(member.offset_data + member.size for member in tar)  # behind it are noughts
    for share in (0.01, 0.3, 0.7, 0.98, 1):
        backup.write_bytes(content[: int(last * share) - 1])
        assert "cannot be used" in refused(backup)
    backup.write_bytes(b"")
    assert "cannot be used" in refused(backup)
    backup.write_bytes(content)
    said("restore", backup)


def test_a_backup_of_which_one_byte_was_altered_is_refused(backup: Path) -> None:
    content = bytearray(backup.read_bytes())
    with opened(backup) as tar:
        members = {member.name: member for member in tar}
    names = ["database/ledger.entry.jsonl", next(one for one in members if "/data/" in one)]
    for name in [*names, NAME]:
        at = members[name].offset_data + members[name].size // 2
        changed = bytearray(content)
        changed[at] ^= 1
        backup.write_bytes(changed)
        assert "altered" in refused(backup)
    backup.write_bytes(content)
    assert "is whole" in said("backup", backup, check=True)


def test_a_backup_that_lacks_a_piece_or_holds_one_more_is_refused(backup: Path) -> None:
    less = retold(backup, lambda name, held: None if "/data/" in name else held)
    assert "It lacks" in refused(less)
    with tarfile.open(backup, "a") as tar:
        entry = tarfile.TarInfo("store/extra.csv")
        tar.addfile(entry, io.BytesIO(b""))
    assert "says nothing" in refused(backup)


HOSTILE = [
    ("../escaped", tarfile.REGTYPE),
    ("store/../../escaped", tarfile.REGTYPE),
    ("/escaped", tarfile.REGTYPE),
    ("store//escaped", tarfile.REGTYPE),
    ("store\\..\\escaped", tarfile.REGTYPE),
    ("elsewhere/escaped", tarfile.REGTYPE),
    ("store/link", tarfile.SYMTYPE),
    ("store/link", tarfile.LNKTYPE),
    ("store/pipe", tarfile.FIFOTYPE),
    ("store/disk", tarfile.BLKTYPE),
    ("store/folder", tarfile.DIRTYPE),
]


def test_a_hostile_name_or_kind_is_refused_before_anything_is_written(backup: Path) -> None:
    content = backup.read_bytes()
    around = set(backup.parent.rglob("*"))
    for name, kind in HOSTILE:
        backup.write_bytes(content)
        with tarfile.open(backup, "a") as tar:
            entry = tarfile.TarInfo(name)
            entry.type, entry.linkname = kind, "../../escaped"
            tar.addfile(entry)
        why = refused(backup)
        assert "leads out" in why or "no plain file" in why or "no backup" in why, (name, why)
        assert set(backup.parent.rglob("*")) == around


def with_manifest(path: Path, change: Callable[[dict[str, Any]], object]) -> Path:
    """Write a backup again with another manifest, and its digest, as one who forges it would."""
    with opened(path) as tar:
        stream = tar.extractfile(NAME)
        assert stream is not None
        shape = json.load(stream)
    change(shape)
    content = json.dumps(shape).encode()
    digest = hashlib.sha256(content).hexdigest().encode()
    return retold(path, {NAME: content, DIGEST_NAME: digest}.get)


def test_a_backup_of_another_state_of_the_program_is_refused_and_told_what_to_do(
    backup: Path,
) -> None:
    newer = with_manifest(backup, lambda one: one["migrations"].append(["people", "0099_later"]))
    assert "newer program: people 0099_later" in refused(newer)
    older = with_manifest(backup, lambda one: one["migrations"].remove(["people", "0001_initial"]))
    assert "older program" in (why := refused(older))
    assert "Install the program in the version that made it" in why
    other = with_manifest(backup, lambda one: one["tables"][0]["fields"].append("mood"))
    assert "the columns of" in refused(other)
    strange = with_manifest(backup, lambda one: one.update(format=7))
    assert "its format is 7" in refused(strange)
    forged = with_manifest(backup, lambda one: one.update(ledger_digest="f" * 64))
    assert "head is not that of the manifest" in refused(forged)
    escaping = with_manifest(
        backup,
        lambda one: one["pieces"].append({**one["pieces"][0], "path": "store/../../x"}),
    )
    assert "cannot be used" in refused(escaping)


@pytest.mark.postgres
def test_a_site_that_is_not_empty_is_refused_and_stays_as_it_is(
    version: Version, tmp_path: Path
) -> None:
    back_up(tmp_path / "a.tar")
    rows_before, files_before = contents(), files()
    with pytest.raises(CommandError, match="not empty: its database holds rows"):
        said("restore", tmp_path / "a.tar")
    assert (contents(), files()) == (rows_before, files_before)
    empty_the_database()
    with pytest.raises(CommandError, match="not empty: there are files in"):
        said("restore", tmp_path / "a.tar")
    assert files() == files_before
    assert whole.is_whole()


# ------------------------------------------------------------------------------- broken off


@pytest.mark.postgres
@pytest.mark.parametrize(
    ("step", "when"),
    [
        (RESTORE[0], "before"),
        (RESTORE[0], "after"),
        *[(step, "before") for step in RESTORE[1:]],
        (RESTORE[-1], "after"),
    ],
    ids=named,
)
def test_a_restore_that_is_killed_leaves_a_site_that_says_so_and_is_restored_anew(
    version: Version, step: Step, when: When, tmp_path: Path
) -> None:
    rows_before, files_before = contents(), files()
    back_up(tmp_path / "a.tar")
    wreck()
    killed_at(step, when, lambda: said("restore", tmp_path / "a.tar"), tmp_path / "told")
    is_shut = (step, when) != (RESTORE[0], "before")
    assert whole.is_whole() == (not is_shut)
    if is_shut:
        page = Client().get("/sign-in/")
        assert page.status_code == 503
        assert b"it is not whole" in page.content
        assert Client().get("/api/v1/people/").json()["code"] == "closed"
        assert Client().get("/healthy/").json()["parts"]["site"].startswith("a restore")
        with pytest.raises(CommandError, match="closed"):
            said("backup", tmp_path / "b.tar")
    assert "The ledger and the store are whole" in said("restore", tmp_path / "a.tar")
    assert (contents(), files()) == (rows_before, files_before)
    assert not list(tmp_path.rglob("*.restoring"))
    assert Client().get("/sign-in/").status_code == 200


@pytest.mark.postgres
@pytest.mark.parametrize("fault", [OSError(28, "full"), OperationalError("disk is full")])
def test_a_restore_that_a_full_disk_stops_leaves_the_site_empty_and_open(
    backup: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    real, left = laying.write_rows, [7]

    def full(*args: Any) -> int:
        left[0] -= 1
        if left[0] == 0:
            raise fault
        return real(*args)

    with monkeypatch.context() as patch:
        patch.setattr(laying, "write_rows", full)
        assert "full" in refused(backup)
    said("restore", backup)


def test_a_site_whose_ledger_was_altered_before_the_backup_is_restored_and_says_so(
    version: Version, tmp_path: Path
) -> None:
    with seal.opened():
        Entry.objects.filter(number=3).update(after="otherwise")
    back_up(tmp_path / "a.tar")
    wreck()
    with pytest.raises(CommandError, match="verify_ledger found faults"):
        said("restore", tmp_path / "a.tar")
    assert whole.is_whole()
    assert Entry.objects.filter(after="otherwise").exists()


# ------------------------------------------------------------------------------- a row as a line


def test_a_line_that_is_no_row_is_refused_in_words() -> None:
    for line in (b"[1]\n", b"not json\n", b"{}\n"):
        with pytest.raises(Unsound, match=r"people\.Person cannot be read"):
            rows.write_rows(Person, [line])


def test_a_moment_is_not_taken_inside_a_transaction() -> None:
    with connection.cursor() as cursor, rows.one_moment():
        cursor.execute("SELECT 1")
    assert not connection.in_atomic_block
    assert issubclass(StoreFailed, Refusal)
    assert reading.hostile(tarfile.TarInfo("store/a")) == ""


# ------------------------------------------------------------------- versions in an object store


def test_a_site_whose_versions_lie_in_an_object_store_serves_them_and_comes_back(
    object_server: Any, settings: Any, tmp_path: Path
) -> None:
    address = object_server.new_bucket()
    settings.STORE = replace(address, endpoint="http://127.0.0.1:9")
    deposit = make_checked()
    lead = lead_of(deposit.dataset.project)
    browser = Client()
    browser.force_login(lead)
    given = {"licence": "CC0-1.0", "access": "open"}
    # A store that is lost: said in words, and the draft is as it was.
    refused = browser.post(f"{deposit.get_absolute_url()}accept/", given)
    assert refused.status_code == StoreFailed.status
    assert "It does not answer" in refused.content.decode()
    assert Deposit.objects.get(pk=deposit.pk).state == "checked"
    assert path_of(deposit.files.get()).read_bytes() == table_rows()
    settings.STORE = address
    assert browser.post(f"{deposit.get_absolute_url()}accept/", given).status_code == 302
    version = Version.objects.get(deposit=deposit)
    anyone = Client()
    page = f"/archive/versions/{version.slug}/"
    assert b"REST" in anyone.get(page).content
    served = anyone.get(f"{page}data/scans.csv")
    assert b"".join(served.streaming_content) == table_rows()
    part = anyone.get(f"{page}data/scans.csv", headers={"range": "bytes=5-9"})
    assert b"".join(part.streaming_content) == table_rows()[5:10]
    with zipfile.ZipFile(
        io.BytesIO(b"".join(anyone.get(f"{page}package.zip").streaming_content))
    ) as package:
        assert package.testzip() is None
    rows_before, files_before = contents(), files()
    assert "store/0=ocfl_1.1" in files_before
    said("backup", tmp_path / "a.tar")
    empty_the_database()
    shutil.rmtree(quarantine().folder)
    shutil.rmtree(pictures(), ignore_errors=True)
    with pytest.raises(CommandError, match="there are versions in"):
        said("restore", tmp_path / "a.tar")
    store().erase(version.identifier)
    assert "The ledger and the store are whole" in said("restore", tmp_path / "a.tar")
    assert (contents(), files()) == (rows_before, files_before)
