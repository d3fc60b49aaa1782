"""A copy of a package in which every safe correction is made; the package itself is only read."""

import json
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from archive.engine.causes import Suspicion
from archive.engine.causes.suspecting import tables_of
from archive.engine.corrections import Correction, mended
from archive.engine.corrections.files import SwapFiles
from archive.engine.descriptor import find_descriptor

ABOUT_BYTES = ("hash", "bytes", "rows", "fields")
"""What a descriptor may say of a table's bytes, and what is no longer so once it is corrected."""


def undescribed(descriptor: dict[str, Any], paths: Iterable[str]) -> bool:
    """Take out of a descriptor what it says of the bytes of these files; say whether it did."""
    named, said = set(paths), 0
    for resource in descriptor.get("resources", []):
        if resource.get("path") in named:
            said += sum(name in resource for name in ABOUT_BYTES)
            for name in ABOUT_BYTES:
                resource.pop(name, None)
    return said > 0


def write_mended(package: Path, suspicions: Sequence[Suspicion], target: Path) -> int:
    """Copy a package and make every correction that is offered.

    Parameters
    ----------
    package : Path
        Its folder, or its descriptor.
    suspicions : sequence of Suspicion
        Of this package. Where two files are to be swapped, only that is done: what else is wrong
        with them shows in the next check.
    target : Path
        The folder to write; it may not be there yet.

    Returns
    -------
    int
        How many corrections were made; with none, nothing is written.

    Raises
    ------
    Unsound
        When corrections that are each sound do not go together.
    """
    offered = [one for one in suspicions if one.correction is not None]
    swaps = [one for one in offered if isinstance(one.correction, SwapFiles)]
    chosen = swaps[:1] or offered
    if not chosen:
        return 0
    root = package.parent if package.is_file() else package
    shutil.copytree(root, target)
    tables = {table.name: table for table in tables_of(package)}
    by_table: dict[str, list[Correction]] = {}
    for one in chosen:
        assert one.correction is not None
        by_table.setdefault(one.table, []).append(one.correction)
    touched = set()
    for name, corrections in by_table.items():
        table, first = tables[name], corrections[0]
        there = target / table.path.relative_to(root)
        touched.add(table.where)
        if isinstance(first, SwapFiles):
            other = tables[first.other]
            touched.add(other.where)
            shutil.copyfile(other.path, there)
            shutil.copyfile(table.path, target / other.path.relative_to(root))
            continue
        with there.open("wb") as out:
            out.writelines(mended(table.path, table.layout, corrections))
    _redescribe(package, root, target, touched)
    return len(chosen)


def _redescribe(package: Path, root: Path, target: Path, paths: set[str]) -> None:
    place = package if package.is_file() else find_descriptor(package)
    assert place is not None
    descriptor = json.loads(place.read_text(encoding="utf-8-sig"))
    if undescribed(descriptor, paths):
        text = json.dumps(descriptor, ensure_ascii=False, indent=2) + "\n"
        (target / place.relative_to(root)).write_text(text, encoding="utf-8")
