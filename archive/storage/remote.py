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
from collections import defaultdict
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

_INVENTORY = "inventory.json"
_DEPTH = layout.TUPLES + 1
_STORED = "The version could not be stored."
_READ = "The version could not be read."


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

    def _key(self, path: str, top: str = "") -> str:
        prefix = self.bucket.address.prefix
        return "/".join(part for part in (f"{prefix}{top}", path) if part)

    def _root(self, object_id: str) -> str:
        return self._key(layout.place_of(object_id).as_posix())

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
        root = self._root(object_id)
        names = [
            path.relative_to(staged).as_posix()
            for path in sorted(staged.rglob("*"))
            if path.is_file()
        ]
        for name in names:
            if name != _INVENTORY:
                self._put(root, staged, name, object_id)
        self._reached("copied")
        is_first = self.bucket.put_once(f"{root}/{_INVENTORY}", staged / _INVENTORY, what=_STORED)
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
            if self.bucket.put_once(self._key(name), content, what=_STORED):
                continue
            if self.bucket.read(self._key(name), what=_STORED) != content:
                raise StoreFailed(
                    _STORED,
                    f"{self.where} holds other things and is no store of ours.",
                    "Tell the administrator: the store's place must be new, or be one that this"
                    " program made.",
                )

    # --------------------------------------------------------------------------- reading

    def holds(self, object_id: str) -> bool:
        """Say whether there is an object of that identifier, whatever its condition."""
        return self.bucket.size(f"{self._root(object_id)}/{_INVENTORY}", what=_READ) is not None

    def _as_kept(self, object_id: str) -> tuple[bytes, str]:
        root = self._root(object_id)
        content = self.bucket.read(f"{root}/{_INVENTORY}", what=_READ)
        if content is None:
            raise absent(object_id)
        sidecar = self.bucket.read(f"{root}/{_INVENTORY}.sha512", what=_READ)
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
        root = self._root(object_id)
        sizes = {one.key: one.bytes for one in self.bucket.listing(f"{root}/", what=_READ)}
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
        size = self.bucket.size(key, what=_READ)
        if size is None:
            raise damaged(object_id, f"{logical} is missing")
        return io.BufferedReader(Opened(self.bucket, key, size, what=_READ), 1 << 18)

    def _content_key(self, object_id: str, logical: str) -> str:
        return f"{self._root(object_id)}/{content_path(self._inventory(object_id), logical)}"

    @contextmanager
    def local(self, object_id: str, logical: str) -> Iterator[Path]:
        """Fetch one of the object's files to this machine, and lend it.

        Raises
        ------
        Unseen
            When there is no such object, or it has no such file.
        """
        key = self._content_key(object_id, logical)
        with in_words(_READ), self.workbench.lent() as bench:
            place = bench / PurePosixPath(logical).name
            self.bucket.copy_to(key, place, what=_READ)
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
        with in_words(_READ), self._fetched(self._root(object_id)) as folder:
            yield folder

    @contextmanager
    def _fetched(self, root: str) -> Iterator[Path]:
        with self.workbench.lent() as bench:
            folder = bench / "object"
            folder.mkdir()
            for one in self.bucket.listing(f"{root}/", what=_READ):
                place = folder / one.key.removeprefix(f"{root}/")
                if folder not in place.resolve().parents:
                    continue  # a key that climbs out is none of ours; the reading will lack it
                place.parent.mkdir(parents=True, exist_ok=True)
                self.bucket.copy_to(one.key, place, what=_READ)
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
            with self._fetched(self._key(place)) as folder:
                return judged(read_object(folder), place, object_id)
        except (Refusal, OSError) as fault:
            why = fault.why if isinstance(fault, Refusal) else str(fault.strerror)
            problem = Problem("E063", ".", f"cannot be read: {why}")
            return Scrubbed(object_id or "", place, 0, (problem,))

    def _scrub(self, after: str) -> Iterator[Scrubbed]:
        behind = PurePosixPath(after).parts
        for place, found in self._places().items():
            if PurePosixPath(place).parts <= behind:
                continue
            if len(PurePosixPath(place).parts) != _DEPTH:
                stray = Problem("E072", ".", "is a key among the store's objects")
                yield Scrubbed("", place, 0, (stray,))
            elif self._is_whole(place, found):
                yield self._scrub_one(place, None)

    def _places(self) -> dict[str, list[Found]]:
        """Give the keys of the bucket by the object's place, in the order of the places."""
        ours = {self._key(name) for name in layout.root_files()}
        found: dict[str, list[Found]] = defaultdict(list)
        top = self._key("")
        for one in self.bucket.listing(f"{top}/" if top else "", what=_READ):
            parts = PurePosixPath(one.key.removeprefix(f"{top}/") if top else one.key).parts
            if one.key not in ours:
                found["/".join(parts[:_DEPTH])].append(one)
        return dict(sorted(found.items(), key=lambda pair: PurePosixPath(pair[0]).parts))

    def _is_whole(self, place: str, found: list[Found]) -> bool:
        return any(one.key == self._key(f"{place}/{_INVENTORY}") for one in found)

    def object_ids(self) -> Iterator[str]:
        """Give the identifier of every object."""
        for place, found in self._places().items():
            if not self._is_whole(place, found):
                continue
            said = unquote(PurePosixPath(place).name)
            if layout.place_of(said).as_posix() != place:  # a name that was cut
                content = self.bucket.read(self._key(f"{place}/{_INVENTORY}"), what=_READ)
                said = read_inventory(content or b"").id
            yield said

    def age_s(self, object_id: str) -> float:
        """Give how long ago the object was stored, in seconds.

        Raises
        ------
        Unseen
            When there is no such object.
        """
        key = f"{self._root(object_id)}/{_INVENTORY}"
        for one in self.bucket.listing(key, what=_READ, most=1):
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
        with in_words(what), self._fetched(self._root(object_id)) as folder:
            if not any(folder.iterdir()):
                raise absent(object_id)
            stem = layout.place_of(object_id).name
            taken = [name for name in self.set_aside_names() if name.rpartition(".")[0] == stem]
            name = f"{stem}.{len(taken) + 1}"
            top = self._key(name, ".aside")
            for path in sorted(folder.rglob("*")):
                if path.is_file():
                    key = f"{top}/{path.relative_to(folder).as_posix()}"
                    self.bucket.put_once(key, path, what=what)
            self._reached("set aside")
            self._remove_object(self._root(object_id), what=what)
        return name

    def set_aside_names(self) -> list[str]:
        """Give the names of what was set aside."""
        top = self._key("", ".aside")
        keys = self.bucket.listing(f"{top}/", what=_READ)
        return sorted({one.key.removeprefix(f"{top}/").partition("/")[0] for one in keys})

    def _remove_object(self, root: str, *, what: str) -> None:
        """Remove an object: its inventory first, so that it is gone at once."""
        keys = [one.key for one in self.bucket.listing(f"{root}/", what=what)]
        for key in sorted(keys, key=lambda key: key != f"{root}/{_INVENTORY}"):
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
        roots = [self._root(object_id)] + [
            self._key(name, ".aside")
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
        for place, found in self._places().items():
            youngest = min(_age_s(one) for one in found)
            is_left = len(PurePosixPath(place).parts) == _DEPTH and not self._is_whole(place, found)
            if is_left and youngest >= older_than_s and place not in kept:
                self._remove_object(self._key(place), what=what)
                swept += 1
        return swept

    def fault(self) -> str:
        """Say why the store would take nothing; nothing where it would."""
        key = self._key("trial", ".trial")
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
