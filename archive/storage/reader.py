"""Read an OCFL object from disk and say everything that is wrong with it.

References
----------
Oxford Common File Layout Specification 1.0 and 1.1, section 3, and their validation codes.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from archive.storage.contract import Problem
from archive.storage.disk import digests
from archive.storage.inventory import Inventory, read_inventory, version_number

SPECS = ("1.0", "1.1")
"""Versions of the standard that are read."""

MAIN_DIGESTS = ("sha512", "sha256")
"""Algorithms that an inventory may be built on."""

_SIDECAR = re.compile(r"([0-9A-Fa-f]+)\s+inventory\.json\s*")
_REGISTERED = re.compile(
    r"0001-digest-algorithms|0002-flat-direct-storage-layout"
    r"|0003-hash-and-id-n-tuple-storage-layout|0004-hashed-n-tuple-storage-layout"
    r"|0005-mutable-head|0006-flat-omit-prefix-storage-layout"
    r"|0007-n-tuple-omit-prefix-storage-layout|0008-schema-registry|0009-digest-algorithms"
    r"|0010-differential-n-tuple-omit-prefix-storage-layout|0011-direct-clean-path-layout"
    r"|0012-hash-and-no-prefix-id-n-tuple-storage-layout"
)
_Expected = dict[str, set[tuple[str, str, str]]]


@dataclass(frozen=True)
class Reading:
    """What reading one object has shown.

    Parameters
    ----------
    inventory : Inventory or None
        The root inventory, as far as it could be understood.
    problems : tuple of Problem
        Errors and warnings, in the order in which they were met.
    bytes : int
        Bytes of content that were read.
    """

    inventory: Inventory | None
    problems: tuple[Problem, ...]
    bytes: int

    @property
    def errors(self) -> tuple[Problem, ...]:
        """The broken rules."""
        return tuple(problem for problem in self.problems if problem.is_error)

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """The recommendations that were not followed."""
        return tuple(problem for problem in self.problems if not problem.is_error)

    @property
    def is_valid(self) -> bool:
        """Whether the object is a valid OCFL object."""
        return not self.errors


def read_object(root: Path) -> Reading:
    """Read an object whole, its content included, and check it.

    Parameters
    ----------
    root : Path
        The object's root folder.

    Returns
    -------
    Reading
        Never raises for a bad object: what is wrong stands in its problems.

    Notes
    -----
    Each content file is read once, whatever the number of digests kept of it. Links are refused
    and never followed (E090).
    """
    reader = _Reader(root)
    reader.read()
    return Reading(reader.inventory, tuple(reader.problems), reader.bytes)


class _Reader:
    """One walk through one object."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.problems: list[Problem] = []
        self.inventory: Inventory | None = None
        self.spec = ""
        self.bytes = 0
        self.content: set[str] = set()
        self.expected: _Expected = defaultdict(set)

    def complain(self, code: str, path: str, message: str) -> None:
        self.problems.append(Problem(code, path, message))

    def read(self) -> None:
        if not self.root.is_dir() or self.root.is_symlink():
            self.complain("E003", ".", "there is no object here")
            return
        self._read_declaration()
        found = self._read_inventory(self.root)
        if found is None:
            self.complain("E063", ".", "has no inventory.json")
            return
        self.inventory = found
        if self.spec and found.spec and found.spec != self.spec:
            self.complain(
                "E038", "inventory.json", f"is of OCFL {found.spec}, the object of {self.spec}"
            )
        self._check_root_entries(found)
        olds = [self._read_version(name, found) for name in found.versions]
        self._check_specs([old for old in olds if old], found)
        self._check_content(found)

    def _entries(self, folder: Path) -> Iterator[Path]:
        """Give the folder's entries in order, without its links."""
        for entry in sorted(folder.iterdir()):
            if entry.is_symlink() or not (entry.is_file() or entry.is_dir()):
                self.complain("E090", self._name(entry), "is a link or a device, not a file")
            else:
                yield entry

    def _name(self, path: Path) -> str:
        return path.relative_to(self.root).as_posix()

    def _read_declaration(self) -> None:
        found = [entry for entry in self._entries(self.root) if entry.name.startswith("0=")]
        if len(found) != 1:
            self.complain("E003", ".", f"holds {len(found)} version declarations, not one")
            return
        name = found[0].name
        spec = name.removeprefix("0=ocfl_object_")
        if spec == name or spec not in SPECS:
            self.complain("E004", name, "declares no version of OCFL that is known here")
            return
        self.spec = spec
        if found[0].read_bytes() != f"ocfl_object_{spec}\n".encode():
            self.complain("E007", name, "does not hold what its name says")

    def _read_inventory(self, folder: Path) -> Inventory | None:
        """Read and check an inventory and the digest file beside it; None where there is none."""
        path = folder / "inventory.json"
        if path.is_symlink() or not path.is_file():
            return None
        name = self._name(path)
        inventory = read_inventory(path.read_bytes(), name)
        self.problems += inventory.problems
        # One that cannot be read names no algorithm: its digest file still says what it was.
        beside = [each for each in MAIN_DIGESTS if (folder / f"inventory.json.{each}").is_file()]
        for algorithm in [inventory.algorithm] if inventory.algorithm else beside:
            self._check_sidecar(path, path.with_name(f"inventory.json.{algorithm}"), algorithm)
        return inventory

    def _check_sidecar(self, path: Path, sidecar: Path, algorithm: str) -> None:
        if sidecar.is_symlink() or not sidecar.is_file():
            self.complain("E058", self._name(sidecar), "is missing")
            return
        match = _SIDECAR.fullmatch(sidecar.read_text("utf-8", "replace"))
        if not match:
            self.complain("E061", self._name(sidecar), "is not 'DIGEST inventory.json'")
        elif match[1].lower() != digests(path, algorithm)[algorithm]:
            self.complain("E060", self._name(sidecar), "is not the digest of its inventory")

    def _check_root_entries(self, inventory: Inventory) -> None:
        allowed = {"inventory.json", f"inventory.json.{inventory.algorithm}"}
        for entry in self._entries(self.root):
            name = entry.name
            if entry.is_file():
                if name not in allowed and not name.startswith("0="):
                    self.complain("E001", name, "is a file that does not belong here")
            elif name == "extensions":
                self._check_extensions(entry)
            elif name == "logs":
                continue
            elif name not in inventory.versions:
                code = "E046" if version_number(name) else "E001"
                self.complain(code, name, "is a folder that the inventory does not know")

    def _check_extensions(self, folder: Path) -> None:
        for entry in self._entries(folder):
            if entry.is_file():
                self.complain("E067", self._name(entry), "is a file among the extensions")
            elif not _REGISTERED.fullmatch(entry.name):
                self.complain("W013", self._name(entry), "is no registered extension")

    def _read_version(self, name: str, root: Inventory) -> Inventory | None:
        """Read one version's folder; give its own inventory where it is an older one."""
        folder = self.root / name
        if folder.is_symlink() or not folder.is_dir():
            self.complain("E010", name, "has no folder")
            return None
        old = None
        algorithm = ""
        if name == root.head:
            if self._check_head(folder, root):
                algorithm = root.algorithm
        else:
            old = self._read_inventory(folder)
            if old is None:
                self.complain("W010", name, "has no inventory of its own")
            else:
                algorithm = old.algorithm
        self._check_version_entries(folder, root, algorithm)
        if old is not None:
            self._check_older(name, old, root)
        return old

    def _check_version_entries(self, folder: Path, root: Inventory, algorithm: str) -> None:
        content = root.content_directory or "content"
        allowed = {"inventory.json", f"inventory.json.{algorithm}"} if algorithm else set()
        for entry in self._entries(folder):
            if entry.is_dir() and entry.name == content:
                if not self._read_content(entry):
                    self.complain("W003", self._name(entry), "is an empty content folder")
            elif entry.is_dir():
                self.complain("W002", self._name(entry), "is no content folder")
            elif entry.name not in allowed:
                self.complain("E015", self._name(entry), "is a file outside the content folder")

    def _read_content(self, folder: Path) -> int:
        """Note every file under the folder and give their number."""
        found = 0
        for entry in self._entries(folder):
            if entry.is_dir():
                below = self._read_content(entry)
                if not below:
                    self.complain("E024", self._name(entry), "is an empty folder")
                found += below
            else:
                self.content.add(self._name(entry))
                found += 1
        return found

    def _check_head(self, folder: Path, root: Inventory) -> bool:
        """Hold the latest version's inventory against the root's; False where there is none."""
        path = folder / "inventory.json"
        if path.is_symlink() or not path.is_file():
            self.complain("W010", folder.name, "has no inventory of its own")
            return False
        name = self._name(path)
        if path.read_bytes() != (self.root / "inventory.json").read_bytes():
            self.complain("E064", name, "differs from the inventory in the root")
            own = read_inventory(path.read_bytes(), name)
            if own.head != folder.name:
                self.complain("E040", name, f"has the head {own.head!r}")
        elif root.algorithm:
            sidecar = path.with_name(f"inventory.json.{root.algorithm}")
            self._check_sidecar(path, sidecar, root.algorithm)
        return True

    def _check_older(self, name: str, old: Inventory, root: Inventory) -> None:
        """Hold an earlier inventory against the current one."""
        where = old.where
        if old.id and old.id != root.id:
            self.complain("E037", where, f"has another id: {old.id!r}")
        if old.head and old.head != name:
            self.complain("E040", where, f"has the head {old.head!r}")
        if old.content_directory != root.content_directory:
            self.complain("E019", where, "names another content directory")
        for version, state in old.states.items():
            if version not in root.states:
                self.complain("E066", where, f"knows {version}, which the current one does not")
            elif not _same_state(state, old, root.states[version], root):
                self.complain("E066", where, f"gives {version} another state than the current one")
            facts = [
                {key: each.versions[version].get(key) for key in ("created", "message", "user")}
                for each in (old, root)
                if version in each.versions
            ]
            if len(facts) == 2 and facts[0] != facts[1]:
                self.complain("W011", where, f"tells the story of {version} otherwise")
        self._expect(old)

    def _check_specs(self, olds: Iterable[Inventory], root: Inventory) -> None:
        specs = [inventory.spec for inventory in [*olds, root] if inventory.spec]
        if specs != sorted(specs, key=lambda spec: tuple(map(int, spec.split(".")))):
            self.complain("E103", ".", f"its versions go back to an older OCFL: {specs}")

    def _expect(self, inventory: Inventory) -> None:
        """Note what an inventory says of the files, and miss those that it should name."""
        where = inventory.where
        for path, digest in inventory.content_paths.items():
            self.expected[path].add((inventory.algorithm, digest, "E092"))
        for algorithm, block in inventory.fixity.items():
            for digest, paths in block.items():
                for path in paths:
                    self.expected[path].add((algorithm, digest, "E093"))
        head = version_number(inventory.head) or 0
        due = {
            path
            for path in self.content
            if (version_number(path.split("/", maxsplit=1)[0]) or 0) <= head
        }
        for path in sorted(due - inventory.content_paths.keys()):
            self.complain("E023", path, f"is a file that {where} does not name")

    def _check_content(self, root: Inventory) -> None:
        self._expect(root)
        for path in sorted(self.expected):
            expected = {each for each in self.expected[path] if each[0]}
            if path not in self.content:
                for code in sorted({code for _, _, code in self.expected[path]}):
                    self.complain(code, path, "is named, but there is no such file")
                continue
            file = self.root / path
            try:
                found = digests(file, *{algorithm for algorithm, _, _ in expected})
                self.bytes += file.stat().st_size
            except OSError as fault:
                self.complain("E092", path, f"cannot be read: {fault.strerror}")
                continue
            for algorithm, digest, code in sorted(expected):
                if found[algorithm] != digest:
                    self.complain(code, path, f"has another {algorithm} than the inventory says")


def _same_state(
    old_state: dict[str, str], old: Inventory, new_state: dict[str, str], new: Inventory
) -> bool:
    """Whether two states hold the same files, though perhaps under different digests."""
    if old_state.keys() != new_state.keys():
        return False
    if old.algorithm == new.algorithm:
        return old_state == new_state
    # Under another algorithm the digests cannot be compared, but the files they stand for can.
    return all(
        set(old.manifest.get(digest, ())) <= set(new.manifest.get(new_state[path], ()))
        for path, digest in old_state.items()
    )
