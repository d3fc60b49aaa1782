"""Check an OCFL inventory, the JSON file that says what an object holds.

References
----------
Oxford Common File Layout Specification 1.1 (7 October 2022), section 3.5, and its table of
validation codes.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from archive.storage.contract import Problem
from archive.storage.disk import DIGEST_LENGTHS

Json = Mapping[str, object]

_KEYS = {
    "id", "type", "digestAlgorithm", "head", "contentDirectory", "manifest", "versions", "fixity",
}  # fmt: skip
_TYPE = re.compile(r"https://ocfl\.io/(\d+\.\d+)/spec/#inventory")
_VERSION = re.compile(r"v(0*)([1-9][0-9]*)")
_URI = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:\S+")
_CREATED = re.compile(
    r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?(?:[Zz]|[+-]\d\d:\d\d)",
)
_EXTENSION_DIGESTS = {
    "blake2b-160", "blake2b-256", "blake2b-384", "sha512/256", "size", "crc32",
}  # fmt: skip
"""Registered by OCFL extensions 0001 and 0009; allowed in fixity, and not computed here."""


@dataclass
class Inventory:
    """An inventory as far as it could be understood, with the problems found on the way.

    Parameters
    ----------
    where : str
        Path of the inventory inside the object, for messages.
    """

    where: str
    problems: list[Problem] = field(default_factory=list)
    id: str = ""
    spec: str = ""
    algorithm: str = ""
    head: str = ""
    content_directory: str | None = None
    manifest: dict[str, list[str]] = field(default_factory=dict)
    versions: dict[str, Json] = field(default_factory=dict)
    states: dict[str, dict[str, str]] = field(default_factory=dict)
    fixity: dict[str, dict[str, list[str]]] = field(default_factory=dict)

    @property
    def content_paths(self) -> dict[str, str]:
        """Digest of each content path, in lower case."""
        return {path: digest for digest, paths in self.manifest.items() for path in paths}

    @property
    def is_sound(self) -> bool:
        """Whether no error was found (warnings may have been)."""
        return not any(problem.is_error for problem in self.problems)

    def complain(self, code: str, message: str) -> None:
        """Note a problem."""
        self.problems.append(Problem(code, self.where, message))


def version_number(name: str) -> int | None:
    """Give the number of a version directory's name ("v3", "v003"), or None."""
    match = _VERSION.fullmatch(name)
    return int(match[2]) if match else None


def read_inventory(content: bytes, where: str = "inventory.json") -> Inventory:
    """Read and check one inventory on its own, without looking at the files it names.

    Parameters
    ----------
    content : bytes
        The file's content.
    where : str
        Its path inside the object, for messages.

    Returns
    -------
    Inventory
        Never raises for a bad inventory: what is wrong stands in its problems.
    """
    inventory = Inventory(where)
    try:
        raw = json.loads(content.decode("utf-8"), object_pairs_hook=_unique)
    except (ValueError, RecursionError) as fault:
        inventory.complain("E033", f"not readable as JSON: {fault}")
        return inventory
    if not isinstance(raw, dict):
        inventory.complain("E033", "is not a JSON object")
        return inventory
    for key in sorted(raw.keys() - _KEYS):
        inventory.complain("E102", f"holds a key that the standard does not know: {key!r}")
    _read_head(inventory, raw)
    _read_content_directory(inventory, raw)
    _read_manifest(inventory, raw)
    _read_versions(inventory, raw)
    _read_fixity(inventory, raw)
    return inventory


def _unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice in one object")
    return found


def _read_head(inventory: Inventory, raw: Json) -> None:
    for key in ("id", "type", "digestAlgorithm", "head"):
        if key not in raw:
            inventory.complain("E036", f"has no {key!r}")
    match raw.get("id"):
        case str(name) if name:
            inventory.id = name
            if not _URI.fullmatch(name):
                inventory.complain("W005", f"the id {name!r} is no URI")
        case None:
            pass
        case _:
            inventory.complain("E037", "the id is not a text, or is empty")
    match raw.get("type"):
        case str(name) if kind := _TYPE.fullmatch(name):
            inventory.spec = kind[1]
        case None:
            pass
        case other:
            inventory.complain("E038", f"the type {other!r} is not that of an inventory")
    match raw.get("digestAlgorithm"):
        case "sha512" | "sha256" as name:
            inventory.algorithm = name
            if name != "sha512":
                inventory.complain("W004", "uses sha256; sha512 is recommended")
        case None:
            pass
        case other:
            inventory.complain("E025", f"the digest algorithm {other!r} is not sha512 or sha256")
    match raw.get("head"):
        case str(name) if version_number(name):
            inventory.head = name
        case None:
            pass
        case other:
            inventory.complain("E040", f"the head {other!r} is no version's name")


def _read_content_directory(inventory: Inventory, raw: Json) -> None:
    match raw.get("contentDirectory", "content"):
        case "." | ".." as name:
            inventory.complain("E018", f"the content directory is {name!r}")
        case str(name) if name and "/" not in name:
            if "contentDirectory" in raw:
                inventory.content_directory = name
        case other:
            inventory.complain("E017", f"the content directory is {other!r}")


def _digest_map(
    inventory: Inventory, raw: Json, algorithm: str, *, what: str, shape: str, twice: str
) -> dict[str, list[str]]:
    """Read a mapping of digest to paths, its digests in lower case."""
    found: dict[str, list[str]] = {}
    length = DIGEST_LENGTHS.get(algorithm)
    for digest, paths in raw.items():
        folded = digest.lower()
        if folded in found:
            inventory.complain(twice, f"{what} holds the digest {digest[:16]}… twice")
        if length and not re.fullmatch(rf"[0-9a-f]{{{length}}}", folded):
            inventory.complain(shape, f"{what} holds {digest[:16]!r}…, no {algorithm} digest")
        if not isinstance(paths, list) or not paths or not all(isinstance(p, str) for p in paths):
            inventory.complain(shape, f"{what} gives no list of paths for {digest[:16]}…")
            continue
        found.setdefault(folded, []).extend(paths)
    return found


def _read_manifest(inventory: Inventory, raw: Json) -> None:
    manifest = raw.get("manifest")
    if manifest is None:
        inventory.complain("E041", "has no 'manifest'")
        return
    if not isinstance(manifest, dict):
        inventory.complain("E106", "the manifest is not a JSON object")
        return
    inventory.manifest = _digest_map(
        inventory, manifest, inventory.algorithm, what="the manifest", shape="E092", twice="E096"
    )
    paths = [path for each in inventory.manifest.values() for path in each]
    _check_elements(inventory, paths, edge="E100", element="E099", what="content path")
    _check_apart(inventory, paths, "E101", "content path")
    content = inventory.content_directory or "content"
    for path in paths:
        parts = path.split("/")
        if version_number(parts[0]) is None or len(parts) < 3 or parts[1] != content:
            inventory.complain("E042", f"the content path {path!r} is not under v<N>/{content}/")


def _check_elements(
    inventory: Inventory, paths: Iterable[str], *, edge: str, element: str, what: str
) -> None:
    for path in paths:
        if path.startswith("/") or path.endswith("/"):
            inventory.complain(edge, f"the {what} {path!r} begins or ends with a slash")
        if any(part in {"", ".", ".."} for part in path.strip("/").split("/")):
            inventory.complain(element, f"the {what} {path!r} has an empty or dotted element")


def _check_apart(inventory: Inventory, paths: list[str], code: str, what: str) -> None:
    seen: set[str] = set()
    for path in paths:
        if path in seen:
            inventory.complain(code, f"the {what} {path!r} stands twice")
        seen.add(path)
    for path in seen:
        parts = path.split("/")
        for depth in range(1, len(parts)):
            above = "/".join(parts[:depth])
            if above in seen:
                inventory.complain(code, f"the {what} {above!r} is also the folder of {path!r}")


def _read_versions(inventory: Inventory, raw: Json) -> None:
    versions = raw.get("versions")
    if versions is None:
        inventory.complain("E043", "has no 'versions'")
        return
    if not isinstance(versions, dict):
        inventory.complain("E044", "its versions are not a JSON object")
        return
    if not versions:
        inventory.complain("E008", "has no version")
        return
    numbers = {name: version_number(name) for name in versions}
    for name, number in numbers.items():
        if number is None:
            inventory.complain("E046", f"{name!r} is no version's name")
    known = {name: number for name, number in numbers.items() if number is not None}
    _check_sequence(inventory, known)
    inventory.versions = {name: versions[name] for name in sorted(known, key=lambda n: known[n])}
    used: set[str] = set()
    for name, version in inventory.versions.items():
        if not isinstance(version, dict):
            inventory.complain("E047", f"{name} is not a JSON object")
            inventory.versions[name] = {}
            continue
        used |= _read_version(inventory, name, version)
    for digest in inventory.manifest.keys() - used:
        inventory.complain("E107", f"the manifest's {digest[:16]}… is used by no version")


def _check_sequence(inventory: Inventory, known: Mapping[str, int]) -> None:
    if sorted(known.values()) != list(range(1, len(known) + 1)):
        inventory.complain("E010", f"its versions do not run from 1 without a gap: {list(known)}")
    padded = [name for name in known if name.startswith("v0")]
    if padded:
        inventory.complain("W001", "its version numbers are padded with zeros")
        if len(padded) != len(known):
            inventory.complain("E011", "only some of its version numbers begin with a zero")
        elif len({len(name) for name in known}) != 1:
            inventory.complain("E012", "its version numbers are not padded alike")
    if inventory.head and known:
        latest = max(known, key=lambda name: known[name])
        if inventory.head != latest:
            inventory.complain("E040", f"the head is {inventory.head}, the last one is {latest}")


def _read_version(inventory: Inventory, name: str, version: Json) -> set[str]:
    """Check one version block and give the digests that it uses."""
    for key in sorted(version.keys() - {"created", "state", "message", "user"}):
        inventory.complain("E102", f"{name} holds a key that the standard does not know: {key!r}")
    if "created" not in version:
        inventory.complain("E048", f"{name} has no 'created'")
    elif not _is_time(version["created"]):
        inventory.complain("E049", f"{name} was created {version['created']!r}, no full time")
    if "message" not in version or "user" not in version:
        inventory.complain("W007", f"{name} lacks a message or a user")
    if not isinstance(version.get("message", ""), str):
        inventory.complain("E094", f"the message of {name} is no text")
    if "user" in version:
        _check_user(inventory, name, version["user"])
    state = version.get("state")
    if not isinstance(state, dict):
        inventory.complain("E048" if state is None else "E050", f"{name} has no sound 'state'")
        return set()
    digests = _digest_map(
        inventory,
        state,
        inventory.algorithm,
        what=f"the state of {name}",
        shape="E050",
        twice="E050",
    )
    for digest in digests.keys() - inventory.manifest.keys():
        inventory.complain("E050", f"{name} names {digest[:16]}…, which the manifest lacks")
    paths = [path for each in digests.values() for path in each]
    _check_elements(inventory, paths, edge="E053", element="E052", what="logical path")
    _check_apart(inventory, paths, "E095", "logical path")
    inventory.states[name] = {path: digest for digest, each in digests.items() for path in each}
    return set(digests)


def _is_time(value: object) -> bool:
    if not isinstance(value, str) or not _CREATED.fullmatch(value):
        return False
    try:
        datetime.fromisoformat(value.upper())
    except ValueError:
        return False
    return True


def _check_user(inventory: Inventory, name: str, user: object) -> None:
    if not isinstance(user, dict) or not isinstance(user.get("name"), str) or not user["name"]:
        inventory.complain("E054", f"the user of {name} has no name")
        return
    address = user.get("address")
    if address is None:
        inventory.complain("W008", f"the user of {name} has no address")
    elif not isinstance(address, str):
        inventory.complain("E054", f"the address of the user of {name} is no text")
    elif not _URI.fullmatch(address):
        inventory.complain("W009", f"the address of the user of {name} is no URI")


def _read_fixity(inventory: Inventory, raw: Json) -> None:
    fixity = raw.get("fixity", {})
    if not isinstance(fixity, dict):
        inventory.complain("E111", "its fixity is not a JSON object")
        return
    known = inventory.content_paths
    for algorithm, block in fixity.items():
        if algorithm in _EXTENSION_DIGESTS:
            continue
        if algorithm not in DIGEST_LENGTHS:
            inventory.complain("E056", f"its fixity names an unknown algorithm: {algorithm!r}")
            continue
        if not isinstance(block, dict):
            inventory.complain("E057", f"its fixity for {algorithm} is not a JSON object")
            continue
        found = _digest_map(
            inventory, block, algorithm, what="its fixity", shape="E057", twice="E097"
        )
        paths = [path for each in found.values() for path in each]
        _check_elements(inventory, paths, edge="E100", element="E099", what="fixity path")
        for path in paths:
            if path not in known:
                inventory.complain("E093", f"its fixity names {path!r}, which the manifest lacks")
        inventory.fixity[algorithm] = found
