"""The file in blocks, each read once: counted, hashed in a thread, and held to be UTF-8."""

import codecs
import hashlib
from collections.abc import Generator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from archive.engine.fast.plan import Odd, Slow, Source

BLOCK_BYTES = 1 << 22
MOST_BYTES = 1 << 25
ROOM_BYTES = 1 << 18
"""What the kernel writes to behind the bytes of a block."""

MARK = b"\xef\xbb\xbf"


@dataclass(slots=True)
class Fixity:
    """Size and digests of a file, known when it has been read to its end."""

    bytes: int = 0
    sha256: str = ""
    md5: str = ""


@dataclass(slots=True)
class Block:
    """Bytes of the file: `data[:length]`, the first of which stands at `offset`."""

    data: NDArray[np.uint8]
    length: int
    offset: int
    is_last: bool


@dataclass(slots=True)
class Stream:
    """Reads a file in blocks that overlap by what the reader has not used.

    Parameters
    ----------
    source : Source
    needs_md5 : bool
        Whether the older digest is declared, and so has to be made.
    is_hashed : bool
        Whether digests are made at all.
    has_nul : bool
        Whether NUL characters are passed over.
    """

    source: Source
    needs_md5: bool = False
    is_hashed: bool = True
    has_nul: bool = True
    fixity: Fixity = field(default_factory=Fixity)
    used: int = 0

    def blocks(self) -> Generator[Block]:
        """Give block after block; before asking for the next, set `used`.

        Raises
        ------
        Slow
            When the text is not what the encoding says, or a record has no end.
        """
        hashes: list[Any] = [hashlib.sha256(), hashlib.md5()] if self.is_hashed else []  # noqa: S324
        if not self.needs_md5:
            del hashes[1:]
        decoder = codecs.getincrementaldecoder("utf-8")("strict")
        spare = np.empty(2 * BLOCK_BYTES + ROOM_BYTES, np.uint8)
        data = np.empty(2 * BLOCK_BYTES + ROOM_BYTES, np.uint8)
        held, offset = 0, 0
        busy: Future[None] | None = None
        with self.source.path.open("rb", buffering=0) as file, ThreadPoolExecutor(1) as hasher:
            while True:
                if len(data) - held < BLOCK_BYTES + ROOM_BYTES:
                    data = _grown(data, held)
                got = file.readinto(memoryview(data)[held : held + BLOCK_BYTES])
                fresh = data[held : held + got]
                if busy is not None:
                    busy.result()
                busy = hasher.submit(_update, hashes, fresh)
                self.fixity.bytes += got
                self._check_text(decoder, fresh, is_last=not got)
                length = held + got
                self.used = 0
                if self.source.has_mark and not offset and bytes(data[:3]) == MARK and length >= 3:
                    self.used = 3
                yield Block(data, length, offset, is_last=not got)
                if not got:
                    break
                held = length - self.used
                if len(spare) < held + BLOCK_BYTES + ROOM_BYTES:
                    spare = np.empty(len(data), np.uint8)
                spare[:held] = data[self.used : length]
                offset += self.used
                data, spare = spare, data
            busy.result()
        if not self.is_hashed:
            return
        self.fixity.sha256 = hashes[0].hexdigest()
        self.fixity.md5 = hashes[1].hexdigest() if self.needs_md5 else ""

    def _check_text(self, decoder: Any, fresh: NDArray[np.uint8], *, is_last: bool) -> None:
        is_plain, least = spread(fresh)
        if not self.has_nul and not least:
            raise Odd("it holds a NUL character")
        if not self.source.is_utf8 and not is_plain:
            raise Slow("its encoding is not UTF-8")
        if not is_plain or decoder.getstate()[0] or is_last:
            try:
                decoder.decode(fresh.tobytes(), is_last)
            except UnicodeDecodeError as fault:
                raise Slow("it is not UTF-8 throughout") from fault


@njit(cache=True, nogil=True)
def spread(data):  # type: ignore[no-untyped-def]
    """Say whether no byte is 128 or more, and give the least byte."""
    bits, least = np.uint8(0), np.uint8(255)
    for byte in data:
        bits |= byte
        least = min(least, byte)
    return bits < 128, least


def _update(hashes: list[Any], data: NDArray[np.uint8]) -> None:
    for one in hashes:
        one.update(data)


def _grown(data: NDArray[np.uint8], held: int) -> NDArray[np.uint8]:
    if len(data) >= MOST_BYTES:
        raise Slow("one of its records is very long")
    larger = np.empty(2 * len(data), np.uint8)
    larger[:held] = data[:held]
    return larger
