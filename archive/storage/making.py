"""Make one OCFL object out of files, on the workbench, where nobody sees it yet."""

import json
import shutil
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

from archive.storage.disk import BLOCK, new_digest, settle, write_file, write_through
from archive.storage.names import check_paths
from archive.storage.reader import read_object
from registry.errors import StoreFailed, Unsound

_DECLARATION = b"ocfl_object_1.1\n"
_Digests = dict[str, str]


def make_object(
    staged: Path,
    object_id: str,
    files: Mapping[str, Path],
    *,
    message: str,
    user: Mapping[str, str],
    created: datetime,
    expected: Mapping[str, str],
    reached: Callable[[str], None],
) -> None:
    """Make an object in a folder of the workbench, and read it back.

    Parameters
    ----------
    staged : Path
        The object's folder, which is not there yet.
    object_id, files, message, user, created, expected
        As `copy_in` and `seal` take them.
    reached : callable
        Told the name of each step that was taken.

    Raises
    ------
    Unsound
        When a file is not what was expected.
    StoreFailed
        When the disk gives other bytes back than were written.
    """
    contents = copy_in(files, staged, expected)
    reached("copied")
    seal(staged, object_id, contents, message=message, user=user, created=created)
    reached("sealed")
    read_back(staged, object_id)
    reached("read back")


def check_request(object_id: str, files: Mapping[str, Path], created: datetime) -> None:
    """Refuse what no object can be made of.

    Raises
    ------
    ValueError
        When there is no identifier, no file, or no time zone.
    Unsound
        When a path is unsound.
    """
    if created.utcoffset() is None:
        raise ValueError("created must say its time zone")
    if not object_id or not files:
        raise ValueError("an object needs an identifier and at least one file")
    check_paths(files)


def read_back(folder: Path, object_id: str) -> None:
    """Read a whole object again before anyone can see it.

    Raises
    ------
    StoreFailed
        When it is not whole, or is another object.
    """
    reading = read_object(folder)
    faults = [str(fault) for fault in reading.errors]
    if not faults and (reading.inventory is None or reading.inventory.id != object_id):
        faults = [f"it says that it is {reading.inventory.id if reading.inventory else ''!r}"]
    if faults:
        raise StoreFailed(
            "The version could not be stored.",
            f"Read back from the disk it was not what had been written ({faults[0]}).",
            "Nothing was kept. Tell the administrator: the disk may be failing.",
        )


def copy_whole(folder: Path, staged: Path) -> None:
    """Copy an object byte by byte, read-only and through to the disk.

    Parameters
    ----------
    folder : Path
        A whole object, whatever store it comes from.
    staged : Path
        Where it is copied to; not there yet.
    """
    for source in sorted(folder.rglob("*")):
        target = staged / source.relative_to(folder)
        if source.is_dir():
            target.mkdir(parents=True, exist_ok=True)
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        with source.open("rb") as taken, target.open("xb") as given:
            shutil.copyfileobj(taken, given, BLOCK)
            write_through(given)
        target.chmod(0o444)
    settle_tree(staged)


def copy_in(
    files: Mapping[str, Path], staged: Path, expected: Mapping[str, str]
) -> dict[str, _Digests]:
    """Copy the files into the object's content folder, read-only and through to the disk.

    Parameters
    ----------
    files : mapping of str to Path
        Path inside the object to the file that is copied.
    staged : Path
        The object's folder.
    expected : mapping of str to str
        Path inside the object to the sha256 that the file should have.

    Returns
    -------
    dict
        Path inside the object to its sha256 and sha512, of the bytes as they were read: what
        the disk made of them is yet to be seen.

    Raises
    ------
    Unsound
        When a file is not what was expected.
    """
    found: dict[str, _Digests] = {}
    for logical, source in sorted(files.items()):
        target = staged / "v1" / "content" / logical
        target.parent.mkdir(parents=True, exist_ok=True)
        running = {name: new_digest(name) for name in ("sha256", "sha512")}
        with source.open("rb") as taken, target.open("xb") as given:
            while block := taken.read(BLOCK):
                for digest in running.values():
                    digest.update(block)
                given.write(block)
            write_through(given)
        target.chmod(0o444)
        found[logical] = {name: digest.hexdigest() for name, digest in running.items()}
        if expected.get(logical, found[logical]["sha256"]) != found[logical]["sha256"]:
            raise Unsound(
                "The version could not be stored.",
                f"{logical} is no longer the file that was received: its sha256 differs.",
                "Send the file again; the received copy may be damaged.",
                fields={logical: "its sha256 differs from the one taken at receipt"},
            )
    return found


def seal(
    staged: Path,
    object_id: str,
    contents: Mapping[str, _Digests],
    *,
    message: str,
    user: Mapping[str, str],
    created: datetime,
) -> None:
    """Write the declaration, the inventory and its digest, in the object's root and in v1.

    Parameters
    ----------
    staged : Path
        The object's folder, its content already in it.
    object_id : str
        Its identifier.
    contents : mapping
        What `copy_in` gave.
    message, user, created : str, mapping, datetime
        Why, by whom (name and address), and when.
    """
    manifest: dict[str, list[str]] = {}
    state: dict[str, list[str]] = {}
    sha256: dict[str, list[str]] = {}
    for logical, digests in contents.items():
        content = f"v1/content/{logical}"
        manifest.setdefault(digests["sha512"], []).append(content)
        state.setdefault(digests["sha512"], []).append(logical)
        sha256.setdefault(digests["sha256"], []).append(content)
    version = {
        "created": created.isoformat(timespec="seconds"),
        "message": message,
        "user": dict(user),
        "state": state,
    }
    inventory = {
        "id": object_id,
        "type": "https://ocfl.io/1.1/spec/#inventory",
        "digestAlgorithm": "sha512",
        "head": "v1",
        "manifest": manifest,
        "fixity": {"sha256": sha256},
        "versions": {"v1": version},
    }
    written = json.dumps(inventory, indent=2, ensure_ascii=False).encode() + b"\n"
    digest = new_digest("sha512")
    digest.update(written)
    sidecar = f"{digest.hexdigest()} inventory.json\n".encode()
    for folder in (staged / "v1", staged):
        write_file(folder / "inventory.json", written)
        write_file(folder / "inventory.json.sha512", sidecar)
    write_file(staged / "0=ocfl_object_1.1", _DECLARATION)
    settle_tree(staged)


def settle_tree(folder: Path, *, into_objects: bool = True) -> None:
    """Push the lists of names of a folder and of those in it through to the disk."""
    for inner in folder.iterdir():
        if inner.is_dir() and (into_objects or not (inner / "inventory.json").exists()):
            settle_tree(inner, into_objects=into_objects)
    settle(folder)
