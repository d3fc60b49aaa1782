"""Disks that fill up or turn read-only, at each step: refused in words, and nothing is lost.

A hook on what the interpreter tells of its own calls (PEP 578) stands in for such a disk: to open
a file for writing, to make, to rename or to link one below a folder fails as the system fails it.
"""

import errno
import os
import resource
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import OperationalError
from django.tasks import TaskResultStatus
from django.test import Client
from django_tasks_db.models import DBTaskResult
from rest_framework.test import APIClient

from archive import actions, forms, rounds, tasks
from archive.copies.examining import faults_of
from archive.copies.models import Copy
from archive.copies.rounds import SECOND, go_round
from archive.models import Deposit, Version
from archive.places import quarantine, second_store, store
from archive.rounds import path_of, room_of, unspoken
from archive.storage import entering
from registry.errors import StoreFailed
from registry.ledger import proof
from registry.people.models import Person
from registry.permissions import Role
from registry.uploads import UploadHandler, sweep_uploads
from tests.worlds.archive import engine_check, make_checked, make_opened, make_version, put, rows
from tests.worlds.callers import work_off_the_queue
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of

pytestmark = pytest.mark.django_db(transaction=True)

WORDS = {errno.ENOSPC: "The disk is full.", errno.EROFS: "The disk is read-only."}
_PATHS = {"open": (0,), "os.mkdir": (0,), "os.rename": (0, 1), "os.link": (0, 1)}
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT


class Failing:
    """A disk that fails below a folder while it is told to; the hook itself stays for ever."""

    folder: Path | None = None
    code = errno.ENOSPC
    hits = 0
    is_hooked = False

    @classmethod
    def hear(cls, event: str, args: tuple[Any, ...]) -> None:
        if cls.folder is None or event not in _PATHS:
            return
        if event == "open" and not (isinstance(args[2], int) and args[2] & _WRITES):
            return
        for at in _PATHS[event]:
            name = args[at]
            if isinstance(name, str | bytes | os.PathLike):
                path = Path(os.fsdecode(name))
                if path.is_relative_to(cls.folder):
                    cls.hits += 1
                    raise OSError(cls.code, os.strerror(cls.code), str(path))


@contextmanager
def failing(folder: Path, code: int = errno.ENOSPC) -> Iterator[None]:
    """Let the disk fail below this folder; it is a fault of the test if nothing was tried there."""
    if not Failing.is_hooked:
        sys.addaudithook(Failing.hear)
        Failing.is_hooked = True
    Failing.folder, Failing.code, Failing.hits = folder, code, 0
    try:
        yield
    finally:
        Failing.folder = None
    assert Failing.hits, f"nothing was written below {folder}"


@contextmanager
def full_after(size: int) -> Iterator[None]:
    """Let no file of this process grow beyond so many bytes: a disk that fills while one writes."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture(autouse=True)
def home(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Give each test a disk of its own; after it the ledger and the store are whole."""
    settings.VAR, settings.STORE = tmp_path, tmp_path / "store"
    settings.UPLOADS = tmp_path / "uploads"
    (tmp_path / "tmp").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "tmp"))
    monkeypatch.setattr(tasks, "check_in_child", engine_check)  # the other child takes seconds
    yield tmp_path
    assert proof.check(with_subjects=True)[0] == []
    assert list((tmp_path / "tmp").iterdir()) == []
    assert not (tmp_path / "uploads").exists() or list((tmp_path / "uploads").iterdir()) == []


def browser_of(person: Person) -> Client:
    browser = Client(raise_request_exception=False)
    browser.force_login(person)
    return browser


def caller_of(person: Person) -> APIClient:
    caller = APIClient(raise_request_exception=False)
    caller.force_authenticate(person)
    return caller


def is_refused(answer: Any, why: str) -> None:
    """See that an answer says in words what was refused, as a page or in the API's one shape."""
    assert answer.status_code == 507, answer.content[:500]
    if answer.headers["Content-Type"].startswith("application/json"):
        assert set(answer.json()) == {"code", "what", "why", "next"}
        assert answer.json()["why"] == why
    else:
        assert why in answer.content.decode()
        assert "What next" in answer.content.decode()


def fresh(deposit: Deposit) -> Deposit:
    return Deposit.objects.get(pk=deposit.pk)


# ------------------------------------------------------------------------------- uploads


@pytest.mark.parametrize("code", WORDS)
@pytest.mark.parametrize("where", ["uploads", "quarantine/incoming", "quarantine"])
def test_an_upload_to_a_disk_that_takes_nothing_is_refused_and_the_draft_stays(
    home: Path, where: str, code: int
) -> None:
    deposit = put(make_opened(), {"notes.txt": b"calm"})
    page = f"{deposit.get_absolute_url()}add_file/"
    api = f"/api/v1/deposits/{deposit.pk}/add_file/"
    ways = ((browser_of(deposit.maker), page), (caller_of(deposit.maker), api))
    for who, address in ways:
        with failing(home / where, code):
            answer = who.post(address, {"files": SimpleUploadedFile("scans.csv", rows())})
        is_refused(answer, WORDS[code])
        assert list(deposit.files.values_list("name", flat=True)) == ["notes.txt"]
        assert unspoken(older_than_s=0) == []
        assert list(quarantine().incoming.iterdir()) == []
        assert list((home / "uploads").glob("*")) == []
    answer = ways[0][0].post(page, {"files": SimpleUploadedFile("scans.csv", rows())})
    assert answer.status_code == 302
    assert deposit.files.count() == 2


def test_a_disk_that_fills_while_an_upload_is_sent_leaves_no_part_of_it(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    deposit = put(make_opened(), {"notes.txt": b"calm"})
    browser = browser_of(deposit.maker)
    real = UploadHandler.write

    def fills_up(self: UploadHandler, data: bytes, start: int) -> None:
        real(self, data, start)
        if start:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(UploadHandler, "write", fills_up)
        large = SimpleUploadedFile("scans.csv", b"1,2\n" * 50_000)
        answer = browser.post(f"{deposit.get_absolute_url()}add_file/", {"files": large})
    is_refused(answer, WORDS[errno.ENOSPC])
    assert deposit.files.count() == 1
    assert list((home / "uploads").iterdir()) == []


def test_of_several_files_none_is_kept_when_the_disk_fills_at_the_last(home: Path) -> None:
    deposit = make_opened()
    files = {"a.csv": b"a\n", "b.csv": b"b\n" * 200_000}
    with full_after(100_000), pytest.raises(OSError, match="File too large"):
        (home / "tmp" / "trial").write_bytes(files["b.csv"])
    (home / "tmp" / "trial").unlink()
    form = forms.AddFile(
        {},
        {"files": [SimpleUploadedFile(name, held) for name, held in files.items()]},
        subject=deposit,
        by=deposit.maker,
    )
    assert form.is_valid()
    with full_after(100_000), pytest.raises(forms.Refusal, match="larger than this disk allows"):
        form.act()
    assert deposit.files.count() == 0
    assert quarantine().held_keys() == []
    assert list(quarantine().incoming.iterdir()) == []


@pytest.mark.parametrize(
    ("fault", "why"),
    [
        ("database or disk is full", "The disk is full."),
        ("attempt to write a readonly database", "The disk is read-only."),
    ],
)
def test_a_database_that_takes_no_row_leaves_bytes_without_a_row_and_they_are_swept(
    home: Path, monkeypatch: pytest.MonkeyPatch, fault: str, why: str
) -> None:
    deposit = make_opened()

    def full(*_: object, **__: object) -> None:
        raise OperationalError(fault)

    with monkeypatch.context() as patch:
        patch.setattr(actions.holding, "record", full)
        answer = browser_of(deposit.maker).post(
            f"{deposit.get_absolute_url()}add_file/",
            {"files": SimpleUploadedFile("scans.csv", rows())},
        )
        is_refused(answer, why)
        put_to = f"/api/v1/deposits/{deposit.pk}/submit/"
        is_refused(caller_of(deposit.maker).post(put_to), why) if deposit.files.exists() else None
    assert deposit.files.count() == 0
    # Never taken back here: whether the row came or not is not known when a commit breaks.
    call_command("sweep_store", older_than=0, stdout=StringIO())
    assert unspoken(older_than_s=0) == []


def test_a_killed_web_server_leaves_an_upload_that_is_swept_when_it_is_an_hour_old(
    home: Path,
) -> None:
    folder = home / "uploads"
    folder.mkdir()
    old, young = folder / "old.upload", folder / "young.upload"
    old.write_bytes(b"half")
    young.write_bytes(b"half")
    os.utime(old, (1, 1))
    assert sweep_uploads() == 1
    assert list(folder.iterdir()) == [young]
    out = StringIO()
    call_command("sweep_store", older_than=0, stdout=out)
    assert "1 pieces gone" in out.getvalue()
    assert sweep_uploads() == 0


# ------------------------------------------------------------------------------- submit and check


def test_a_submission_that_the_database_cannot_take_leaves_the_deposit_open(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    deposit = put(make_opened(), {"scans.csv": rows()})

    def full(*_: object, **__: object) -> None:
        raise OperationalError("database or disk is full")

    ways = (
        (browser_of(deposit.maker), f"{deposit.get_absolute_url()}submit/"),
        (caller_of(deposit.maker), f"/api/v1/deposits/{deposit.pk}/submit/"),
    )
    for who, address in ways:
        with monkeypatch.context() as patch:
            patch.setattr(actions.holding, "record", full)
            is_refused(who.post(address), WORDS[errno.ENOSPC])
        assert (fresh(deposit).state, fresh(deposit).submitted_at) == ("opened", None)
        assert not DBTaskResult.objects.exists()
    assert ways[0][0].post(ways[0][1]).status_code == 302
    work_off_the_queue()
    assert fresh(deposit).verdict == "valid"


@pytest.mark.parametrize("code", WORDS)
@pytest.mark.parametrize(
    "step", ["lay_out", "check_in_child", "_keep", "workspace", "hardlink_to", "write_text"]
)
def test_a_check_on_a_disk_that_takes_nothing_is_no_fault_of_the_package(
    home: Path, monkeypatch: pytest.MonkeyPatch, step: str, code: int
) -> None:
    deposit = put(make_opened(), {"scans.csv": rows()})
    form = forms.Submit({}, subject=deposit, by=deposit.maker)
    assert form.is_valid()
    form.act()

    def fail(*_: object, **__: object) -> None:
        raise OSError(code, os.strerror(code))

    owner = {
        "workspace": type(quarantine()),
        "hardlink_to": rounds,
        "write_text": Path,
    }.get(step, tasks)
    with monkeypatch.context() as patch:
        patch.setattr(owner, "_link" if step == "hardlink_to" else step, fail)
        work_off_the_queue()
    assert DBTaskResult.objects.get().status == TaskResultStatus.FAILED
    left = fresh(deposit)
    assert (left.state, left.verdict, left.round) == ("submitted", "", 1)
    assert path_of(left.files.get()).read_bytes() == rows()
    tasks.check_deposit.enqueue(deposit.pk, 1)
    work_off_the_queue()
    assert (fresh(deposit).state, fresh(deposit).verdict) == ("checked", "valid")
    names = {path.name for path in room_of(deposit).iterdir()}
    assert names == {"package", "report.json", "findings.jsonl"}


# ------------------------------------------------------------------------------- acceptance


@pytest.mark.parametrize("code", WORDS)
@pytest.mark.parametrize("where", ["store", "store.staging", "tmp", "locks"])
def test_an_acceptance_on_a_disk_that_takes_nothing_leaves_the_deposit_as_it_was(
    home: Path, where: str, code: int
) -> None:
    deposit = make_checked()
    lead = lead_of(deposit.dataset.project)
    if where == "store":
        make_version()  # the store is there; its folders for this version are not
    before = set(store().object_ids())
    given = {"licence": "CC0-1.0", "access": "open"}
    ways = (
        (browser_of(lead), f"{deposit.get_absolute_url()}accept/"),
        (caller_of(lead), f"/api/v1/deposits/{deposit.pk}/accept/"),
    )
    for who, address in ways:
        with failing(home / where, code):
            answer = who.post(address, given)
        is_refused(answer, WORDS[code])
        assert fresh(deposit).state == "checked"
        assert not Version.objects.filter(deposit=deposit).exists()
        assert set(store().object_ids()) == before
        bench = store().workbench.folder
        assert not bench.is_dir() or list(bench.iterdir()) == []
    assert ways[0][0].post(ways[0][1], given).status_code == 302
    assert store().verify(Version.objects.get(deposit=deposit).identifier) == []


def test_an_acceptance_that_the_database_cannot_take_leaves_no_version_and_is_done_again(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    deposit = make_checked()
    browser = browser_of(lead_of(deposit.dataset.project))
    given = {"licence": "CC0-1.0", "access": "open"}

    def full(*_: object, **__: object) -> None:
        raise OperationalError("database or disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(actions.holding, "record", full)
        answer = browser.post(f"{deposit.get_absolute_url()}accept/", given)
    is_refused(answer, WORDS[errno.ENOSPC])
    assert fresh(deposit).state == "checked"
    assert not Version.objects.exists()
    assert browser.post(f"{deposit.get_absolute_url()}accept/", given).status_code == 302
    assert list(store().object_ids()) == [Version.objects.get().identifier]


# ------------------------------------------------------------------------------- what leaves


def test_a_version_is_served_whole_from_a_disk_that_takes_nothing(home: Path) -> None:
    version = make_version()
    reader = browser_of(make_person(Role.STEWARD))
    ways = ("package.zip", "datapackage.json", "citation.bib", "data/scans.csv", "")
    whole = {way: body(reader, version, way) for way in ways}

    @contextmanager
    def read_only() -> Iterator[None]:
        with failing(home, errno.EROFS):
            with pytest.raises(OSError, match="Read-only"):
                (home / "trial").touch()
            yield

    with read_only():
        for way in ways[:-1]:
            assert body(reader, version, way) == whole[way], way
        assert version.identifier in body(reader, version, "").decode()


def body(reader: Client, version: Version, way: str) -> bytes:
    answer = reader.get(f"{version.get_absolute_url()}{way}")
    assert answer.status_code == 200, way
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


# ------------------------------------------------------------------------------- letters


@pytest.fixture
def mail_folder(settings: Any, home: Path) -> Path:
    """Let letters go to a folder, as they do where there is no mail server."""
    settings.MAILERS = {
        "default": {
            "BACKEND": "django.core.mail.backends.filebased.EmailBackend",
            "OPTIONS": {"file_path": str(home / "mail")},
        }
    }
    return home / "mail"


def test_a_copy_that_a_disk_does_not_take_is_told_and_made_or_mended_by_the_next_round(
    home: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.SECOND_STORE = home / "elsewhere"
    version = make_version()
    told: list[str] = []

    def go() -> str:
        told.clear()
        go_round(budget_s=60, every=timedelta(0), tell=told.append)
        return " ".join(told)

    def refused(*_: Any) -> None:
        raise StoreFailed("Nothing was stored.", "It was full.", "Make room.")

    with failing(home / "elsewhere", errno.EROFS):
        assert WORDS[errno.EROFS] in go()
    assert not Copy.objects.filter(place=SECOND).exists()
    go()
    second = second_store()
    assert second is not None
    assert faults_of(second, version) == []
    with store().local(version.identifier, "data/scans.csv") as path:
        path.chmod(0o644)
        path.write_bytes(b"scan\n")
    with failing(home / "store"):
        assert WORDS[errno.ENOSPC] in go()  # nor can what is damaged be set aside
    with monkeypatch.context() as patch:
        patch.setattr(entering, "move_in", refused)
        assert "waits to be mended. It was full." in go()
    version.refresh_from_db()
    assert version.is_damaged
    assert faults_of(second, version) == []
    assert "mended" in go()
    assert faults_of(store(), version) == []


@pytest.mark.parametrize("code", WORDS)
def test_a_letter_that_cannot_be_laid_down_is_told_and_what_was_done_stays_done(
    mail_folder: Path, code: int
) -> None:
    administrator = make_person(Role.ADMINISTRATOR)
    given = {"name": "Ada Finch", "email": "ada@example.org"}
    with failing(mail_folder, code):
        answer = browser_of(administrator).post("/people/add/", given)
    assert answer.status_code == 507
    said = answer.content.decode()
    assert "Ada Finch was added, but the letter with the link did not go out." in said
    assert "Do not add them again." in said
    assert Person.objects.filter(email="ada@example.org").count() == 1
    with failing(mail_folder, code):
        answer = Client(raise_request_exception=False).post(
            "/password/forgotten/", {"email": "ada@example.org"}
        )
    assert answer.status_code == 507
    assert "No letter went out." in answer.content.decode()
    answer = Client().post("/password/forgotten/", {"email": "ada@example.org"})
    assert answer.status_code == 302
    assert len(list(mail_folder.iterdir())) == 1


# ------------------------------------------------------------------------------- backup


@pytest.mark.parametrize("code", WORDS)
def test_a_backup_to_a_disk_that_takes_nothing_says_so_and_leaves_nothing(
    home: Path, code: int
) -> None:
    make_version()
    (home / "there").mkdir()
    with failing(home / "there", code), pytest.raises(CommandError, match=WORDS[code]):
        call_command("backup", home / "there" / "a.tar", stdout=StringIO())
    with full_after(50_000), pytest.raises(CommandError, match="larger than this disk allows"):
        call_command("backup", home / "there" / "a.tar", stdout=StringIO())
    assert list((home / "there").iterdir()) == []
