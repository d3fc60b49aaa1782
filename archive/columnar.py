"""Typed copies of the tables of accepted versions: made by the worker, beside the store.

They can be made again from the store at any time, so they are no part of a version, of its digests
or of a backup; whoever may read a version may read them.
"""

import shutil
from collections.abc import Callable
from importlib import import_module
from pathlib import Path, PurePosixPath
from typing import Any

from django.conf import settings
from django.db import transaction
from django.tasks import task

from archive.engine.descriptor import is_table
from archive.extending.room import CopyRoom
from archive.models import Version
from archive.places import store
from registry.errors import Refusal
from registry.guarded.asking import ask

MODULE = "archive.extending.child"
_NEXT = "The table itself is whole; tell the administrator that it has no copy of its columns."


def folder_of(version: Version) -> Path:
    """Give where a version's copies lie."""
    return Path(settings.VAR) / "columns" / version.slug


def copy_of(version: Version, resource: dict[str, Any]) -> Path:
    """Give where the copy of a table lies, or will lie."""
    return folder_of(version) / f"{PurePosixPath(resource['path']).stem}.parquet"


def tables_in(version: Version) -> list[dict[str, Any]]:
    """Give the tables that a version describes."""
    return [one for one in version.descriptor["resources"] if is_table(one) and "schema" in one]


def copies_of(version: Version) -> list[tuple[str, int]]:
    """Give the copies that there are: each table's name in its address, and bytes."""
    lying = sorted(folder_of(version).glob("*.parquet"))
    return [(path.stem, path.stat().st_size) for path in lying]


def typed_columns(copy: Path, names: list[str], most: int) -> list[list[Any]] | None:
    """Give columns of a copy by name, to so many rows; the first is of numbers.

    None where there is no copy that can be read, such as one that is just being written: the table
    itself is whole. The library is loaded once somebody asks: pages do without it else.
    """
    if not copy.exists():
        return None
    parquet: Any = import_module("pyarrow.parquet")
    found: list[list[Any]] = [[] for _ in names]
    try:
        with parquet.ParquetFile(copy) as opened:
            for batch in opened.iter_batches(batch_size=most, columns=names):
                for at, name in enumerate(names):
                    column = batch.column(name)
                    found[at] += (column if at else column.cast("float64")).to_pylist()
                if len(found[0]) >= most:
                    break
    except (OSError, ValueError):  # the library's own faults are of these kinds
        return None
    return [column[:most] for column in found]


def _in_child(options: dict[str, Any]) -> dict[str, Any]:
    return ask(MODULE, options, CopyRoom(), next=_NEXT)


def make_columns(
    version: Version, copy: Callable[[dict[str, Any]], dict[str, Any]] = _in_child
) -> dict[str, str]:
    """Copy the columns of each table that has no copy yet.

    Parameters
    ----------
    version : Version
        Whose tables are copied.
    copy : callable
        Takes what the child is asked, and gives what it tells; another may answer in its place
        where the tables are nobody's but one's own.

    Returns
    -------
    dict
        What became of each table that was tried: the number of its rows, or why it has no copy.
    """
    told: dict[str, str] = {}
    for resource in tables_in(version):
        target = copy_of(version, resource)
        if target.exists():
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            with store().local(version.identifier, resource["path"]) as source:
                options = {
                    "source": str(source.resolve()),
                    "target": str(target.resolve()),
                    "resource": resource,
                }
                told[resource["name"]] = f"{copy(options)['rows']:,}"
        except Refusal as refused:
            told[resource["name"]] = refused.why
    if not Version.objects.filter(pk=version.pk, state="held").exists():
        # Erased while it was being copied.
        drop_columns(version)
    return told


def drop_columns(version: Version) -> None:
    """Remove a version's copies; doing it again is harmless."""
    shutil.rmtree(folder_of(version), ignore_errors=True)


@task
def copy_columns(pk: int) -> dict[str, str]:
    """Copy the columns of a version that is held."""
    version = Version.objects.filter(pk=pk, state="held").first()
    return make_columns(version) if version is not None else {}


def enqueue_columns(version: Version) -> None:
    """Queue the copies of a version, once its row is whole."""
    transaction.on_commit(lambda: copy_columns.enqueue(version.pk))
