"""The store on a disk: one OCFL 1.1 object per version of a dataset, written once.

Plain files, readable with no database: an object's inventory says in JSON what it holds and with
which digests. An object is made beside the storage root, read back, and renamed into it whole, so
that a crash leaves it absent or complete.

References
----------
Oxford Common File Layout Specification 1.1; OCFL Community Extension 0003.
"""

import os
import shutil
import tempfile
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from archive.storage import entering, layout
from archive.storage.contract import Manifest, Problem, Scrubbed
from archive.storage.disk import in_words, settle, standing_folder
from archive.storage.inventory import read_inventory
from archive.storage.making import copy_whole, read_back
from archive.storage.once import WriteOnce
from archive.storage.reader import read_object
from archive.storage.tree import prune, prune_all, walk
from archive.storage.trusting import (
    absent,
    content_path,
    damaged,
    judged,
    manifest_of,
    same_seal,
    seal_in,
)
from archive.storage.workbench import Workbench

_TRIAL_BYTES = 4096


@dataclass(frozen=True)
class Store(WriteOnce):
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

    def adopt(self, object_id: str, folder: Path) -> None:
        """Take in a whole object from another store, byte for byte, in one step.

        Parameters
        ----------
        object_id : str
            Its identifier.
        folder : Path
            Where it lies; it is read back once it is copied, before anyone can see it.

        Raises
        ------
        Conflict
            When another object is kept under that identifier.
        StoreFailed
            When it is damaged, or the disk will not take it. Nothing is left of it.
        """
        with in_words("The object could not be copied."):
            self._prepare()
            with self.workbench.lent() as bench:
                staged = bench / "object"
                copy_whole(folder, staged)
                self._reached("copied")
                read_back(staged, object_id)
                self._reached("read back")
                sealed = seal_in(staged)
                if not self._take_in(staged, object_id):
                    same_seal(object_id, sealed, self.seal_of(object_id))

    def _path(self, object_id: str) -> Path:
        return self.root / layout.place_of(object_id)

    def holds(self, object_id: str) -> bool:
        """Say whether there is an object of that identifier, whatever its condition."""
        return self._path(object_id).is_dir()

    @property
    def where(self) -> str:
        """Where the store lies, in words."""
        return str(self.root)

    def fault(self) -> str:
        """Say why the store would take nothing; nothing where it would."""
        bench = self.workbench.folder
        folder = standing_folder(bench if bench.is_dir() else self.root)
        try:
            with tempfile.TemporaryFile(dir=folder) as trial:
                trial.write(b"\0" * _TRIAL_BYTES)
                trial.flush()
        except OSError as fault:
            return os.strerror(fault.errno) if fault.errno else "it cannot be written to"
        return ""

    def free_bytes(self) -> int | None:
        """Give how much room is left, in bytes."""
        left = os.statvfs(standing_folder(self.root))
        return left.f_bavail * left.f_frsize

    def is_laid(self) -> bool:
        """Say whether the storage root is there, and is ours."""
        return entering.is_laid(self.root)

    def _prepare(self) -> None:
        entering.lay(self.root, self.workbench)

    def _take_in(self, staged: Path, object_id: str) -> bool:
        place = layout.place_of(object_id)
        is_first = entering.move_in(staged, self.root, place, staged.parent)
        if is_first:
            self._reached("renamed")
        return is_first

    def manifest(self, object_id: str) -> Manifest:
        """Say what the object holds.

        Raises
        ------
        Unseen
            When there is no such object.
        StoreFailed
            When its inventory cannot be trusted.
        """
        folder = self._path(object_id)

        def size(content: str) -> int | None:
            return (folder / content).stat().st_size if (folder / content).is_file() else None

        return manifest_of(self._inventory(object_id), size)

    def _as_kept(self, object_id: str) -> tuple[bytes, str]:
        path = self._path(object_id) / "inventory.json"
        try:
            content = path.read_bytes()
            sidecar = path.with_name("inventory.json.sha512").read_text("ascii", "replace")
        except FileNotFoundError:
            if self.holds(object_id):
                raise damaged(object_id, "its inventory is missing") from None
            raise absent(object_id) from None
        return content, sidecar

    def path(self, object_id: str, logical: str) -> Path:
        """Give the path on disk of one of the object's files, to be read and never written.

        Raises
        ------
        Unseen
            When there is no such object, or it has no such file.
        """
        inventory = self._inventory(object_id)
        return self._path(object_id) / content_path(inventory, logical)

    @contextmanager
    def local(self, object_id: str, logical: str) -> Iterator[Path]:
        """Lend one of the object's files on a disk, to be read and never written.

        Raises
        ------
        Unseen
            When there is no such object, or it has no such file.
        """
        yield self.path(object_id, logical)

    @contextmanager
    def laid(self, object_id: str) -> Iterator[Path]:
        """Lend the whole object on a disk, as it is, to be read and never written.

        Raises
        ------
        Unseen
            When there is no such object.
        """
        if not self.holds(object_id):
            raise absent(object_id)
        yield self._path(object_id)

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
            raise damaged(object_id, f"{logical} cannot be opened: {fault.strerror}") from fault
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
        return judged(reading, relative, object_id)

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
            aside = self._aside_of(object_id)
            if not self.holds(object_id) and not aside:
                raise absent(object_id)
            with self.workbench.lent() as bench:
                for number, path in enumerate([self._path(object_id), *aside]):
                    if path.is_dir():
                        path.rename(bench / f"erased-{number}")
                        settle(path.parent)
                        self._reached("taken out")
                        shutil.rmtree(bench / f"erased-{number}")
            prune(self._path(object_id).parent, self.root)

    # -------------------------------------------------------------- what was found damaged

    @property
    def aside(self) -> Path:
        """Where damaged objects are put: beside the root, so that nothing serves them."""
        return self.root.with_name(f"{self.root.name}.aside")

    def _aside_of(self, object_id: str) -> list[Path]:
        name = layout.place_of(object_id).name
        return sorted(path for path in self.aside.glob("*") if path.stem == name)

    def set_aside(self, object_id: str) -> str:
        """Take a damaged object out of the store in one step, and keep it as it is.

        Returns
        -------
        str
            Its name among what was set aside.

        Raises
        ------
        Unseen
            When there is no such object.
        StoreFailed
            When the disk will not have it so.
        """
        with in_words("The damaged object could not be set aside."):
            path = self._path(object_id)
            if not path.is_dir():
                raise absent(object_id)
            self.aside.mkdir(exist_ok=True)
            name = f"{path.name}.{len(self._aside_of(object_id)) + 1}"
            path.rename(self.aside / name)
            settle(self.aside)
            settle(path.parent)
            prune(path.parent, self.root)
        return name

    def set_aside_names(self) -> list[str]:
        """Give the names of what was set aside."""
        return sorted(path.name for path in self.aside.glob("*"))

    # ---------------------------------------------------------------------------- sweeping

    def age_s(self, object_id: str) -> float:
        """Give how long ago the object was stored, in seconds.

        Raises
        ------
        Unseen
            When there is no such object.
        """
        if not self.holds(object_id):
            raise absent(object_id)
        return time.time() - self._path(object_id).stat().st_mtime

    def sweep_staging(
        self,
        *,
        older_than_s: float = 3600,
        spoken: Collection[str] = frozenset(),  # here a leaving is never an object
    ) -> int:
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
