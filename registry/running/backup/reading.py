"""Read a backup through before anything is written: every name, every size, every digest."""

import hashlib
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils.translation import gettext as _

from archive.storage.disk import BLOCK
from registry.errors import Unsound
from registry.running.backup.choosing import fields_of, taken
from registry.running.backup.manifest import ABOUT_NAME, DIGEST_NAME, KEY_NAME, NAME, Manifest

_MANIFEST_BYTES = 1_000_000_000
_SINGLES = {ABOUT_NAME, KEY_NAME, NAME, DIGEST_NAME}
_TOPS = {"database", "store", "quarantine", "pictures"}


@dataclass(frozen=True)
class Checked:
    """A backup that was read through and is whole."""

    path: Path
    manifest: Manifest
    digest: str
    """SHA-256 of the manifest: kept elsewhere, it proves the whole backup."""


def _broken(path: Path, why: str) -> Unsound:
    return Unsound(
        _("The backup %(path)s cannot be used.") % {"path": path.name},
        _("%(why)s Nothing was written.") % {"why": why},
        "Use another copy of it, or an earlier backup.",
    )


@contextmanager
def opened(path: Path) -> Iterator[tarfile.TarFile]:
    """Open a backup to read.

    Raises
    ------
    Unsound
        When it is no backup, or is cut short.
    """
    try:
        with tarfile.open(path, "r:") as tar:
            yield tar
    except OSError as fault:
        raise _broken(
            path, _("It cannot be read: %(fault)s.") % {"fault": fault.strerror or fault}
        ) from fault
    except (tarfile.TarError, EOFError) as fault:
        raise _broken(
            path, _("It is cut short or is no backup: %(fault)s.") % {"fault": fault}
        ) from fault


def check_backup(path: Path) -> Checked:
    """Read a backup to its end and hold each piece against the manifest.

    Raises
    ------
    Unsound
        When a name is hostile, a piece is missing, altered or too many, or it is cut short.
    """
    found: dict[str, tuple[int, str]] = {}
    kept: dict[str, bytes] = {}
    with opened(path) as tar:
        for member in tar:
            if complaint := hostile(member):
                raise _broken(
                    path,
                    _("It holds “%(member)s”, which %(complaint)s.")
                    % {"member": member.name[:200], "complaint": complaint},
                )
            if member.name in found:
                raise _broken(path, _("It holds “%(member)s” twice.") % {"member": member.name})
            if member.name in _SINGLES and member.size > _MANIFEST_BYTES:
                raise _broken(path, _("Its %(member)s is too long.") % {"member": member.name})
            stream = tar.extractfile(member)
            assert stream is not None
            found[member.name] = _measured(stream)
            if member.name in {NAME, DIGEST_NAME}:
                stream.seek(0)
                kept[member.name] = stream.read()
    if NAME not in kept or DIGEST_NAME not in kept:
        raise _broken(path, "It is cut short: its manifest, which comes last, is not there.")
    digest = found[NAME][1]
    if kept[DIGEST_NAME].split()[:1] != [digest.encode()]:
        raise _broken(path, "Its manifest was altered.")
    try:
        manifest = Manifest.read(kept[NAME])
    except ValueError as fault:
        raise _broken(
            path, _("It was made by another program or version: %(fault)s.") % {"fault": fault}
        ) from fault
    if complaint := _difference(manifest, found):
        raise _broken(path, complaint)
    return Checked(path, manifest, digest)


def hostile(member: tarfile.TarInfo) -> str:
    """Say why a member of a tar is not to be trusted; nothing where it is."""
    # Neither a link nor a device, nor a sparse file that is larger than what was read.
    if member.type not in {tarfile.REGTYPE, tarfile.AREGTYPE} or member.issparse():
        return "is no plain file"
    parts = member.name.split("/")
    if member.name.startswith("/") or "\\" in member.name or "\0" in member.name:
        return "leads out of it"
    if any(part in {"", ".", ".."} for part in parts):
        return "leads out of it"
    if member.name not in _SINGLES and (len(parts) < 2 or parts[0] not in _TOPS):
        return "belongs to no backup"
    return ""


def _measured(stream: IO[bytes]) -> tuple[int, str]:
    running, size = hashlib.sha256(), 0
    while block := stream.read(BLOCK):
        running.update(block)
        size += len(block)
    return size, running.hexdigest()


def _difference(manifest: Manifest, found: dict[str, tuple[int, str]]) -> str:
    """Say where the pieces are not what the manifest says of them."""
    wanted = {table.path: (table.bytes, table.sha256) for table in manifest.tables}
    wanted |= {one.path: (one.bytes, one.sha256) for one in manifest.pieces if not one.same_as}
    for name, (size, digest) in wanted.items():
        if name not in found:
            return f"It lacks {name}."
        if found[name] != (size, digest):
            return f"{name} was altered: it is not what the manifest says."
    extra = found.keys() - wanted.keys() - _SINGLES
    if extra:
        return f"It holds {min(extra)}, of which the manifest says nothing."
    if manifest.holds_secret_key != (KEY_NAME in found):
        return "Its manifest and its secret key do not agree."
    for one in manifest.pieces:
        probe = tarfile.TarInfo(one.path)
        is_named = bool(one.same_as) and wanted.get(one.same_as) != (one.bytes, one.sha256)
        if hostile(probe) or is_named or one.path.split("/")[0] == "database":
            return f"Its manifest names {one.path[:200]}, which is not to be trusted."
    return ""


def misfit(manifest: Manifest) -> str:
    """Say why a backup does not fit this program; nothing where it does."""
    models = {model._meta.label_lower: model for model in taken()}
    apps_taken = {label.split(".")[0] for label in models}
    loader = MigrationLoader(connection, ignore_no_migrations=True)
    here = {one for one in loader.disk_migrations if one[0] in apps_taken}
    there = {(str(app), str(name)) for app, name in manifest.migrations if app in apps_taken}
    newer, older = sorted(there - here), sorted(here - there)
    if newer:
        return f"it is of a newer program: {newer[0][0]} {newer[0][1]} is not known here"
    if older:
        return f"it is of an older program, before {older[0][0]} {older[0][1]}"
    told = {table.model: table.fields for table in manifest.tables}
    for label in sorted(told.keys() ^ models.keys()):
        return f"{label} is in one of the two alone"
    for label, model in models.items():
        if told[label] != [field.attname for field in fields_of(model)]:
            return f"the columns of {label} are others"
    return ""
