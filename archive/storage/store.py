"""The store on a disk: one OCFL 1.1 object per version of a dataset, written once.

Plain files, readable with no database: an object's inventory says in JSON what it holds and with
which digests. An object is made beside the storage root, read back, and renamed into it whole, so
that a crash leaves it absent or complete.

References
----------
Oxford Common File Layout Specification 1.1; OCFL Community Extension 0003.
"""

import errno
import hashlib
import os
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from pathlib import Path, PurePosixPath
from typing import IO

from archive.storage import layout
from archive.storage.contract import Manifest, Problem, Scrubbed, StoredFile
from archive.storage.disk import digests, in_words, settle, write_file
from archive.storage.inventory import Inventory, read_inventory
from archive.storage.making import copy_in, seal, settle_tree
from archive.storage.names import check_paths
from archive.storage.reader import read_object
from archive.storage.tree import prune, prune_all, walk
from archive.storage.workbench import Workbench
from registry.errors import Conflict, StoreFailed, Unseen

SYSTEM_ADDRESS = "urn:x-strandline:archive"
"""Address noted for one who publishes and has no address of their own to be noted."""

_TRIES = 8
_TAKEN = frozenset({errno.ENOTEMPTY, errno.EEXIST})


@dataclass(frozen=True)
class Store:
    """A write-once store in an OCFL storage root.

    Parameters
    ----------
    root : Path
        The storage root. It is made with the first object.
    staging : Path, optional
        Where objects are made; it must lie on the same file system. By default a folder beside
        the root, named after it with ".staging".

    Notes
    -----
    `archive.storage.contract.VersionStore` says what a store promises.
    """

    root: Path
    staging: Path | None = None

    @property
    def workbench(self) -> Workbench:
        """Where objects are made."""
        return Workbench(self.staging or self.root.with_name(f"{self.root.name}.staging"))

    def publish(
        self,
        object_id: str,
        files: Mapping[str, Path],
        *,
        message: str,
        user_name: str,
        created: datetime,
        user_address: str = SYSTEM_ADDRESS,
        expected: Mapping[str, str] | None = None,
    ) -> Manifest:
        """Store the files as one object, once, and give its manifest.

        Parameters
        ----------
        object_id : str
            Identifier of the version; a URI (an ARK is one).
        files : mapping of str to Path
            Path inside the object to the file whose bytes are copied there.
        message, user_name, user_address : str
            Why, by whom, and a URI of that person or system. They are kept for ever: a person
            who may one day ask to be forgotten is named by a code.
        created : datetime
            When, with its time zone.
        expected : mapping of str to str, optional
            Path inside the object to the sha256 that the file had when it was received.

        Raises
        ------
        Conflict
            When another object is stored under that identifier.
        Unsound
            When a path is unsound, or a file is no longer what was expected.
        StoreFailed
            When the disk will not take it. Nothing half-written is left.
        """
        if created.utcoffset() is None:
            raise ValueError("created must say its time zone")
        if not object_id or not files:
            raise ValueError("an object needs an identifier and at least one file")
        check_paths(files)
        with in_words("The version could not be stored."):
            if self._holds(object_id):
                return self._same(object_id, files)
            self._prepare()
            with self.workbench.lent() as bench:
                staged = bench / "object"
                contents = copy_in(files, staged, expected or {})
                self._reached("copied")
                user = {"name": user_name, "address": user_address}
                seal(staged, object_id, contents, message=message, user=user, created=created)
                self._reached("sealed")
                self._read_back(staged)
                self._reached("read back")
                if not self._move_in(staged, bench, layout.place_of(object_id)):
                    return self._same(object_id, files)
                self._reached("renamed")
            return self.manifest(object_id)

    def _reached(self, step: str) -> None:
        """Do nothing: here a test cuts the thread of the work."""

    def _path(self, object_id: str) -> Path:
        return self.root / layout.place_of(object_id)

    def _holds(self, object_id: str) -> bool:
        return self._path(object_id).is_dir()

    def _same(self, object_id: str, files: Mapping[str, Path]) -> Manifest:
        """Give the stored object's manifest if it holds just these files."""
        stored = self.manifest(object_id)
        held = {file.logical: file.sha512 for file in stored.files}
        if held.keys() != files.keys() or any(
            digests(path, "sha512")["sha512"] != held[logical] for logical, path in files.items()
        ):
            raise Conflict(
                "This version was not stored.",
                f"Another one is already kept as {object_id}, and a stored version is never"
                " written over.",
                "Give the new files a new version.",
            )
        return stored

    def _prepare(self) -> None:
        """Make the storage root where there is none; refuse one that is not ours."""
        self.root.parent.mkdir(parents=True, exist_ok=True)
        if self._is_ready():
            return
        with self.workbench.lent() as bench:
            made = bench / "root"
            for name, content in layout.root_files().items():
                (made / name).parent.mkdir(parents=True, exist_ok=True)
                write_file(made / name, content)
            settle_tree(made)
            try:
                made.rename(self.root)
            except OSError as fault:
                if fault.errno not in _TAKEN:
                    raise
            settle(self.root.parent)
        if not self._is_ready():
            raise StoreFailed(
                "The version could not be stored.",
                f"The folder {self.root.name!r} holds other things and is no store of ours.",
                "Tell the administrator: the store's folder must be new, or be one that this"
                " program made.",
            )

    def _is_ready(self) -> bool:
        return all(
            (self.root / name).is_file() and (self.root / name).read_bytes() == content
            for name, content in layout.root_files().items()
        )

    @staticmethod
    def _read_back(staged: Path) -> None:
        """Read the whole object again before anyone can see it."""
        faults = read_object(staged).errors
        if faults:
            raise StoreFailed(
                "The version could not be stored.",
                f"Read back from the disk it was not what had been written ({faults[0]}).",
                "Nothing was kept. Tell the administrator: the disk may be failing.",
            )

    def _move_in(self, staged: Path, bench: Path, place: PurePosixPath) -> bool:
        """Rename the object into the root; False where one was put there first.

        The highest folder that is missing is renamed with all below it, so that one rename makes
        the whole path: the root never shows an empty folder, which OCFL forbids.
        """
        for attempt in range(_TRIES):
            missing = self._first_missing(place)
            if missing is None:
                return False
            carrier = staged
            if missing != place:
                carrier = bench / f"carrier-{attempt}"
                inside = carrier / place.relative_to(missing)
                inside.parent.mkdir(parents=True)
                staged.rename(inside)
                settle_tree(carrier, into_objects=False)
                staged = inside
            try:
                carrier.rename(self.root / missing)
            except OSError as fault:
                # Someone made or pruned a folder of the path meanwhile: look again.
                if fault.errno not in _TAKEN | {errno.ENOENT}:
                    raise
                continue
            settle((self.root / missing).parent)
            return True
        raise StoreFailed(
            "The version could not be stored.",
            "Others were changing the same part of the store.",
            "Try again in a moment.",
        )

    def _first_missing(self, place: PurePosixPath) -> PurePosixPath | None:
        for folder in [*reversed(place.parents[:-1]), place]:
            if not (self.root / folder).is_dir():
                return folder
        return None

    def manifest(self, object_id: str) -> Manifest:
        """Say what the object holds.

        Raises
        ------
        Unseen
            When there is no such object.
        StoreFailed
            When its inventory cannot be trusted.
        """
        inventory = self._inventory(object_id)
        sha256 = {
            path: digest
            for digest, paths in inventory.fixity.get("sha256", {}).items()
            for path in paths
        }
        files = []
        for logical, sha512 in sorted(inventory.states[inventory.head].items()):
            content = self._content(inventory, logical)
            try:
                size = (self._path(object_id) / content).stat().st_size
            except FileNotFoundError:
                raise _damaged(object_id, f"{logical} is missing") from None
            files.append(StoredFile(logical, size, sha256.get(content, ""), sha512))
        return Manifest(object_id, tuple(files))

    def _inventory(self, object_id: str) -> Inventory:
        path = self._path(object_id) / "inventory.json"
        try:
            content = path.read_bytes()
            sidecar = path.with_name("inventory.json.sha512").read_text("ascii", "replace")
        except FileNotFoundError:
            if self._holds(object_id):
                raise _damaged(object_id, "its inventory is missing") from None
            raise Unseen(
                "There is no such version in the store.",
                f"Nothing is kept as {object_id}.",
                "Check the identifier.",
            ) from None
        if sidecar.split()[:1] != [hashlib.sha512(content).hexdigest()]:
            raise _damaged(object_id, "its inventory is not what was written")
        inventory = read_inventory(content)
        if not inventory.is_sound or inventory.id != object_id:
            raise _damaged(object_id, "its inventory is unsound")
        return inventory

    @staticmethod
    def _content(inventory: Inventory, logical: str) -> str:
        """Give the content path of a logical path; the one of the same name where there is one."""
        paths = inventory.manifest[inventory.states[inventory.head][logical]]
        own = f"v1/content/{logical}"
        return own if own in paths else paths[0]

    def path(self, object_id: str, logical: str) -> Path:
        """Give the path on disk of one of the object's files, to be read and never written.

        Raises
        ------
        Unseen
            When there is no such object, or it has no such file.
        """
        inventory = self._inventory(object_id)
        if logical not in inventory.states[inventory.head]:
            raise Unseen(
                "There is no such file in this version.",
                f"{object_id} holds no {logical!r}.",
                "See the version's list of files.",
            )
        return self._path(object_id) / self._content(inventory, logical)

    def open_file(self, object_id: str, logical: str) -> IO[bytes]:
        """Open one of the object's files to read its very bytes.

        Raises
        ------
        Unseen
            When there is no such object, or it has no such file.
        StoreFailed
            When the file should be there and is not.
        """
        path = self.path(object_id, logical)
        try:
            handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW)
        except OSError as fault:
            raise _damaged(object_id, f"{logical} cannot be opened: {fault.strerror}") from fault
        return os.fdopen(handle, "rb")

    def verify(self, object_id: str) -> list[Problem]:
        """Read every byte of the object again and give what is wrong with it.

        Returns
        -------
        list of Problem
            Empty when all is well. Never raises for a bad object.
        """
        return list(self._scrub_one(self._path(object_id), object_id).problems)

    def _scrub_one(self, path: Path, object_id: str | None) -> Scrubbed:
        relative = path.relative_to(self.root).as_posix()
        try:
            reading = read_object(path)
        except OSError as fault:
            problem = Problem("E063", ".", f"cannot be read: {fault.strerror}")
            return Scrubbed(object_id or "", relative, 0, (problem,))
        problems = list(reading.problems)
        found = reading.inventory.id if reading.inventory else ""
        if object_id is not None and found and found != object_id:
            problems.append(Problem("E083", ".", f"says that it is {found!r}"))
        if found and layout.place_of(found).as_posix() != relative:
            problems.append(Problem("E083", ".", f"lies at {relative}, where it does not belong"))
        return Scrubbed(object_id or found, relative, reading.bytes, tuple(problems))

    def scrub(self, *, after: str = "", most: int | None = None) -> Iterator[Scrubbed]:
        """Verify every object in turn, in the order of their paths.

        Parameters
        ----------
        after : str
            Go on behind this path (`Scrubbed.path` of the last one read).
        most : int, optional
            Stop after so many.

        Yields
        ------
        Scrubbed
            One per object; also one for whatever lies in the root and does not belong there.
        """
        yield from islice(self._scrub(after), most)

    def _scrub(self, after: str) -> Iterator[Scrubbed]:
        for path, stray in walk(self.root):
            place = PurePosixPath(path.relative_to(self.root))
            if place.parts <= PurePosixPath(after).parts:
                continue
            if stray:
                yield Scrubbed("", str(place), 0, (stray,))
            else:
                yield self._scrub_one(path, None)

    def object_ids(self) -> Iterator[str]:
        """Give the identifier of every object, as its own inventory says it."""
        for path, stray in walk(self.root):
            inventory = path / "inventory.json"
            if not stray and inventory.is_file():
                yield read_inventory(inventory.read_bytes()).id

    def erase(self, object_id: str) -> None:
        """Remove the object and every byte of it; it leaves the store in one step.

        Raises
        ------
        Unseen
            When there is no such object.
        StoreFailed
            When the disk will not let it go.
        """
        with in_words("The version could not be erased."):
            if not self._holds(object_id):
                raise Unseen(
                    "There is nothing to erase.",
                    f"Nothing is kept as {object_id}.",
                    "Check the identifier.",
                )
            path = self._path(object_id)
            with self.workbench.lent() as bench:
                path.rename(bench / "erased")
                settle(path.parent)
                self._reached("taken out")
                shutil.rmtree(bench / "erased")
            prune(path.parent, self.root)

    def sweep_staging(self, *, older_than_s: float = 3600) -> int:
        """Remove what broken-off work has left, and say how many pieces that was.

        Parameters
        ----------
        older_than_s : float
            Leave alone what is younger than so many seconds. Work in progress is locked and is
            left alone whatever its age.
        """
        with in_words("The store could not be swept."):
            swept = self.workbench.sweep(older_than_s=older_than_s)
            prune_all(self.root)
        return swept


def _damaged(object_id: str, why: str) -> StoreFailed:
    return StoreFailed(
        f"The version {object_id} cannot be read.",
        f"In the store {why}.",
        "Tell the administrator: it must be restored from the second copy.",
    )
