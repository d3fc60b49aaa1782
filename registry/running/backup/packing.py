"""Make a backup: the database at one moment, then the files, whose bytes never change."""

import fcntl
import hashlib
import io
import os
import stat
import tarfile
import tempfile
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from django.conf import settings
from django.db import connection, models
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.places import disks_of, quarantine, store
from archive.storage import layout
from archive.storage.contract import VersionStore
from archive.storage.disk import in_words, settle, write_through
from archive.storage.store import Store
from registry import notes
from registry.animals.pictures.keeping import folder as pictures
from registry.errors import Conflict, StoreFailed, Unseen, Unsound
from registry.ledger.chain import START
from registry.ledger.models import Entry
from registry.running import whole
from registry.running.backup.choosing import fields_of, taken
from registry.running.backup.manifest import (
    ABOUT,
    ABOUT_NAME,
    DIGEST_NAME,
    KEY_IN,
    KEY_NAME,
    KEY_OUT,
    NAME,
    Manifest,
    Piece,
    Table,
)
from registry.running.backup.rows import lines_of, one_moment

WHAT = "The backup was not made."
_READ_WHOLE = 8_000_000
"""A file up to this size is read before it is written, so that a report re-written meanwhile does
no harm; what is larger is never written to once it is there."""


def back_up(target: Path, *, replaces: bool = False, with_secret_key: bool = False) -> Manifest:
    """Write a backup of the whole site to a new file, while the site goes on running.

    It is made under another name and appears whole or not at all.

    Raises
    ------
    Conflict
        When there is such a file, or another backup is being written there.
    StoreFailed
        When the disk will not take it; nothing is left.
    """
    target = target.absolute()
    _refuse_place(target, replaces=replaces)
    part = target.with_name(f"{target.name}.part")
    with in_words(WHAT), _held(part) as stream:
        manifest = _pack(stream, part.parent, with_secret_key=with_secret_key)
        write_through(stream)
        _refuse_place(target, replaces=replaces)
        part.rename(target)
        settle(target.parent)
    notes.write_note(
        "backup",
        file=str(target),
        bytes=target.stat().st_size,
        ledger=[manifest.ledger_number, manifest.ledger_digest],
    )
    return manifest


def _refuse_place(target: Path, *, replaces: bool) -> None:
    if not whole.is_whole():
        raise whole.refusal()
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise Conflict(
            WHAT,
            "The tables of this database are not yet those of this program.",
            "Make the backup with the program that the site ran on until now, then update.",
        )
    if not target.parent.is_dir():
        raise Unsound(
            WHAT,
            _("There is no folder %(parent)s.") % {"parent": target.parent},
            "Make it, or name another.",
        )
    for folder in (*disks_of(store()), quarantine().folder, pictures()):
        if folder.absolute() in target.parents:
            raise Unsound(
                WHAT,
                _("%(target)s lies inside %(folder)s, which is what is to be backed up.")
                % {"target": target, "folder": folder},
                "Name a place outside it; best on another disk.",
            )
    if target.exists() and (target.is_dir() or not replaces):
        raise Conflict(
            WHAT,
            _("There is already something at %(target)s, and a backup is not written over.")
            % {"target": target},
            "Give another name, or say --replace.",
        )


@contextmanager
def _held(part: Path) -> Iterator[IO[bytes]]:
    """Open the unfinished file for its owner alone; remove it when the work breaks off."""
    handle = os.open(part, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o600)
    with os.fdopen(handle, "w+b") as stream:
        try:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Conflict(
                WHAT,
                _("Another backup is being written to %(part)s.") % {"part": part},
                "Wait for it to end.",
            ) from None
        try:
            stream.truncate()
            yield stream
        except BaseException:
            with suppress(OSError):
                part.unlink(missing_ok=True)
            raise


def _pack(stream: IO[bytes], folder: Path, *, with_secret_key: bool) -> Manifest:
    made_at = timezone.now()
    key = KEY_IN if with_secret_key else KEY_OUT
    # The newer form of tar, which bounds neither names nor sizes.
    with tarfile.open(fileobj=stream, mode="w", format=tarfile.PAX_FORMAT) as tar:
        _add(tar, ABOUT_NAME, ABOUT.format(key=key).encode())
        with one_moment():
            head = Entry.objects.order_by("-number").values("number", "digest").first()
            applied = sorted(MigrationRecorder(connection).applied_migrations())
            tables = [_add_table(tar, model, folder) for model in taken()]
        pieces = _add_files(tar)
        if with_secret_key:
            _add(tar, KEY_NAME, settings.SECRET_KEY.encode())
        manifest = Manifest(
            program=version_of_program(),
            made_at=made_at.isoformat(),
            vendor=connection.vendor,
            migrations=[list(one) for one in applied],
            ledger_number=head["number"] if head else 0,
            ledger_digest=head["digest"] if head else START,
            tables=tables,
            pieces=pieces,
            holds_secret_key=with_secret_key,
            said=key,
        )
        written = manifest.written()
        _add(tar, NAME, written)
        _add(tar, DIGEST_NAME, f"{hashlib.sha256(written).hexdigest()}  {NAME}\n".encode())
    return manifest


def version_of_program() -> str:
    """Give the version of this program."""
    told = tomllib.loads((settings.ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    return str(told["project"]["version"])


def _entry(name: str, size: int, *, mode: int = 0o644, mtime: float = 0) -> tarfile.TarInfo:
    entry = tarfile.TarInfo(name)
    entry.size, entry.mode, entry.mtime = size, mode, int(mtime)
    return entry


def _add(tar: tarfile.TarFile, name: str, content: bytes) -> None:
    tar.addfile(_entry(name, len(content)), io.BytesIO(content))


def _add_table(tar: tarfile.TarFile, model: type[models.Model], folder: Path) -> Table:
    """Add a table by way of a nameless file, for a tar wants to know the size before the bytes."""
    running, rows = hashlib.sha256(), 0
    with tempfile.TemporaryFile(dir=folder) as spool:
        for line in lines_of(model):
            running.update(line)
            spool.write(line)
            rows += 1
        size = spool.tell()
        spool.seek(0)
        table = Table(
            model=model._meta.label_lower,
            fields=[field.attname for field in fields_of(model)],
            rows=rows,
            bytes=size,
            sha256=running.hexdigest(),
        )
        tar.addfile(_entry(table.path, size), spool)
    return table


class _Watched:
    """A file that is hashed while it is read."""

    def __init__(self, stream: IO[bytes], name: str) -> None:
        self.stream, self.name, self.running = stream, name, hashlib.sha256()

    def read(self, size: int = -1, /) -> bytes:
        """Give up to so many bytes.

        Raises
        ------
        StoreFailed
            When there are fewer than there were a moment ago.
        """
        block = self.stream.read(size)
        if len(block) < size:
            raise StoreFailed(
                WHAT,
                _("%(name)s became shorter while it was read.") % {"name": self.name},
                "Nothing was left. Make the backup again; if it stays so, have the store verified.",
            )
        self.running.update(block)
        return block


def _add_files(tar: tarfile.TarFile) -> list[Piece]:
    """Add every file of the store, the quarantine and the pictures; the same bytes once."""
    pieces: list[Piece] = []
    first: dict[tuple[int, int], Piece] = {}
    for name, path in files_of_the_site():
        try:
            handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW)
        except FileNotFoundError:
            continue  # erased or discarded meanwhile, by a deed that is newer than the rows
        with os.fdopen(handle, "rb") as stream:
            about = os.fstat(handle)
            if known := first.get((about.st_dev, about.st_ino)):
                pieces.append(Piece(name, known.bytes, known.sha256, same_as=known.path))
                continue
            piece = _add_file(tar, name, stream, about)
        pieces.append(piece)
        if about.st_nlink > 1:
            first[about.st_dev, about.st_ino] = piece
    return pieces


def _add_file(tar: tarfile.TarFile, name: str, stream: IO[bytes], about: os.stat_result) -> Piece:
    mode = stat.S_IMODE(about.st_mode) & 0o644 | 0o400
    if about.st_size <= _READ_WHOLE:
        content = stream.read()
        tar.addfile(
            _entry(name, len(content), mode=mode, mtime=about.st_mtime), io.BytesIO(content)
        )
        return Piece(name, len(content), hashlib.sha256(content).hexdigest())
    watched = _Watched(stream, name)
    entry = _entry(name, about.st_size, mode=mode, mtime=about.st_mtime)
    tar.addfile(entry, watched)
    return Piece(name, about.st_size, watched.running.hexdigest())


def files_of_the_site() -> Iterator[tuple[str, Path]]:
    """Yield each file that is taken along: its name in the backup, and where it lies."""
    held = store()
    if isinstance(held, Store):
        yield from _files_in("store", held.root)
    else:
        yield from _objects_of(held)
    yield from _files_in("quarantine", quarantine().folder, {quarantine().incoming})
    yield from _files_in("pictures", pictures())


def _files_in(
    top: str, folder: Path, passed: frozenset[Path] | set[Path] = frozenset()
) -> Iterator[tuple[str, Path]]:
    for within, folders, names in os.walk(folder):
        folders[:] = sorted(one for one in folders if Path(within, one) not in passed)
        for name in sorted(names):
            path = Path(within, name)
            # What a check is writing at this moment; it is made again after a restore.
            is_attempt = top == "quarantine" and name.startswith("attempt-")
            if path.is_file() and not path.is_symlink() and not is_attempt:
                yield f"{top}/{path.relative_to(folder).as_posix()}", path


def _objects_of(held: VersionStore) -> Iterator[tuple[str, Path]]:
    """Fetch one object after the other, and yield its files as they lie on a disk."""
    names = list(held.object_ids())
    if not names:
        return
    with tempfile.TemporaryDirectory(prefix="root-") as room:
        layout.lay_root(Path(room))
        yield from _files_in("store", Path(room))
    for name in names:
        try:
            with held.laid(name) as folder:
                yield from _files_in(f"store/{layout.place_of(name).as_posix()}", folder)
        except Unseen:
            continue  # erased meanwhile, by a deed that is newer than the rows
