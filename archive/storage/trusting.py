"""What every kind of store asks before it trusts an object, and the refusals where it does not."""

import hashlib
from collections.abc import Callable, Mapping
from pathlib import Path

from archive.storage import layout
from archive.storage.contract import Manifest, Problem, Scrubbed, StoredFile
from archive.storage.disk import digests
from archive.storage.inventory import Inventory, read_inventory
from archive.storage.reader import Reading
from registry.errors import Conflict, StoreFailed, Unseen


def absent(object_id: str) -> Unseen:
    """Give the refusal for an object that is not there."""
    return Unseen(
        "There is no such version in the store.",
        f"Nothing is kept as {object_id}.",
        "Check the identifier.",
    )


def damaged(object_id: str, why: str) -> StoreFailed:
    """Give the refusal for an object that cannot be trusted."""
    return StoreFailed(
        f"The version {object_id} cannot be read.",
        f"In the store {why}.",
        "Tell the administrator: it must be restored from the second copy.",
    )


def trusted(object_id: str, content: bytes, sidecar: str) -> Inventory:
    """Give the inventory of an object, where its bytes are those that were written.

    Parameters
    ----------
    object_id : str
        The identifier that it must have.
    content : bytes
        What inventory.json holds.
    sidecar : str
        What the digest file beside it holds.

    Raises
    ------
    StoreFailed
        When it is not what was written.
    """
    if sidecar.split()[:1] != [hashlib.sha512(content).hexdigest()]:
        raise damaged(object_id, "its inventory is not what was written")
    inventory = read_inventory(content)
    if not inventory.is_sound or inventory.id != object_id:
        raise damaged(object_id, "its inventory is unsound")
    return inventory


def content_path(inventory: Inventory, logical: str) -> str:
    """Give where in the object a file lies; under its own name where it has one.

    Raises
    ------
    Unseen
        When the object has no such file.
    """
    state = inventory.states[inventory.head]
    if logical not in state:
        raise Unseen(
            "There is no such file in this version.",
            f"{inventory.id} holds no {logical!r}.",
            "See the version's list of files.",
        )
    paths = inventory.manifest[state[logical]]
    own = f"v1/content/{logical}"
    return own if own in paths else paths[0]


def manifest_of(inventory: Inventory, size: Callable[[str], int | None]) -> Manifest:
    """Say what an object holds.

    Parameters
    ----------
    inventory : Inventory
        Its inventory, trusted.
    size : callable
        Gives the bytes of a path in the object, None where nothing is there.

    Raises
    ------
    StoreFailed
        When a file is missing.
    """
    sha256 = {
        path: digest
        for digest, paths in inventory.fixity.get("sha256", {}).items()
        for path in paths
    }
    files = []
    for logical, sha512 in sorted(inventory.states[inventory.head].items()):
        content = content_path(inventory, logical)
        found = size(content)
        if found is None:
            raise damaged(inventory.id, f"{logical} is missing")
        files.append(StoredFile(logical, found, sha256.get(content, ""), sha512))
    return Manifest(inventory.id, tuple(files))


def seal_in(folder: Path) -> str:
    """Give the sha512 of the inventory of an object that lies in a folder."""
    return digests(folder / "inventory.json", "sha512")["sha512"]


def same_object(stored: Manifest, files: Mapping[str, Path]) -> Manifest:
    """Give the manifest of a stored object that holds just these files.

    Raises
    ------
    Conflict
        When it holds others.
    """
    held = {file.logical: file.sha512 for file in stored.files}
    if held.keys() != files.keys() or any(
        digests(path, "sha512")["sha512"] != held[logical] for logical, path in files.items()
    ):
        raise _taken(stored.object_id)
    return stored


def same_seal(object_id: str, given: str, found: str) -> None:
    """Refuse an object whose inventory is not that of the one that is already kept.

    Raises
    ------
    Conflict
        When they differ.
    """
    if given != found:
        raise _taken(object_id)


def _taken(object_id: str) -> Conflict:
    return Conflict(
        "This version was not stored.",
        f"Another one is already kept as {object_id}, and a stored version is never written over.",
        "Give the new files a new version.",
    )


def judged(reading: Reading, relative: str, object_id: str | None) -> Scrubbed:
    """Say what reading an object has shown, also whether it lies where it belongs.

    Parameters
    ----------
    reading : Reading
        What `read_object` gave.
    relative : str
        Where it lies in the root.
    object_id : str or None
        What it should be; None where only its place is known.
    """
    problems = list(reading.problems)
    found = reading.inventory.id if reading.inventory else ""
    if object_id is not None and found and found != object_id:
        problems.append(Problem("E083", ".", f"says that it is {found!r}"))
    if found and layout.place_of(found).as_posix() != relative:
        problems.append(Problem("E083", ".", f"lies at {relative}, where it does not belong"))
    return Scrubbed(object_id or found, relative, reading.bytes, tuple(problems))
