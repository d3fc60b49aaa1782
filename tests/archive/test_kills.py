"""The web, the worker and the acceptor are killed at each step: nothing is lost or half there.

Each runs in a child process that kills itself (SIGKILL) just before or just after the step; then
what it left is looked at, and the same act is done again. The steps stand in `steps.py`.
"""

import tempfile
from collections.abc import Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.tasks import TaskResultStatus
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from archive import acceptance, tasks
from archive.forms import Submit
from archive.models import Deposit, Version
from archive.places import quarantine, store
from archive.rounds import path_of, unspoken
from registry.errors import Conflict
from registry.ledger import proof
from registry.oversight.models import Breach
from tests.archive.steps import (
    ACCEPTANCE,
    CHECK,
    SUBMIT,
    UPLOAD,
    Step,
    When,
    each,
    killed_at,
    named,
)
from tests.worlds.archive import engine_check, make_checked, make_opened, put, rows
from tests.worlds.callers import work_off_the_queue
from tests.worlds.projects import lead_of

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _a_disk_of_its_own(
    tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    settings.STORE, settings.VAR = tmp_path / "store", tmp_path
    (tmp_path / "tmp").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "tmp"))
    monkeypatch.setattr(tasks, "check_in_child", engine_check)  # the other child takes seconds
    yield
    assert proof.check(with_subjects=True)[0] == []


def fresh(deposit: Deposit) -> Deposit:
    return Deposit.objects.get(pk=deposit.pk)


def live(deposit: Deposit) -> dict[str, bytes]:
    """Give what a deposit holds, each file read and held against its digest."""
    return {
        file.name: path_of(file).read_bytes() for file in deposit.files.filter(is_dropped=False)
    }


# ---------------------------------------------------------------------------------- the web


@pytest.mark.parametrize(("step", "when"), each(UPLOAD), ids=named)
def test_an_upload_that_is_killed_leaves_the_draft_whole_and_is_sent_again(
    step: Step, when: When, tmp_path: Path
) -> None:
    deposit = put(make_opened(), {"notes.txt": b"calm"})
    browser = Client()
    browser.force_login(deposit.maker)
    address = f"{deposit.get_absolute_url()}add_file/"

    def send() -> Any:
        return browser.post(address, {"files": SimpleUploadedFile("scans.csv", rows())})

    killed_at(step, when, send, tmp_path / "told")
    is_written = (step, when) == (UPLOAD[-1], "after")
    whole = {"notes.txt": b"calm"} | ({"scans.csv": rows()} if is_written else {})
    assert live(fresh(deposit)) == whole
    assert fresh(deposit).state == "opened"
    assert send().status_code == 302
    assert live(fresh(deposit)) == {"notes.txt": b"calm", "scans.csv": rows()}
    call_command("sweep_store", older_than=0, stdout=StringIO())
    assert unspoken(older_than_s=0) == []
    assert list(quarantine().incoming.iterdir()) == []
    spoken = set(deposit.files.values_list("place", flat=True))
    assert set(quarantine().held_keys()) == spoken


@pytest.mark.postgres
@pytest.mark.parametrize(("step", "when"), each(SUBMIT), ids=named)
def test_a_submission_that_is_killed_is_done_again_or_its_check_is_queued_by_the_reaper(
    step: Step, when: When, tmp_path: Path
) -> None:
    deposit = put(make_opened(), {"scans.csv": rows()})

    def submit() -> None:
        form = Submit({}, subject=fresh(deposit), by=deposit.maker)
        assert form.is_valid()
        form.act()

    killed_at(step, when, submit, tmp_path / "told")
    if fresh(deposit).state == "opened":
        submit()
    with later(61):
        tasks.take_up_again()
        assert tasks.take_up_again() == 0
    assert DBTaskResult.objects.filter(status=TaskResultStatus.READY).count() == 1
    work_off_the_queue()
    assert fresh(deposit).verdict == "valid"


# ---------------------------------------------------------------------------------- the worker


def later(seconds: int) -> time_machine.travel:
    return time_machine.travel(timezone.now() + timedelta(seconds=seconds), tick=True)


def found_of(deposit: Deposit) -> tuple[Any, ...]:
    """Give what the check of a deposit came to, without its hour."""
    told = deposit.summary
    breaches = Breach.objects.filter(deposit_number=deposit.pk).order_by("code", "said")
    return (
        deposit.state,
        deposit.verdict,
        deposit.round,
        told["counts"],
        told["tables"],
        list(breaches.values_list("code", "said", "happened_on")),
    )


@pytest.mark.parametrize(("step", "when"), each(CHECK), ids=named)
def test_a_check_that_is_killed_is_taken_up_once_and_comes_to_the_same(
    step: Step, when: When, tmp_path: Path
) -> None:
    undisturbed = make_checked()
    project = undisturbed.dataset.project
    deposit = put(make_opened(project), {"scans.csv": rows()})
    form = Submit({}, subject=deposit, by=deposit.maker)
    assert form.is_valid()
    form.act()
    killed_at(step, when, work_off_the_queue, tmp_path / "told")
    left = fresh(deposit)
    assert left.state in {"submitted", "checked"}
    assert live(left) == {"scans.csv": rows()}
    waits = DBTaskResult.objects.filter(status=TaskResultStatus.READY).count()
    with later(30):
        assert tasks.take_up_again() == 0, "it was taken up before the minute was over"
    with later(61):
        assert tasks.take_up_again() == (1 if left.state == "submitted" and not waits else 0)
        assert tasks.take_up_again() == 0
    work_off_the_queue()
    checked = fresh(deposit)
    assert found_of(checked)[:5] == found_of(undisturbed)[:5]
    assert len(found_of(checked)[5]) == len(found_of(undisturbed)[5])
    assert live(checked) == {"scans.csv": rows()}
    assert DBTaskResult.objects.filter(status=TaskResultStatus.READY).count() == 0
    with later(600):
        assert tasks.take_up_again() == 0


# ---------------------------------------------------------------------------------- the acceptor


@pytest.mark.postgres
@pytest.mark.parametrize(("step", "when"), each(ACCEPTANCE), ids=named)
def test_an_acceptance_that_is_killed_leaves_no_version_or_a_whole_one(
    step: Step, when: When, tmp_path: Path
) -> None:
    deposit = make_checked()
    lead = lead_of(deposit.dataset.project)

    def accept() -> Version:
        return acceptance.accept(fresh(deposit), licence="CC0-1.0", access="open", by=lead)

    killed_at(step, when, accept, tmp_path / "told")
    assert live(fresh(deposit)) == {"scans.csv": rows()}
    version = Version.objects.filter(deposit=deposit).first()
    assert fresh(deposit).state == ("checked" if version is None else "accepted")
    # Whatever lies in the store is whole, whether or not a row speaks of it.
    for found in store().scrub():
        assert found.problems == ()
    if version is None:
        version = accept()
    else:
        assert (step, when) == (ACCEPTANCE[-1], "after")
        with pytest.raises(Conflict, match=f"was taken by {lead}"):
            accept()
    out = StringIO()
    call_command("verify_store", stdout=out)
    assert out.getvalue() == "1 versions read, 0 with something wrong.\n"
    assert list(store().object_ids()) == [version.identifier]
    call_command("sweep_store", older_than=0, stdout=StringIO())
    assert list(store().object_ids()) == [version.identifier]
    assert list(store().workbench.folder.iterdir()) == []


def test_other_terms_after_a_kill_take_the_place_of_what_it_left(tmp_path: Path) -> None:
    deposit = make_checked()
    lead = lead_of(deposit.dataset.project)
    terms: dict[str, Any] = {"access": "open", "by": lead}
    renamed = next(step for step in ACCEPTANCE if step.function == "move_in")
    killed_at(
        renamed,
        "after",
        lambda: acceptance.accept(deposit, licence="CC0-1.0", **terms),
        tmp_path / "told",
    )
    version = acceptance.accept(deposit, licence="CC-BY-4.0", **terms)
    with store().open_file(version.identifier, "LICENSE") as opened:
        assert b"CC-BY-4.0" in opened.read()
    assert list(store().object_ids()) == [version.identifier]
