"""Bags that others made: whole, and just what they say, before anything in them is read.

References
----------
RFC 8493 (October 2018), The BagIt File Packaging Format 1.0, sections 2 and 3; drafts 0.93 to 0.97
where a bag says that it follows one of them.
"""

import codecs
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from archive.engine.descriptor import find_named

DECLARED = "bagit.txt"
PAYLOAD = "data"
_ALGORITHMS = frozenset({"sha512", "sha384", "sha256", "sha224", "sha1", "md5"})
_BLOCK = 1 << 20
_VERSION = re.compile(r"BagIt-Version: ([0-9]+)\.([0-9]+)")
_ENCODING = re.compile(r"Tag-File-Character-Encoding: (\S+)")
_LINE = re.compile(r"([0-9A-Fa-f]+)[ \t]+(\S.*)")
_LABEL = re.compile(r"[^:\s][^:]*:.*|\s+\S.*|")
_FETCHED = re.compile(r"(\S+)[ \t]+(\S+)[ \t]+(\S.*)")
_OUTSIDE = re.compile(r"[/~\\]|[A-Za-z]:[\\/]|.*\\")
_ESCAPES = {"%0A": "\n", "%0a": "\n", "%0D": "\r", "%0d": "\r", "%25": "%"}


@dataclass
class Bag:
    """A bag as it lies in a folder.

    Parameters
    ----------
    root : Path
    version : tuple of int
        As bagit.txt says it; (0, 0) where it does not.
    encoding : str
        That of its other tag files.
    faults : list of str
        What is wrong with it, in words.
    """

    root: Path
    version: tuple[int, int] = (0, 0)
    encoding: str = "utf-8"
    faults: list[str] = field(default_factory=list)


def find_bag(folder: Path) -> Path | None:
    """Find the folder of a bag: this one, or the one that it holds."""
    declared = find_named(folder, DECLARED)
    return declared.parent if declared else None


def faults_of(root: Path) -> list[str]:
    """Say what is wrong with a bag; an empty list where it is whole and valid.

    Parameters
    ----------
    root : Path
        Its folder. Every file in it is read once for each manifest; nothing is fetched.
    """
    bag = Bag(root)
    _declared(bag)
    if not (root / PAYLOAD).is_dir():
        bag.faults.append(f"It has no folder “{PAYLOAD}”.")
    if bag.faults:
        return bag.faults
    _told(bag)
    _fetched(bag)
    listed = _manifests(bag, "manifest")
    if not listed:
        bag.faults.append("It has no manifest.")
    _manifests(bag, "tagmanifest")
    _payload(bag, listed)
    return bag.faults


def _declared(bag: Bag) -> None:
    path = bag.root / DECLARED
    try:
        text = path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError):
        bag.faults.append(f"{DECLARED} is not there, or is not UTF-8.")
        return
    lines = text.splitlines()
    version = _VERSION.fullmatch(lines[0]) if lines else None
    encoding = _ENCODING.fullmatch(lines[1]) if len(lines) == 2 else None
    if version is None or encoding is None:
        what = "must have two lines, the version and the encoding, and nothing else"
        bag.faults.append(f"{DECLARED} {what}.")
        return
    bag.version = int(version[1]), int(version[2])
    bag.encoding = encoding[1]
    try:
        codecs.lookup(bag.encoding)
    except LookupError:
        bag.faults.append(f"{DECLARED} names the encoding {bag.encoding}, which there is not.")


def _lines(bag: Bag, path: Path) -> list[str]:
    try:
        return path.read_bytes().decode(bag.encoding).splitlines()
    except UnicodeDecodeError:
        bag.faults.append(f"{path.name} is not {bag.encoding}.")
        return []


def _told(bag: Bag) -> None:
    """Read bag-info.txt: labels with values, and how many bytes and files there should be."""
    path = bag.root / "bag-info.txt"
    if not path.is_file():
        return
    for line in _lines(bag, path):
        if not _LABEL.fullmatch(line):
            bag.faults.append(f"bag-info.txt has a line without a label: {line[:80]}")
        label, _, value = line.partition(":")
        if label.strip().lower() == "payload-oxum":
            _weighed(bag, value.strip())


def _weighed(bag: Bag, said: str) -> None:
    sizes = [path.stat().st_size for path in _files(bag.root / PAYLOAD)]
    if said != (found := f"{sum(sizes)}.{len(sizes)}"):
        bag.faults.append(f"It says that it holds {said} (bytes, files), and holds {found}.")


def _fetched(bag: Bag) -> None:
    """Refuse what is to be fetched elsewhere, and a place outside of the bag."""
    path = bag.root / "fetch.txt"
    for line in _lines(bag, path) if path.is_file() else ():
        entry = _FETCHED.fullmatch(line)
        if entry is None:
            bag.faults.append(f"fetch.txt has a line that cannot be read: {line[:80]}")
        elif (inside := _inside(bag, entry[3])) is not None and not (bag.root / inside).is_file():
            bag.faults.append(f"{inside} is to be fetched elsewhere; send it in the bag.")


def _inside(bag: Bag, said: str) -> str | None:
    """Give a path within the bag, its escapes undone; None, with a fault, where it leads out."""
    path = said
    if bag.version >= (1, 0):
        path = re.sub("%0[AaDd]|%25", lambda sign: _ESCAPES[sign[0]], path)
    else:
        path = re.sub("%0[AaDd]", lambda sign: _ESCAPES[sign[0]], path).removeprefix("*")
    parts = PurePosixPath(path).parts
    if _OUTSIDE.match(path) or ".." in parts or not parts:
        bag.faults.append(f"{said[:120]} leads out of the bag.")
        return None
    return str(PurePosixPath(path))


def _manifests(bag: Bag, kind: str) -> dict[str, set[str]]:
    """Hold the files of each manifest of a kind against it; give what each of them lists."""
    found: dict[str, set[str]] = {}
    for path in sorted(bag.root.glob(f"{kind}-*.txt")):
        algorithm = path.stem.removeprefix(f"{kind}-").lower()
        if algorithm not in _ALGORITHMS:
            bag.faults.append(f"{path.name} has digests that are not known here.")
            continue
        digests = dict(_entries(bag, path))
        found[path.name] = set(digests)
        for name, digest in digests.items():
            _held(bag, name, algorithm, digest)
    return found


def _entries(bag: Bag, path: Path) -> Iterator[tuple[str, str]]:
    digests: dict[str, str] = {}
    for line in _lines(bag, path):
        entry = _LINE.fullmatch(line)
        if entry is None:
            bag.faults.append(f"{path.name} has a line that cannot be read: {line[:80]}")
            continue
        name, digest = _inside(bag, entry[2]), entry[1].lower()
        if name is None:
            continue
        if name in digests and (bag.version >= (1, 0) or digests[name] != digest):
            bag.faults.append(f"{path.name} lists {name} twice.")
        digests[name] = digest
    yield from digests.items()


def _held(bag: Bag, name: str, algorithm: str, digest: str) -> None:
    path = bag.root / name
    if not path.is_file() or path.is_symlink():
        bag.faults.append(f"{name} is listed, and is not there.")
        return
    with path.open("rb") as opened:
        found = hashlib.file_digest(opened, lambda: hashlib.new(algorithm, usedforsecurity=False))
    if found.hexdigest() != digest:
        bag.faults.append(f"{name} is not the file whose {algorithm} is listed.")


def _payload(bag: Bag, listed: dict[str, set[str]]) -> None:
    """See that each file of the payload is listed: in every manifest, since 1.0."""
    for path in _files(bag.root / PAYLOAD):
        name = path.relative_to(bag.root).as_posix()
        having = [manifest for manifest, names in listed.items() if name in names]
        if not having or (bag.version >= (1, 0) and len(having) < len(listed)):
            bag.faults.append(f"{name} is there, and is not listed in every manifest.")


def _files(folder: Path) -> Iterator[Path]:
    return (path for path in sorted(folder.rglob("*")) if path.is_file())
