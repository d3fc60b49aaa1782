"""Writing that reaches the disk, and words for a disk that will not take it."""

import errno
import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from registry.errors import StoreFailed

BLOCK = 1024 * 1024
"""Bytes read at a time."""

_WORDS = {
    errno.ENOSPC: "The disk is full.",
    errno.EDQUOT: "The disk quota is used up.",
    errno.EROFS: "The disk is read-only.",
    errno.EFBIG: "The file is larger than this disk allows.",
    errno.EIO: "The disk reported a fault.",
    errno.EACCES: "The program may not write there.",
    errno.EPERM: "The program may not write there.",
    errno.EMFILE: "Too many files are open.",
    errno.ENFILE: "Too many files are open.",
    errno.EXDEV: "The staging folder lies on another disk than the store.",
}


@contextmanager
def in_words(what: str) -> Iterator[None]:
    """Turn a fault of the disk into a refusal; let every other fault through as it is.

    Parameters
    ----------
    what : str
        The sentence that says what could not be done.

    Raises
    ------
    StoreFailed
        For a disk that is full, read-only, over quota, broken or barred.
    """
    try:
        yield
    except OSError as fault:
        why = _WORDS.get(fault.errno or 0)
        if why is None:
            raise
        raise StoreFailed(
            what,
            why,
            "Nothing was lost and nothing half-written was left. Tell the administrator, then"
            " try again.",
        ) from fault


def standing_folder(folder: Path) -> Path:
    """Give the folder itself, or the nearest one above it that is there."""
    return next(one for one in (folder, *folder.parents) if one.is_dir())


def write_through(stream: IO[bytes]) -> None:
    """Push what was written to the stream through to the disk."""
    stream.flush()
    os.fsync(stream.fileno())


def settle(folder: Path) -> None:
    """Push a folder's own list of names through to the disk."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_file(path: Path, content: bytes) -> None:
    """Write a new read-only file and push it through to the disk.

    Raises
    ------
    FileExistsError
        When there is one already: nothing is written over.
    """
    with path.open("xb") as stream:
        stream.write(content)
        write_through(stream)
    path.chmod(0o444)


def digests(path: Path, *algorithms: str) -> dict[str, str]:
    """Read a file once and give its digests in lower-case hexadecimal, by algorithm.

    Parameters
    ----------
    path : Path
        The file.
    *algorithms : str
        Names as OCFL spells them: md5, sha1, sha256, sha512, blake2b-512.
    """
    running = {name: new_digest(name) for name in algorithms}
    with path.open("rb") as stream:
        while block := stream.read(BLOCK):
            for digest in running.values():
                digest.update(block)
    return {name: digest.hexdigest() for name, digest in running.items()}


def new_digest(algorithm: str) -> "hashlib._Hash":
    """Begin a digest by its OCFL name.

    Raises
    ------
    ValueError
        When the algorithm is not one of OCFL's five.
    """
    if algorithm not in DIGEST_LENGTHS:
        raise ValueError(f"unknown digest algorithm {algorithm!r}")
    # md5 and sha1 only repeat what an older archive noted; nothing is made safe by them.
    return hashlib.new(algorithm.replace("blake2b-512", "blake2b"), usedforsecurity=False)


DIGEST_LENGTHS = {"md5": 32, "sha1": 40, "sha256": 64, "sha512": 128, "blake2b-512": 128}
"""Length in hexadecimal digits of each digest that OCFL 1.1 names (its section 3.2)."""
