"""What a store of versions gives, whatever it is built on."""

from collections.abc import Collection, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Protocol

SYSTEM_ADDRESS = "urn:x-strandline:archive"
"""Address noted for one who publishes and has no address of their own to be noted."""


@dataclass(frozen=True)
class StoredFile:
    """One file of a stored object.

    Parameters
    ----------
    logical : str
        Its path inside the object, with forward slashes.
    bytes : int
        Its size in bytes.
    sha256, sha512 : str
        Its digests in lower-case hexadecimal.
    """

    logical: str
    bytes: int
    sha256: str
    sha512: str


@dataclass(frozen=True)
class Manifest:
    """What one object holds.

    Parameters
    ----------
    object_id : str
        The identifier of the version, which is the object's name in the store.
    files : tuple of StoredFile
        Its files, sorted by path.
    """

    object_id: str
    files: tuple[StoredFile, ...]

    @property
    def bytes(self) -> int:
        """Size of all its files together, in bytes."""
        return sum(file.bytes for file in self.files)

    def file(self, logical: str) -> StoredFile | None:
        """Give the file of that path, or None."""
        return next((file for file in self.files if file.logical == logical), None)


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with a stored object.

    Parameters
    ----------
    code : str
        OCFL's code of the broken rule (E for an error, W for a warning).
    path : str
        Where it is, inside the object.
    message : str
        What is wrong, in words.
    """

    code: str
    path: str
    message: str

    @property
    def is_error(self) -> bool:
        """Whether the object breaks a rule, not merely a recommendation."""
        return self.code.startswith("E")

    def __str__(self) -> str:
        return f"{self.code} {self.path}: {self.message}"


@dataclass(frozen=True)
class Scrubbed:
    """What reading one object again, byte by byte, has shown.

    Parameters
    ----------
    object_id : str
        The object; empty where it could not even be named.
    path : str
        Where it lies in the store. `scrub(after=path)` goes on behind it.
    bytes : int
        Bytes that were read.
    problems : tuple of Problem
        What is wrong; empty when all is well.
    """

    object_id: str
    path: str
    bytes: int
    problems: tuple[Problem, ...]


class VersionStore(Protocol):
    """The contract of a store, in six promises.

    1. *Whole or absent.* `publish` makes an object appear in one step that cannot be seen half
       done, whatever is killed when. (On a disk: one rename. On an object store, which has no
       rename: content first, under keys that nothing lists; the root inventory last, written with
       If-None-Match, as the commit.)
    2. *Written once.* The same object published again gives the same manifest; a different one
       under the same name is a Conflict. Nothing is ever updated.
    3. *Known before it is shown.* sha256 and sha512 of each file are taken on the way in, read
       back from where they were put, and kept inside the object.
    4. *Read as it was written.* `open_file` streams the very bytes; a name that the object does
       not have is Unseen. `verify` reads everything again and gives every problem, never raising
       for one; `scrub` does so for all objects in a steady order and can go on where it stopped.
    5. *Erased wholly.* `erase` leaves no byte of the object. The tombstone lives elsewhere.
    6. *Failing in words.* A full, read-only, broken or barred medium is StoreFailed; what was
       half-written is gone when it is raised, or is swept by `sweep_staging`, which never touches
       work in progress.
    """

    @property
    def where(self) -> str:
        """Where it lies, in words and without a secret."""
        ...

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
        """Store the files as one object, once."""
        ...

    def adopt(self, object_id: str, folder: Path) -> None:
        """Take in a whole object from another store, byte for byte, once."""
        ...

    def holds(self, object_id: str) -> bool:
        """Say whether there is an object of that identifier, whatever its condition."""
        ...

    def object_ids(self) -> Iterator[str]:
        """Give the identifier of every object."""
        ...

    def age_s(self, object_id: str) -> float:
        """Give how long ago it was stored, in seconds."""
        ...

    def manifest(self, object_id: str) -> Manifest:
        """Say what the object holds."""
        ...

    def seal_of(self, object_id: str) -> str:
        """Give the sha512 of its inventory, which speaks for every byte of it."""
        ...

    def open_file(self, object_id: str, logical: str) -> IO[bytes]:
        """Open one of its files to read and to seek in."""
        ...

    def local(self, object_id: str, logical: str) -> AbstractContextManager[Path]:
        """Lend one of its files on a disk, to be read only."""
        ...

    def laid(self, object_id: str) -> AbstractContextManager[Path]:
        """Lend the whole object on a disk, as it is, to be read only."""
        ...

    def verify(self, object_id: str) -> list[Problem]:
        """Read it all again and say what is wrong."""
        ...

    def scrub(self, *, after: str = "", most: int | None = None) -> Iterator[Scrubbed]:
        """Verify every object in turn."""
        ...

    def set_aside(self, object_id: str) -> str:
        """Take a damaged object out of what is served, keep it as it is, and give its name."""
        ...

    def set_aside_names(self) -> list[str]:
        """Give the names of what was set aside."""
        ...

    def erase(self, object_id: str) -> None:
        """Remove the object and every byte of it, also of what was set aside."""
        ...

    def sweep_staging(
        self, *, older_than_s: float = 3600, spoken: Collection[str] = frozenset()
    ) -> int:
        """Remove what broken-off work has left, and say how many pieces that was."""
        ...

    def fault(self) -> str:
        """Say why the store would take nothing; nothing where it would."""
        ...

    def free_bytes(self) -> int | None:
        """Give how much room is left; None where nobody can say."""
        ...
