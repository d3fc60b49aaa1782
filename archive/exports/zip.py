"""A version as one zip, made while it is sent: nothing is gathered in memory or on disk."""

import stat
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import IO, cast
from zipfile import ZIP64_LIMIT, ZIP_DEFLATED, ZipFile, ZipInfo

from archive.storage.names import check_paths

BLOCK = 262_144
"""Bytes read at a time."""


@dataclass(frozen=True)
class Entry:
    """One file of the zip.

    Parameters
    ----------
    path : str
        Its path inside the zip.
    size_bytes : int
        Its size.
    open : callable
        Opens it to read; called when its turn comes.
    """

    path: str
    size_bytes: int
    open: Callable[[], IO[bytes]]


class _Sink:
    """Takes what the zip writer writes, until it is handed on."""

    def __init__(self) -> None:
        self.blocks: list[bytes] = []

    def write(self, block: bytes) -> int:
        self.blocks.append(bytes(block))
        return len(block)

    def flush(self) -> None:
        """Do nothing: all is handed on anyway."""

    def take(self) -> bytes:
        taken = b"".join(self.blocks)
        self.blocks.clear()
        return taken


def stream_zip(entries: Iterable[Entry], *, modified: datetime) -> Iterator[bytes]:
    """Stream a zip of the entries.

    Parameters
    ----------
    entries : iterable of Entry
        The files, in the order in which they are sent.
    modified : datetime
        Time that all entries bear, in its own zone: the same version gives the same zip.

    Yields
    ------
    bytes
        Pieces of the zip. Its list of contents comes last, so that a zip that was broken off is
        no zip.

    Raises
    ------
    Unsound
        When two paths clash, or one is unsound.
    """
    given = list(entries)
    check_paths([entry.path for entry in given])
    sink = _Sink()
    # A zip cannot say a year before 1980, and counts in steps of two seconds.
    moment = max(modified.timetuple()[:6], (1980, 1, 1, 0, 0, 0))
    with ZipFile(cast(IO[bytes], sink), "w", ZIP_DEFLATED) as written:
        for entry in given:
            about = ZipInfo(entry.path, date_time=moment)
            about.compress_type = ZIP_DEFLATED
            about.external_attr = (stat.S_IFREG | 0o444) << 16
            large = entry.size_bytes * 1.05 > ZIP64_LIMIT
            with entry.open() as source, written.open(about, "w", force_zip64=large) as target:
                while block := source.read(BLOCK):
                    target.write(block)
                    if ready := sink.take():
                        yield ready
            if ready := sink.take():
                yield ready
    if ready := sink.take():
        yield ready
