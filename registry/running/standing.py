"""How the site stands: what a monitor asks, and what whoever keeps it reads."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Count, Sum
from django.tasks import TaskResultStatus
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tasks_db.models import DBTaskResult

from archive.models import Deposit, Version
from archive.places import disks_of, quarantine, store
from archive.storage.disk import standing_folder
from registry import notes
from registry.animals.pictures.keeping import folder as pictures
from registry.ledger import seal
from registry.ledger.models import Entry
from registry.running.whole import is_whole
from registry.tags import moment, number, size

LOST_S = 60.0
"""The worker is given up after so long without a beat; it beats every ten seconds."""
LOW_BYTES = 5_000_000_000
"""Less room than this is told: two packages at their largest, and what is made of them."""
VERIFYING = ("verify_ledger", "verify_store", "scrub_store")
"""Commands that leave a note of what they found; the worker gives the last one by itself."""
BACKUP_DAYS = 2
VERIFY_DAYS = 31
DRILL_DAYS = 366
"""How old the last backup, verification and drill may be; house rules, no source."""


def database_fault() -> str:
    """Say why the database does not answer; nothing where it does."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT number FROM ledger_entry ORDER BY number DESC LIMIT 1")
            cursor.fetchone()
    except DatabaseError:
        return _("it does not answer")
    return ""


def store_fault() -> str:
    """Say why the store would take nothing; nothing where it would."""
    return store().fault()


def worker_fault() -> str:
    """Say why the worker is taken to be gone; nothing where it was heard of."""
    heard = notes.heard_at()
    if heard is None:
        return _("it was never heard of")
    if timezone.now() - heard > timedelta(seconds=LOST_S):
        return _("it was not heard of for a minute")
    return ""


def whole_fault() -> str:
    """Say whether a restore is under way or broke off."""
    return "" if is_whole() else _("a restore is under way, or broke off")


FAULTS: dict[str, Callable[[], str]] = {
    "site": whole_fault,
    "database": database_fault,
    "store": store_fault,
    "worker": worker_fault,
}
"""What a monitor is told of, and how each is looked at."""


def health() -> dict[str, str]:
    """Give each part with what is wrong with it; an empty word where all is well."""
    return {name: look() for name, look in FAULTS.items()}


def free_bytes(folder: Path) -> int:
    """Give how much room is left where a folder lies, in bytes."""
    left = os.statvfs(standing_folder(folder))
    return left.f_bavail * left.f_frsize


# ---------------------------------------------------------------------------- for who keeps it


@dataclass(frozen=True)
class Amiss:
    """Something that wants doing: what is amiss, and what to do about it."""

    what: str
    todo: str


@dataclass(frozen=True)
class Verified:
    """What the last verification of the ledger or the store came to."""

    command: str
    at: datetime | None
    faults: int
    said: list[str]

    @property
    def is_old(self) -> bool:
        """Whether it was never done, or too long ago."""
        return self.at is None or timezone.now() - self.at > timedelta(days=VERIFY_DAYS)


def verified(command: str) -> Verified:
    """Give what a command found when it was run last."""
    note = notes.read_note(command) or {}
    lines = note.get("said")
    return Verified(
        command,
        note.get("at"),
        int(note.get("faults", 0)),
        [str(line) for line in lines] if isinstance(lines, list) else [],
    )


def _asked(statement: str) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(statement)
        row = cursor.fetchone()
    return row[0] if row else ""


def _sizes(path: Path) -> int:
    return sum(one.stat().st_size for one in (path, Path(f"{path}-wal")) if one.is_file())


def database_facts() -> list[tuple[str, str]]:
    """Say which database it is, of which version, how large, and how it writes."""
    if connection.vendor == "sqlite":
        path = Path(connection.settings_dict["NAME"])
        return [
            (_("Database"), f"SQLite {_asked('SELECT sqlite_version()')}"),
            (_("Its size"), size(_sizes(path))),
            (_("Write-ahead log"), _("on") if _has_log() else _("off")),
        ]
    version = str(_asked("SHOW server_version")).split(maxsplit=1)[0]
    held = int(_asked("SELECT pg_database_size(current_database())"))
    return [(_("Database"), f"PostgreSQL {version}"), (_("Its size"), size(held))]


def _has_log() -> bool:
    return connection.vendor != "sqlite" or _asked("PRAGMA journal_mode") == "wal"


def _store_facts() -> list[tuple[str, str]]:
    held = Version.objects.exclude(state="erased").aggregate(of=Count("pk"), bytes=Sum("bytes"))
    waiting = Deposit.objects.exclude(state__in=["accepted", "discarded"]).count()
    return [
        (
            _("Store"),
            _("%(number)s versions, %(size)s of data")
            % {"number": number(held["of"]), "size": size(held["bytes"] or 0)},
        ),
        (_("Deposits not yet accepted"), number(waiting)),
        (_("The store lies in"), store().where),
        *([(_("Room left for the store"), size(room))] if (room := store().free_bytes()) else []),
        (_("Room left for the rest"), size(free_bytes(Path(settings.VAR)))),
    ]


def _task_facts() -> list[tuple[str, str]]:
    counts = dict(DBTaskResult.objects.values_list("status").annotate(Count("pk")).order_by())
    heard = notes.heard_at()
    return [
        (_("Worker heard of"), moment(heard) if heard else _("never")),
        (_("Tasks waiting"), number(counts.get(TaskResultStatus.READY, 0))),
        (_("Tasks at work"), number(counts.get(TaskResultStatus.RUNNING, 0))),
        (_("Tasks that broke off"), number(counts.get(TaskResultStatus.FAILED, 0))),
    ]


def backup_note() -> dict[str, Any]:
    """Give the note of the last backup."""
    return notes.read_note("backup") or {}


def _kept_facts() -> list[tuple[str, str]]:
    head = Entry.objects.order_by("-number").values("number", "digest").first()
    note = backup_note()
    last = _("never")
    if note:
        last = f"{moment(note['at'])}, {size(int(note.get('bytes', 0)))}, {note.get('file', '')}"
    return [
        (_("Last backup"), last),
        (_("Seal of the ledger"), _("in its place") if seal.is_on() else _("missing")),
        (_("Head of the ledger"), f"{head['number']} {head['digest']}" if head else _("none yet")),
    ]


def facts() -> list[tuple[str, str]]:
    """Say how the site stands, in pairs of what and how."""
    return [*database_facts(), *_store_facts(), *_task_facts(), *_kept_facts()]


def unmigrated() -> int:
    """Give how many changes of the tables wait to be made."""
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def amiss() -> Iterator[Amiss]:
    """Yield what wants doing, the gravest first."""
    if not seal.is_on():
        yield Amiss(
            _("The seal of the ledger is missing: the database would let entries be altered."),
            _("Give “manage.py migrate”, which puts it on, then “manage.py verify_ledger”."),
        )
    for command in VERIFYING:
        last = verified(command)
        if last.faults:
            yield Amiss(
                _("“%(command)s” found %(number)s faults on %(at)s.")
                % {"command": command, "number": last.faults, "at": moment(last.at)},
                _(
                    "They stand below. Keep a copy of all as it is, tell the auditor, and look for"
                    " the newest backup without them."
                ),
            )
        elif last.is_old and (command != "scrub_store" or Version.objects.exists()):
            yield Amiss(
                _("“%(command)s” was not run for a month.") % {"command": command},
                _("Give “manage.py %(command)s”; best once a week, by the clock of the machine.")
                % {"command": command},
            )
    yield from _amiss_with_backup()
    yield from _amiss_with_drill()
    if worker_fault():
        yield Amiss(
            _("The task worker is not heard of: no deposit is checked, no letter sent."),
            _("Serve the site with “manage.py serve”, which runs it too and starts it again."),
        )
    if why := store_fault():
        yield Amiss(
            _("The store takes nothing: %(why)s.") % {"why": why},
            _("Nothing is lost; deposits wait. Make room, or let the site write there."),
        )
    yield from _amiss_with_room()
    if broken := DBTaskResult.objects.filter(
        status=TaskResultStatus.FAILED, finished_at__gte=timezone.now() - timedelta(days=7)
    ).count():
        yield Amiss(
            _("Tasks broke off within the last week: %(number)s.") % {"number": broken},
            _(
                "What serves the site said why. A check that broke off is begun again by itself,"
                " three times, and is then handed back to whoever deposited."
            ),
        )
    yield from _amiss_with_settings()


def _amiss_with_backup() -> Iterator[Amiss]:
    note = backup_note()
    if not note:
        yield Amiss(
            _("No backup was made here."),
            _("Give “manage.py backup FILE”, every night, to another disk; see below."),
        )
    elif timezone.now() - note["at"] > timedelta(days=BACKUP_DAYS):
        yield Amiss(
            _("The last backup is of %(at)s.") % {"at": moment(note["at"])},
            _("See why the nightly one did not run, and make one now."),
        )


def _amiss_with_drill() -> Iterator[Amiss]:
    last = verified("drill")
    if last.faults:
        yield Amiss(
            _("The last drill failed: what was tried could not be restored."),
            _("Give “manage.py drill FILE” with an earlier one, and make a new one today."),
        )
    elif last.at is None or timezone.now() - last.at > timedelta(days=DRILL_DAYS):
        yield Amiss(
            _("Restoring was not tried for a year."),
            _("Give “manage.py drill FILE”: it restores beside the site and touches nothing here."),
        )


def _amiss_with_room() -> Iterator[Amiss]:
    seen: set[int] = set()
    for folder in (*disks_of(store()), quarantine().folder, pictures()):
        disk = standing_folder(folder).stat().st_dev
        if free_bytes(folder) < LOW_BYTES and disk not in seen:
            seen.add(disk)
            yield Amiss(
                _("Little room is left where %(folder)s lies: %(size)s.")
                % {"folder": folder, "size": size(free_bytes(folder))},
                _(
                    "Make room or give it a larger disk. On a full one a deed is refused in words,"
                    " and nothing is lost."
                ),
            )


def _amiss_with_settings() -> Iterator[Amiss]:
    if number_of := unmigrated():
        yield Amiss(
            _("Changes of the tables wait: %(number)s.") % {"number": number_of},
            _("Stop the site, make a backup, give “manage.py migrate”, and serve again."),
        )
    if not _has_log():
        yield Amiss(
            _("SQLite’s write-ahead log is off, so that readers and writers wait for each other."),
            _("Keep the database on a disk of this machine; a network folder cannot have one."),
        )
    if settings.DEBUG:
        yield Amiss(
            _("STRANDLINE_DEBUG is on: faults are shown with their code to everybody."),
            _("Take it away and serve again."),
        )
    if not settings.IS_HTTPS:
        yield Amiss(
            _("The site is served without TLS: passwords can be read on the way."),
            _(
                "On one machine that is as it should be. For others, put it behind a server that"
                " ends TLS; see below."
            ),
        )
    if settings.NAAN == "99999":
        yield Amiss(
            _("Identifiers bear the authority number 99999, which is for trials."),
            _(
                "Ask for a number of your own before the first version is published, and set it in"
                " STRANDLINE_NAAN; what is published keeps the number that it has."
            ),
        )
