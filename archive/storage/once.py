"""What a store does alike on a disk and in a bucket: it writes once, and reads in turn."""

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from datetime import datetime
from itertools import islice
from pathlib import Path

from archive.storage.contract import SYSTEM_ADDRESS, Manifest, Scrubbed
from archive.storage.disk import in_words
from archive.storage.inventory import Inventory
from archive.storage.making import check_request, make_object
from archive.storage.trusting import same_object, trusted
from archive.storage.workbench import Workbench


class WriteOnce(ABC):
    """A store in an OCFL storage root; where its bytes lie, its kinds say."""

    @property
    @abstractmethod
    def workbench(self) -> Workbench:
        """Where objects are made."""

    @abstractmethod
    def holds(self, object_id: str) -> bool:
        """Say whether there is an object of that identifier, whatever its condition."""

    @abstractmethod
    def manifest(self, object_id: str) -> Manifest:
        """Say what the object holds."""

    @abstractmethod
    def _prepare(self) -> None:
        """Make the storage root where there is none; refuse one that is not ours."""

    @abstractmethod
    def _take_in(self, staged: Path, object_id: str) -> bool:
        """Put a whole object in its place; False where one was there first."""

    @abstractmethod
    def _as_kept(self, object_id: str) -> tuple[bytes, str]:
        """Read the object's inventory, and the digest beside it."""

    @abstractmethod
    def _scrub(self, after: str) -> Iterator[Scrubbed]:
        """Verify every object behind a place."""

    def _reached(self, step: str) -> None:  # noqa: B027  # only tests do something here
        """Do nothing: here a test cuts the thread of the work."""

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
            When the medium will not take it. Nothing half-written is left.
        """
        check_request(object_id, files, created)
        with in_words("The version could not be stored."):
            if self.holds(object_id):
                return same_object(self.manifest(object_id), files)
            self._prepare()
            with self.workbench.lent() as bench:
                staged = bench / "object"
                make_object(
                    staged,
                    object_id,
                    files,
                    message=message,
                    user={"name": user_name, "address": user_address},
                    created=created,
                    expected=expected or {},
                    reached=self._reached,
                )
                if not self._take_in(staged, object_id):
                    return same_object(self.manifest(object_id), files)
            return self.manifest(object_id)

    def _inventory(self, object_id: str) -> Inventory:
        return trusted(object_id, *self._as_kept(object_id))

    def seal_of(self, object_id: str) -> str:
        """Give the sha512 of the object's inventory, which speaks for every byte of it.

        Raises
        ------
        Unseen
            When there is no such object.
        StoreFailed
            When its inventory cannot be trusted.
        """
        content, sidecar = self._as_kept(object_id)
        trusted(object_id, content, sidecar)
        return sidecar.split()[0]

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
