"""The check of a deposit, in the worker: once for each round, taken up again when it broke off."""

import json
import logging
import shutil
import tempfile
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.db.models.functions import Coalesce
from django.tasks import TaskResultStatus, task
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tasks_db.models import DBTaskResult

from archive import actions
from archive.engine.codes import found
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Verdict
from archive.engine.gathering import gather, said_of
from archive.engine.reports import FileReport, Report, Sink, StoredFindings, TableReport, Told
from archive.engine.watch import check_in_child
from archive.facts import day_or_none, facts_of
from archive.models import Deposit
from archive.places import check_limits
from archive.rounds import lay_out, previous_package, room_of
from registry.errors import Conflict, Refusal, StoreFailed
from registry.oversight.actions import BreachFound, open_breaches
from registry.oversight.models import Enrolment
from registry.people.models import the_clock

BEAT_S = 10.0
TELL_S = 1.0
DEAD_S = 60.0
TRIES = 3
logger = logging.getLogger(__name__)


def check(deposit: Deposit) -> Deposit:
    """Check a submitted deposit now, open the breaches it tells of, and record what was found.

    It is called off when its deposit is opened again or discarded. Doing it twice records it once:
    of two at work on one round, the later finds it done.
    """
    deposit = Deposit.objects.select_related("dataset__project__study", "dictionary").get(
        pk=deposit.pk
    )
    if deposit.state != "submitted":
        return deposit
    try:
        with _beating(deposit):
            report = _report(deposit, _register(deposit))
    except CalledOffError:
        return Deposit.objects.get(pk=deposit.pk)
    _keep(deposit, report)
    project, told = deposit.dataset.project, report.told or gather(report)
    if told.fault:
        logger.error("Causes were not looked for in deposit %s: %s", deposit.pk, told.fault)
    # The breaches first: broken off between the two, the check is made again, and finds them there.
    open_breaches(
        project, found=_breaches(deposit, told), deposit_number=deposit.pk, by=the_clock()
    )
    try:
        return actions.record_check(
            deposit,
            round_number=deposit.round,
            verdict=report.verdict.value,
            summary=told.summary | {"checked_round": deposit.round},
            by=the_clock(),
        )
    except Conflict:
        return Deposit.objects.get(pk=deposit.pk)


@task
def check_deposit(pk: int, round_number: int) -> str:
    """Check one round of a deposit; one that moved on meanwhile is left alone."""
    deposit = Deposit.objects.get(pk=pk)
    if deposit.round != round_number:
        return "another round was begun"
    return check(deposit).verdict


def enqueue_check(deposit: Deposit) -> None:
    """Queue the check of a submitted deposit, once what was written of it is whole."""
    transaction.on_commit(lambda: check_deposit.enqueue(deposit.pk, deposit.round))


# ------------------------------------------------------------------------------- one check


def _register(deposit: Deposit) -> RegisterFacts | None:
    """Give what the data are held against; what was pooled was held against it cohort by cohort."""
    if deposit.pool_id is not None:
        return None
    return facts_of(deposit.dataset.project, deposit.dictionary)


def _report(deposit: Deposit, facts: RegisterFacts | None) -> Report:
    """Lay the files out and have the child check them; what cannot be laid out is a finding."""
    room = room_of(deposit)
    for left in room.glob("attempt-*.jsonl"):
        left.unlink()
    # A file of its own for each attempt: the child of a killed worker may still be writing.
    kept = room / f"attempt-{uuid.uuid4().hex}.jsonl"
    try:
        package = lay_out(deposit)
    except StoreFailed:
        raise  # no fault of the package: it is tried again
    except Refusal as refusal:
        sink = Sink(kept)
        sink.take(found("descriptor-unreadable", f"{refusal.what} {refusal.why} {refusal.next}"))
        report = sink.report([], [])
    else:
        report = check_in_child(
            package,
            facts=facts,
            limits=check_limits(),
            expected=deposit.dictionary.descriptor if deposit.dictionary is not None else None,
            previous=previous_package(deposit),
            progress=_teller(deposit),
            findings_path=kept,
            today=timezone.localdate(),
        )
        _hold_digests(deposit, report)
    final = kept.replace(room / "findings.jsonl")
    return replace(report, findings=StoredFindings(final, len(report.findings)))


def _hold_digests(deposit: Deposit, report: Report) -> None:
    """Hold what was read against the digests that were made as the files came in.

    Raises
    ------
    StoreFailed
        When the disk gave other bytes; it is tried again, and then handed back.
    """
    came = dict(deposit.files.filter(is_dropped=False).values_list("name", "sha256"))
    read: tuple[TableReport | FileReport, ...] = (*report.tables, *report.files)
    for one in read:
        if one.sha256 and came.get(one.path.rpartition("/")[2], one.sha256) != one.sha256:
            raise StoreFailed(
                "The check was broken off.",
                _("%(path)s is no longer the file that was sent: its digest is another.")
                % {"path": one.path},
                "Send the file again, and tell whoever keeps the site: a disk may be failing.",
            )


def _keep(deposit: Deposit, report: Report) -> None:
    """Keep the report beside the package, and later inside the version."""
    shape = report.as_dict(with_findings=False)
    text = json.dumps(shape, ensure_ascii=False, indent=2) + "\n"
    (room_of(deposit) / "report.json").write_text(text, encoding="utf-8")


class CalledOffError(Exception):
    """Nobody waits for this check any more."""


def _tell(deposit: Deposit, **facts: Any) -> bool:
    """Write progress and heartbeat: no deed, so no entry in the ledger; False if none waits."""
    rows = Deposit.objects.filter(pk=deposit.pk, round=deposit.round, state="submitted")
    return rows.update(heartbeat_at=timezone.now(), **facts) == 1


def _teller(deposit: Deposit) -> Callable[[float], None]:
    last = 0.0

    def tell(share: float) -> None:
        nonlocal last
        if time.monotonic() - last >= TELL_S:
            last = time.monotonic()
            if not _tell(deposit, progress=share):
                # The child ends with the one who listens to it.
                raise CalledOffError

    return tell


@contextmanager
def _beating(deposit: Deposit) -> Iterator[None]:
    """Say every few seconds that someone is at work, however long one step takes."""
    done = threading.Event()

    def beat() -> None:
        while not done.wait(BEAT_S):
            _tell(deposit)
        connection.close()

    _tell(deposit, progress=0)
    thread = threading.Thread(target=beat, daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def _breaches(deposit: Deposit, told: Told) -> list[BreachFound]:
    """Give what the register's findings ask to be explained: one for each thing, animal and day."""
    enrolled = {
        one.code: one for one in Enrolment.objects.filter(project=deposit.dataset.project_id)
    }
    # The newest one granted: its body is asked about days that no permission covers.
    granted = deposit.dataset.project.approvals.exclude(decided_at=None).order_by("-decided_at")
    approval = granted.values_list("pk", flat=True).first()
    made: list[BreachFound] = []
    for finding in told.to_explain:
        days = [word.strip("“”().,;:") for word in [finding.value, *finding.message.split()]]
        enrolment = enrolled.get(finding.value)
        made.append(
            BreachFound(
                code=finding.code,
                said=said_of(finding),
                happened_on=next(filter(None, map(day_or_none, days)), None),
                approval=approval if finding.code == "outside-approval" else None,
                animal=enrolment.animal_id if enrolment else None,
                group=enrolment.group_id if enrolment else None,
            )
        )
    for code, more in told.more_to_explain.items():
        said = f"{more} more of this kind; each stands in the deposit's list."
        made.append(BreachFound(code=code, said=f"{said[:1].upper()}{said[1:]}"))
    return made


# ------------------------------------------------------------------------------- taking up again


def take_up_again() -> int:
    """Queue again each submitted deposit whose check nobody is at work on; say how many.

    A queued check is left alone, and one whose worker was heard of within a minute. After three
    attempts that broke off the deposit is handed back as not checked, so that it can be corrected.
    """
    late = timezone.now() - timedelta(seconds=DEAD_S)
    waiting = Deposit.objects.filter(state="submitted").annotate(
        heard_at=Coalesce("heartbeat_at", "submitted_at")
    )
    return sum(_take_up(deposit, late) for deposit in waiting.filter(heard_at__lt=late))


def _take_up(deposit: Deposit, late: Any) -> bool:
    with transaction.atomic():
        # The row's lock lets one process at a time look and queue.
        now = Deposit.objects.select_for_update().get(pk=deposit.pk)
        if now.state != "submitted" or now.round != deposit.round:
            return False
        tasks = DBTaskResult.objects.filter(
            task_path=check_deposit.module_path,
            args_kwargs__args__0=deposit.pk,
            args_kwargs__args__1=deposit.round,
        )
        if tasks.filter(status=TaskResultStatus.READY).exists():
            return False
        running = tasks.filter(status=TaskResultStatus.RUNNING)
        if running.filter(started_at__gte=late).exists():
            return False
        running.update(
            status=TaskResultStatus.FAILED,
            finished_at=timezone.now(),
            traceback="The worker was not heard of for a minute.",
        )
        tried = tasks.filter(status=TaskResultStatus.FAILED, enqueued_at__gte=now.submitted_at)
        if (count := tried.count()) < TRIES:
            check_deposit.enqueue(deposit.pk, deposit.round)
            return True
        told = tried.order_by("-finished_at").values_list("traceback", flat=True).first()
    _give_up(deposit, count, (told or "").strip().rpartition("\n")[2])
    return False


def _give_up(deposit: Deposit, tries: int, told: str) -> None:
    """Hand a deposit back whose check breaks off each time; nothing of it is lost."""
    logger.error("The check of deposit %s broke off %s times: %s", deposit.pk, tries, told)
    with tempfile.TemporaryDirectory(prefix="check-") as spare:
        # Elsewhere first: it may be the deposit's own disk that is full.
        sink = Sink(Path(spare) / "findings.jsonl")
        sink.take(found("not-checked", f"The check broke off {tries} times. {told}".strip()))
        report = sink.report([], [])
        with suppress(OSError, StoreFailed):
            shutil.copyfile(Path(spare) / "findings.jsonl", room_of(deposit) / "findings.jsonl")
            _keep(deposit, report)
        summary = gather(report).summary
    actions.record_check(
        deposit,
        round_number=deposit.round,
        verdict=Verdict.NOT_CHECKED.value,
        summary=summary,
        by=the_clock(),
    )
