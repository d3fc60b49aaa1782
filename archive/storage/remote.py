"""The store in a bucket of an object store that speaks S3: the same objects under the same names.

An object store has no rename. So an object's files are put first, under keys that nothing lists;
each is fetched back and held against its digest; and the inventory in its root comes last, put
only where there is none. An object is there from that moment on, and not before. What a broken-off
work has left has no inventory in its root, is no object, and is swept.

References
----------
Oxford Common File Layout Specification 1.1, section 4 on storage roots without folders; OCFL
Community Extension 0003.
"""

import io
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO
from urllib.parse import unquote

from archive.storage import layout
from archive.storage.bucket import Bucket, Found, Opened
from archive.storage.contract import Manifest, Problem, Scrubbed
from archive.storage.disk import digests, in_words
from archive.storage.inventory import read_inventory
from archive.storage.keys import DEPTH, INVENTORY, READ, Keys
from archive.storage.making import read_back
from archive.storage.once import WriteOnce
from archive.storage.reader import read_object
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
from registry.errors import Conflict, Refusal, StoreFailed

_STORED = "The version could not be stored."


@dataclass(frozen=True)
class RemoteStore(WriteOnce):
    """A write-once store in an OCFL storage root inside a bucket.

    Parameters
    ----------
    bucket : Bucket
        The bucket, and how its keys begin.
    staging : Path
        A folder of this machine, in which objects are made and to which they are fetched.

    Notes
    -----
    `archive.storage.contract.VersionStore` says what a store promises.
    """

    bucket: Bucket
    staging: Path

    @property
    def workbench(self) -> Workbench:
        """Where objects are made before they are sent, and laid to be read."""
        return Workbench(self.staging)

    @property
    def where(self) -> str:
        """Where it lies, in words and without a secret."""
        return self.bucket.address.said

    @property
    def keys(self) -> Keys:
        """Which keys of the bucket are whose."""
        return Keys(self.bucket)

    # --------------------------------------------------------------------------- writing

    def adopt(self, object_id: str, folder: Path) -> None:
        """Take in a whole object from another store, byte for byte.

        Raises
        ------
        Conflict
            When another object is kept under that identifier.
        StoreFailed
            When it is damaged, or the object store will not take it.
        """
        with in_words("The object could not be copied."):
            read_back(folder, object_id)
            self._prepare()
            if not self._take_in(folder, object_id):
                same_seal(object_id, seal_in(folder), self.seal_of(object_id))

    def _take_in(self, staged: Path, object_id: str) -> bool:
        """Put an object's files, and its inventory last; False where one was there first."""
        root = self.keys.root_of(object_id)
        names = [
            path.relative_to(staged).as_posix()
            for path in sorted(staged.rglob("*"))
            if path.is_file()
        ]
        for name in names:
            if name != INVENTORY:
                self._put(root, staged, name, object_id)
        self._reached("copied")
        is_first = self.bucket.put_once(f"{root}/{INVENTORY}", staged / INVENTORY, what=_STORED)
        self._reached("renamed")
        return is_first

    def _put(self, root: str, folder: Path, name: str, object_id: str) -> None:
        """Put one file, and hold what the store gives back against what was sent."""
        is_new = self.bucket.put_once(f"{root}/{name}", folder / name, what=_STORED)
        with self.workbench.lent() as bench:
            self.bucket.copy_to(f"{root}/{name}", bench / "back", what=_STORED)
            is_same = digests(bench / "back", "sha512") == digests(folder / name, "sha512")
        if is_same:
            return
        if not is_new:
            # What another work has left, or is at this moment writing.
            raise Conflict(
                "This version was not stored.",
                f"Other bytes lie where {name} of {object_id} would lie.",
                "Sweep the store, or give the new files a new version.",
            )
        raise StoreFailed(
            _STORED,
            f"Read back from the object store {name} was not what had been written.",
            "It is shown to nobody. Tell the administrator: the object store may be failing.",
        )

    def _prepare(self) -> None:
        """Make the storage root where there is none; refuse one that is not ours."""
        for name, content in layout.root_files().items():
            if self.bucket.put_once(self.keys.key(name), content, what=_STORED):
                continue
            if self.bucket.read(self.keys.key(name), what=_STORED) != content:
                raise StoreFailed(
                    _STORED,
                    f"{self.where} holds other things and is no store of ours.",
                    "Tell the administrator: the store's place must be new, or be one that this"
                    " program made.",
                )

    # --------------------------------------------------------------------------- reading

    def holds(self, object_id: str) -> bool:
        """Say whether there is an object of that identifier, whatever its condition."""
        return (
            self.bucket.size(f"{self.keys.root_of(object_id)}/{INVENTORY}", what=READ) is not None
        )

    def _as_kept(self, object_id: str) -> tuple[bytes, str]:
        root = self.keys.root_of(object_id)
        content = self.bucket.read(f"{root}/{INVENTORY}", what=READ)
        if content is None:
            raise absent(object_id)
        sidecar = self.bucket.read(f"{root}/{INVENTORY}.sha512", what=READ)
        if sidecar is None:
            raise damaged(object_id, "the digest of its inventory is missing")
        return content, sidecar.decode("ascii", "replace")

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
        root = self.keys.root_of(object_id)
        sizes = {one.key: one.bytes for one in self.bucket.listing(f"{root}/", what=READ)}
        return manifest_of(inventory, lambda content: sizes.get(f"{root}/{content}"))

    def open_file(self, object_id: str, logical: str) -> IO[bytes]:
        """Open one of the object's files to read; what is skipped is not fetched.

        Raises
        ------
        Unseen
            When there is no such object, or it has no such file.
        StoreFailed
            When the file should be there and is not, or the object store does not answer.
        """
        key = self._content_key(object_id, logical)
        size = self.bucket.size(key, what=READ)
        if size is None:
            raise damaged(object_id, f"{logical} is missing")
        return io.BufferedReader(Opened(self.bucket, key, size, what=READ), 1 << 18)

    def _content_key(self, object_id: str, logical: str) -> str:
        return f"{self.keys.root_of(object_id)}/{content_path(self._inventory(object_id), logical)}"

    @contextmanager
    def local(self, object_id: str, logical: str) -> Iterator[Path]:
        """Fetch one of the object's files to this machine, and lend it.

        Raises
        ------
        Unseen
            When there is no such object, or it has no such file.
        """
        key = self._content_key(object_id, logical)
        with in_words(READ), self.workbench.lent() as bench:
            place = bench / PurePosixPath(logical).name
            self.bucket.copy_to(key, place, what=READ)
            yield place

    @contextmanager
    def laid(self, object_id: str) -> Iterator[Path]:
        """Fetch the whole object to this machine as it is, and lend it.

        Raises
        ------
        Unseen
            When there is no such object.
        """
        if not self.holds(object_id):
            raise absent(object_id)
        with in_words(READ), self._fetched(self.keys.root_of(object_id)) as folder:
            yield folder

    @contextmanager
    def _fetched(self, root: str) -> Iterator[Path]:
        with self.workbench.lent() as bench:
            folder = bench / "object"
            folder.mkdir()
            self.keys.fetch(root, folder)
            yield folder

    def verify(self, object_id: str) -> list[Problem]:
        """Read every byte of the object again and give what is wrong with it.

        Returns
        -------
        list of Problem
            Empty when all is well. Never raises for a bad object, nor for a store that is lost.
        """
        return list(self._scrub_one(layout.place_of(object_id).as_posix(), object_id).problems)

    def _scrub_one(self, place: str, object_id: str | None) -> Scrubbed:
        try:
            with self._fetched(self.keys.key(place)) as folder:
                return judged(read_object(folder), place, object_id)
        except (Refusal, OSError) as fault:
            why = fault.why if isinstance(fault, Refusal) else str(fault.strerror)
            problem = Problem("E063", ".", f"cannot be read: {why}")
            return Scrubbed(object_id or "", place, 0, (problem,))

    def _scrub(self, after: str) -> Iterator[Scrubbed]:
        behind = PurePosixPath(after).parts
        for place, found in self.keys.by_place().items():
            if PurePosixPath(place).parts <= behind:
                continue
            if len(PurePosixPath(place).parts) != DEPTH:
                stray = Problem("E072", ".", "is a key among the store's objects")
                yield Scrubbed("", place, 0, (stray,))
            elif self.keys.is_whole(place, found):
                yield self._scrub_one(place, None)

    def object_ids(self) -> Iterator[str]:
        """Give the identifier of every object."""
        for place, found in self.keys.by_place().items():
            if not self.keys.is_whole(place, found):
                continue
            said = unquote(PurePosixPath(place).name)
            if layout.place_of(said).as_posix() != place:  # a name that was cut
                content = self.bucket.read(self.keys.key(f"{place}/{INVENTORY}"), what=READ)
                said = read_inventory(content or b"").id
            yield said

    def age_s(self, object_id: str) -> float:
        """Give how long ago the object was stored, in seconds.

        Raises
        ------
        Unseen
            When there is no such object.
        """
        key = f"{self.keys.root_of(object_id)}/{INVENTORY}"
        for one in self.bucket.listing(key, what=READ, most=1):
            if one.key == key:
                return _age_s(one)
        raise absent(object_id)

    # ------------------------------------------------------- what is taken out, and sweeping

    def set_aside(self, object_id: str) -> str:
        """Take a damaged object out of the store, and keep it as it is under another name.

        Raises
        ------
        Unseen
            When there is no such object.
        """
        what = "The damaged object could not be set aside."
        with in_words(what), self._fetched(self.keys.root_of(object_id)) as folder:
            if not any(folder.iterdir()):
                raise absent(object_id)
            stem = layout.place_of(object_id).name
            taken = [name for name in self.set_aside_names() if name.rpartition(".")[0] == stem]
            name = f"{stem}.{len(taken) + 1}"
            top = self.keys.key(name, ".aside")
            for path in sorted(folder.rglob("*")):
                if path.is_file():
                    key = f"{top}/{path.relative_to(folder).as_posix()}"
                    self.bucket.put_once(key, path, what=what)
            self._reached("set aside")
            self._remove_object(self.keys.root_of(object_id), what=what)
        return name

    def set_aside_names(self) -> list[str]:
        """Give the names of what was set aside."""
        top = self.keys.key("", ".aside")
        keys = self.bucket.listing(f"{top}/", what=READ)
        return sorted({one.key.removeprefix(f"{top}/").partition("/")[0] for one in keys})

    def _remove_object(self, root: str, *, what: str) -> None:
        """Remove an object: its inventory first, so that it is gone at once."""
        keys = [one.key for one in self.bucket.listing(f"{root}/", what=what)]
        for key in sorted(keys, key=lambda key: key != f"{root}/{INVENTORY}"):
            self.bucket.remove(key, what=what)
            self._reached("taken out")

    def erase(self, object_id: str) -> None:
        """Remove the object and every byte of it, also of what was set aside.

        Raises
        ------
        Unseen
            When there is no such object, nor anything left of one.
        StoreFailed
            When the object store will not let it go.
        """
        what = "The version could not be erased."
        stem = layout.place_of(object_id).name
        roots = [self.keys.root_of(object_id)] + [
            self.keys.key(name, ".aside")
            for name in self.set_aside_names()
            if name.rpartition(".")[0] == stem
        ]
        if not any(True for root in roots for _ in self.bucket.listing(f"{root}/", what=what)):
            raise absent(object_id)
        for root in roots:
            self._remove_object(root, what=what)

    def sweep_staging(
        self, *, older_than_s: float = 3600, spoken: Collection[str] = frozenset()
    ) -> int:
        """Remove what broken-off work has left, here and in the bucket, and say how much it was.

        Parameters
        ----------
        older_than_s : float
            Leave alone what is younger than so many seconds.
        spoken : collection of str
            Identifiers of which somebody speaks: one that lost its inventory is no leaving.
        """
        kept = {layout.place_of(one).as_posix() for one in spoken}
        what = "The store could not be swept."
        with in_words(what):
            swept = self.workbench.sweep(older_than_s=older_than_s)
        for place, found in self.keys.by_place().items():
            youngest = min(_age_s(one) for one in found)
            is_left = len(PurePosixPath(place).parts) == DEPTH and not self.keys.is_whole(
                place, found
            )
            if is_left and youngest >= older_than_s and place not in kept:
                self._remove_object(self.keys.key(place), what=what)
                swept += 1
        return swept

    def fault(self) -> str:
        """Say why the store would take nothing; nothing where it would."""
        key = self.keys.key("trial", ".trial")
        with suppress(StoreFailed):
            self.bucket.remove(key, what=_STORED)
        try:
            self.bucket.put_once(key, b"trial", what=_STORED)
            self.bucket.remove(key, what=_STORED)
        except StoreFailed as fault:
            return fault.why.rstrip(".")
        return ""

    def free_bytes(self) -> int | None:
        """Give None: an object store does not say how much room is left."""
        return None


def _age_s(one: Found) -> float:
    # The store's clock is another one, and it may round to the second to come.
    return max(0.0, time.time() - one.modified.timestamp())
