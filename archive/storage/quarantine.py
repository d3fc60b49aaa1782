"""Where uploads wait until they are accepted: streamed in, counted, hashed, and never changed.

The bytes come first and the rows second: a file is whole on the disk before anything speaks of
it. Each round of a deposit has its own folder, so that a corrected upload lies beside the one it
corrects and nothing is written over.
"""

import hashlib
import os
import shutil
import time
import uuid
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, runtime_checkable

from archive.storage.disk import BLOCK, in_words, settle, write_through
from archive.storage.names import check_name
from registry.errors import Conflict, TooLarge, Unseen


@runtime_checkable
class Readable(Protocol):
    """Whatever gives its bytes by read()."""

    def read(self, size: int = -1, /) -> bytes:
        """Give up to so many bytes; none at the end."""
        ...


@dataclass(frozen=True)
class Kept:
    """One file in quarantine.

    Parameters
    ----------
    name : str
        Its name as it was sent.
    bytes : int
        Its size in bytes.
    sha256 : str
        Its digest, taken while it came in, in lower-case hexadecimal.
    path : Path
        Where it lies.
    """

    name: str
    bytes: int
    sha256: str
    path: Path


def deposit_key(deposit: str | int, round_number: int) -> str:
    """Give the key of one round of a deposit.

    Parameters
    ----------
    deposit : str or int
        What names the deposit.
    round_number : int
        1 for the first upload, one more for each correction.

    Examples
    --------
    >>> deposit_key(41, 2)
    '41.r2'
    """
    if round_number < 1:
        raise ValueError("rounds are counted from 1")
    return check_name(f"{deposit}.r{round_number}")


@dataclass(frozen=True)
class Quarantine:
    """Uploads on a disk, by deposit and round.

    Parameters
    ----------
    folder : Path
        Where they lie: <folder>/<key>/received/<sha256>/<name>, and <folder>/<key>/workspace
        for what is unpacked and written while they are checked.
    """

    folder: Path

    @property
    def incoming(self) -> Path:
        """Where a file lies while it is coming in, or while it is going."""
        return self.folder / "incoming"

    def keep(
        self, deposit_key: str, name: str, chunks: Iterable[bytes] | Readable, limit: int
    ) -> Kept:
        """Take in one file.

        Parameters
        ----------
        deposit_key : str
            Key of the deposit's round.
        name : str
            The file's name.
        chunks : iterable of bytes, or an open binary file
            Its content. No more than one chunk is held in memory.
        limit : int
            The most bytes that are taken; counted while they come, whatever was announced.

        Returns
        -------
        Kept
            The same again where the same file was already kept under that name.

        Raises
        ------
        TooLarge
            As soon as there are more bytes than the limit.
        Conflict
            When another file is kept under that name in this round.
        Unsound
            When the name cannot be used.
        StoreFailed
            When the disk will not take it.
        """
        check_name(name)
        received = self._round(deposit_key) / "received"
        with in_words(f"The file {name} could not be kept."):
            self.incoming.mkdir(parents=True, exist_ok=True)
            partial = self.incoming / uuid.uuid4().hex
            try:
                size, sha256 = _stream(partial, _blocks(chunks), limit, name)
                self._check_apart(deposit_key, name, sha256)
                target = received / sha256 / name
                target.parent.mkdir(parents=True, exist_ok=True)
                # The folder's name is the digest: what may lie there already is the same bytes.
                partial.rename(target)
                for folder in (target.parent, received, received.parent, self.folder):
                    settle(folder)
            finally:
                partial.unlink(missing_ok=True)
        return Kept(name, size, sha256, target)

    def _round(self, deposit_key: str) -> Path:
        check_name(deposit_key)
        if deposit_key == self.incoming.name:
            raise ValueError("that key is the quarantine's own")
        return self.folder / deposit_key

    def _check_apart(self, deposit_key: str, name: str, sha256: str) -> None:
        for other in self.listing(deposit_key):
            if other.name.lower() == name.lower() and (other.name, other.sha256) != (name, sha256):
                raise Conflict(
                    f"The file {name} was not kept.",
                    f"Another file is kept as {other.name} in this round, and nothing is written"
                    " over.",
                    "Begin a new round to correct it, or give the file another name.",
                    fields={"name": f"clashes with {other.name}"},
                )

    def listing(self, deposit_key: str) -> list[Kept]:
        """Give the files of one round, by name."""
        received = self._round(deposit_key) / "received"
        if not received.is_dir():
            return []
        found = [
            Kept(path.name, path.stat().st_size, folder.name, path)
            for folder in received.iterdir()
            for path in folder.iterdir()
        ]
        return sorted(found, key=lambda kept: kept.name)

    def workspace(self, deposit_key: str) -> Path:
        """Give the round's folder for what is unpacked and written, and make it."""
        path = self._round(deposit_key) / "workspace"
        with in_words("The upload could not be unpacked."):
            path.mkdir(parents=True, exist_ok=True)
        return path

    def lay_out(self, deposit_key: str) -> Path:
        """Put the round's files side by side under their names, and give the folder.

        Raises
        ------
        Unseen
            When the round has no file.
        """
        kept = self.listing(deposit_key)
        if not kept:
            raise Unseen(
                "There is nothing to check.",
                "This round of the deposit holds no file.",
                "Send the files first.",
            )
        target = self.workspace(deposit_key) / "received"
        with in_words("The upload could not be laid out."):
            target.mkdir(exist_ok=True)
            for file in kept:
                place = target / file.name
                if not place.exists():
                    try:
                        place.hardlink_to(file.path)
                    except OSError:
                        shutil.copyfile(file.path, place)
        return target

    def held_keys(self, *, older_than_s: float = 0) -> list[str]:
        """Give the keys under which something lies that is at least so many seconds old."""
        if not self.folder.is_dir():
            return []
        now = time.time()
        return sorted(
            place.name
            for place in self.folder.iterdir()
            if place != self.incoming and now - place.stat().st_mtime >= older_than_s
        )

    def discard(self, deposit_key: str) -> None:
        """Remove one round, its workspace included; it goes in one step."""
        path = self._round(deposit_key)
        if not path.is_dir():
            return
        with in_words("The upload could not be removed."):
            self.incoming.mkdir(parents=True, exist_ok=True)
            gone = self.incoming / uuid.uuid4().hex
            path.rename(gone)
            settle(self.folder)
            shutil.rmtree(gone)

    def sweep(self, *, older_than_s: float = 86400) -> int:
        """Remove what broken-off uploads have left, and say how many pieces that was."""
        if not self.incoming.is_dir():
            return 0
        swept = 0
        for piece in sorted(self.incoming.iterdir()):
            with suppress(FileNotFoundError):
                if time.time() - piece.stat().st_mtime < older_than_s:
                    continue
                if piece.is_dir():
                    shutil.rmtree(piece)
                else:
                    piece.unlink()
                swept += 1
        return swept


def _blocks(chunks: Iterable[bytes] | Readable) -> Iterator[bytes]:
    # An open file iterates by lines, which may be as long as the file: read it by blocks.
    if isinstance(chunks, Readable):
        while block := chunks.read(BLOCK):
            yield block
    else:
        yield from chunks


def _stream(path: Path, blocks: Iterator[bytes], limit: int, name: str) -> tuple[int, str]:
    """Write the blocks to a new file; give its size and its sha256."""
    running = hashlib.sha256()
    size = 0
    with path.open("xb") as stream:
        for block in blocks:
            size += len(block)
            if size > limit:
                raise TooLarge(
                    f"The file {name} was not kept.",
                    f"It is larger than the limit of {_in_words(limit)}.",
                    "Split it, or leave out what is not data, and send it again.",
                    fields={"name": f"larger than {_in_words(limit)}"},
                )
            running.update(block)
            stream.write(block)
        write_through(stream)
        os.fchmod(stream.fileno(), 0o444)
    return size, running.hexdigest()


def _in_words(size: int) -> str:
    for unit, step in (("GB", 10**9), ("MB", 10**6), ("kB", 10**3)):
        if size >= step:
            return f"{size / step:.3g} {unit}"
    return f"{size} bytes"
