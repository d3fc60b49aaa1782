"""Restore a backup into an empty site: all is checked first, and the site is shut meanwhile."""

import os
import shutil
import tarfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import DatabaseError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.utils.translation import gettext as _

from archive.places import quarantine, store
from archive.storage.disk import in_words, settle, write_through
from archive.storage.making import settle_tree
from archive.storage.store import Store
from registry.animals.pictures.keeping import folder as pictures
from registry.errors import Conflict, Refusal, StoreFailed, Unsound
from registry.ledger import seal
from registry.ledger.models import Entry
from registry.running import whole
from registry.running.backup.choosing import rows_of, taken
from registry.running.backup.manifest import KEY_NAME, Manifest, Piece
from registry.running.backup.reading import Checked, check_backup, misfit, opened
from registry.running.backup.rows import write_rows
from registry.search import index

WHAT = "The backup was not restored."
_BEGIN_ANEW = (
    "Restore into a new site: name a new database in STRANDLINE_DATABASE and new folders in"
    " STRANDLINE_VAR and STRANDLINE_STORE, or move the old ones aside."
)


def restore(path: Path) -> Checked:
    """Put a backup into an empty site; until all is in its place the site is shut.

    Broken off, it is given again and begins anew. The rows come in one transaction, after the
    files: the database holds none of them, or all.

    Raises
    ------
    Unsound
        When the backup is not whole, or does not fit this program; nothing was written.
    Conflict
        When the site is not empty; nothing was written.
    StoreFailed
        When the disk will not take it; the site is empty again.
    """
    checked = check_backup(path)
    manifest = checked.manifest
    if why := misfit(manifest):
        raise Unsound(
            WHAT,
            _("It does not fit this program: %(why)s.") % {"why": why},
            _(
                "Install the program in the version that made it, %(program)s, restore "
                "there, and update then."
            )
            % {"program": manifest.program},
        )
    broke_off = not whole.is_whole()
    _prepare_database()
    has_rows = _look_whether_empty(manifest, broke_off=broke_off)
    with in_words(WHAT):
        whole.close_down(f"{path} {checked.digest}")
        _clear()
        try:
            _lay_files(checked)
            if not has_rows:
                _fill_database(checked)
        except (Refusal, OSError, DatabaseError) as fault:
            if not has_rows:
                _clear()
                whole.open_up()
            if isinstance(fault, DatabaseError):
                raise _not_taken(fault) from fault
            raise
    return checked


def _not_taken(fault: DatabaseError) -> StoreFailed:
    return StoreFailed(
        WHAT,
        _("The database would not take it: %(fault)s.") % {"fault": fault},
        "The site holds no row. Mend that, and restore once more.",
    )


def _prepare_database() -> None:
    """Make the tables where there are none; refuse a database that is half updated."""
    # What is there by itself: SQLite's own list of sequences, Django's of migrations.
    if not set(connection.introspection.table_names()) - {"django_migrations"}:
        try:
            call_command("migrate", verbosity=0, interactive=False)
        except DatabaseError as fault:
            raise _not_taken(fault) from fault
        return
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise Conflict(
            WHAT,
            "The tables of this database are not those of this program.",
            "Give “manage.py migrate” first, or name a new database in STRANDLINE_DATABASE.",
        )


def _look_whether_empty(manifest: Manifest, *, broke_off: bool) -> bool:
    """Say whether the rows are there already, from a restore that broke off after them.

    Raises
    ------
    Conflict
        When the site is not empty.
    """
    full = next((model for model in taken() if rows_of(model).exists()), None)
    if full is not None:
        head = Entry.objects.order_by("-number").values_list("number", "digest").first()
        if broke_off and head == (manifest.ledger_number, manifest.ledger_digest):
            return True
        number = rows_of(full).count()
        raise Conflict(
            WHAT,
            _("The site is not empty: its database holds rows, of %(label)s %(number)s.")
            % {"label": full._meta.label, "number": f"{number:,}"},
            _("Nothing was written. %(begin_anew)s") % {"begin_anew": _BEGIN_ANEW},
        )
    if not broke_off:
        if not isinstance(store(), Store) and any(True for _one in store().object_ids()):
            raise Conflict(
                WHAT,
                _("The site is not empty: there are versions in %(where)s.")
                % {"where": store().where},
                _("Nothing was written. %(begin_anew)s") % {"begin_anew": _BEGIN_ANEW},
            )
        for _name, folder in _folders():
            if folder.is_dir() and any(folder.iterdir()):
                raise Conflict(
                    WHAT,
                    _("The site is not empty: there are files in %(folder)s.") % {"folder": folder},
                    _("Nothing was written. %(begin_anew)s") % {"begin_anew": _BEGIN_ANEW},
                )
    return False


def _folders() -> list[tuple[str, Path]]:
    held = store()
    return [
        # What goes to an object store is laid here first, and handed over object by object.
        ("store", held.root if isinstance(held, Store) else Path(settings.VAR) / "store.landed"),
        ("quarantine", quarantine().folder),
        ("pictures", pictures()),
    ]


def _beside(folder: Path) -> Path:
    return folder.with_name(f"{folder.name}.restoring")


def _clear() -> None:
    """Remove what a restore has laid; it began with empty folders, so all in them is its own."""
    held = store()
    if not isinstance(held, Store):
        for name in list(held.object_ids()):
            held.erase(name)
    for _name, folder in _folders():
        for one in (_beside(folder), folder):
            shutil.rmtree(one, ignore_errors=True)


def _lay_files(checked: Checked) -> None:
    """Write the files beside their places, push them to the disk, and rename them in."""
    pieces = {one.path: one for one in checked.manifest.pieces}
    with opened(checked.path) as tar:
        for member in tar:
            if member.name == KEY_NAME:
                _keep_key(_stream(tar, member).read())
            elif member.name in pieces:
                _write(_place(member.name), _stream(tar, member), member.mode)
    for one in pieces.values():
        if one.same_as:
            _link(one)
    for _name, folder in _folders():
        if _beside(folder).is_dir():
            settle_tree(_beside(folder))
            _beside(folder).rename(folder)
            settle(folder.parent)
    _hand_over(dict(_folders())["store"])


def _hand_over(landed: Path) -> None:
    """Give what was laid to the store, where that is no folder of this machine."""
    held = store()
    if isinstance(held, Store) or not landed.is_dir():
        return
    laid = Store(landed)
    for name in laid.object_ids():
        with laid.laid(name) as folder:
            held.adopt(name, folder)
    shutil.rmtree(landed)


def _stream(tar: tarfile.TarFile, member: tarfile.TarInfo) -> IO[bytes]:
    stream = tar.extractfile(member)
    assert stream is not None
    return stream


def _place(name: str) -> Path:
    top, _slash, rest = name.partition("/")
    return _beside(dict(_folders())[top]) / rest


def _write(place: Path, stream: IO[bytes], mode: int) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    with place.open("xb") as given:
        shutil.copyfileobj(stream, given)
        write_through(given)
    place.chmod(mode & 0o644 | 0o400)


def _link(piece: Piece) -> None:
    place, source = _place(piece.path), _place(piece.same_as)
    place.parent.mkdir(parents=True, exist_ok=True)
    try:
        place.hardlink_to(source)
    except OSError:  # this disk, or the other folder's, has no such links
        with source.open("rb") as stream:
            _write(place, stream, source.stat().st_mode)


def _keep_key(key: bytes) -> None:
    if "STRANDLINE_SECRET_KEY" in os.environ or settings.TESTING:
        return  # what the surroundings say goes before the file
    kept = Path(settings.VAR) / "secret-key"
    kept.touch(mode=0o600)
    kept.write_bytes(key)


def _fill_database(checked: Checked) -> None:
    manifest = checked.manifest
    with transaction.atomic():
        with opened(checked.path) as tar:
            for model, lines in _tables(tar, manifest):
                write_rows(model, lines)
        models = [model for model, _columns in _known(manifest)]
        connection.check_constraints()
        with connection.cursor() as cursor:
            for statement in connection.ops.sequence_reset_sql(no_style(), models):
                cursor.execute(statement)
        index.rebuild()
        seal.put_on()
        _hold_against(manifest)


def _known(manifest: Manifest) -> list[tuple[type, str]]:
    return [(apps.get_model(table.model), table.path) for table in manifest.tables]


def _tables(tar: tarfile.TarFile, manifest: Manifest) -> Iterator[tuple[type, IO[bytes]]]:
    by_path = {path: model for model, path in _known(manifest)}
    for member in tar:
        if member.name in by_path:
            yield by_path[member.name], _stream(tar, member)


def _hold_against(manifest: Manifest) -> None:
    """Refuse rows that are not those of the manifest, while they can still be undone."""
    for table in manifest.tables:
        number = rows_of(apps.get_model(table.model)).count()
        if number != table.rows:
            raise Unsound(
                WHAT,
                _("Of %(model)s %(number)s rows came, not %(rows)s.")
                % {"model": table.model, "number": f"{number:,}", "rows": f"{table.rows:,}"},
                "The site is empty again. Use another backup.",
            )
    head = Entry.objects.order_by("-number").values_list("number", "digest").first()
    if head is not None and head != (manifest.ledger_number, manifest.ledger_digest):
        raise Unsound(
            WHAT,
            "The ledger's head is not that of the manifest.",
            "The site is empty again. Use another backup.",
        )
