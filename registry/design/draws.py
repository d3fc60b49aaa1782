"""Draws that anyone can make again: the stream behind every allocation, and its commitment.

The generator of a numerical library may give other numbers in its next version, so that a seed such
as 12345 says little after some years. This stream is made of a standard and of nothing else.
"""

import hmac
import secrets
from collections.abc import Iterable, Iterator
from hashlib import sha256

from registry.design import bounds

SEED_BYTES = 32
_WORDS = 2**64


def new_seed() -> bytes:
    """Give 32 bytes from the operating system's own source of chance."""
    return secrets.token_bytes(SEED_BYTES)


def commitment(seed: bytes) -> str:
    """Give the SHA-256 of a seed, in hexadecimal: shown at approval, before anything is drawn.

    Examples
    --------
    >>> commitment(bytes(range(32)))[:16]
    '630dcd2966c43366'
    """
    return sha256(_checked(seed)).hexdigest()


def is_revealed(seed: bytes, committed: str) -> bool:
    """Say whether a seed is the one that was committed to.

    Examples
    --------
    >>> seed = bytes(range(32))
    >>> is_revealed(seed, commitment(seed)), is_revealed(bytes(32), commitment(seed))
    (True, False)
    """
    return hmac.compare_digest(commitment(seed), committed.strip().lower())


def seed_from(text: str) -> bytes:
    """Read a seed that was written as 64 hexadecimal digits."""
    try:
        return _checked(bytes.fromhex(text))
    except ValueError:
        bounds.refuse(
            "seed",
            "The seed cannot be read.",
            "It is not written in hexadecimal digits.",
            "Give 64 of the digits 0 to 9 and a to f, or leave it out and have one drawn.",
        )


def seed_for(seed: bytes, purpose: str) -> bytes:
    """Give a seed of its own for another purpose of the same project: codes, schedule.

    Parameters
    ----------
    seed : bytes
        32 bytes.
    purpose : str
        Not empty.

    Notes
    -----
    HMAC-SHA256 of “purpose:” and the name. A counter of the stream is eight bytes and this is more,
    so the two never meet.

    Examples
    --------
    >>> seed_for(bytes(32), "blinding") != seed_for(bytes(32), "schedule")
    True
    """
    if not purpose:
        bounds.refuse("purpose", "A purpose needs a name.", "It was empty.", "Name it.")
    return hmac.digest(_checked(seed), f"purpose:{purpose}".encode(), "sha256")


def _checked(seed: bytes) -> bytes:
    if len(seed) != SEED_BYTES:
        bounds.refuse(
            "seed",
            f"A seed has {SEED_BYTES} bytes.",
            f"This one has {len(seed)}.",
            "Have one drawn: what can be guessed is no seed.",
        )
    return bytes(seed)


class Stream:
    """Whole numbers drawn from a seed, the same on every machine, for ever.

    Parameters
    ----------
    seed : bytes
        32 bytes: the key.

    Notes
    -----
    HMAC-SHA256 with the seed as key over an eight-byte big-endian counter from 0; each block gives
    four 64-bit big-endian words. A draw below n leaves out words from 2^64 − (2^64 mod n) on, so
    that none is likelier than another, and takes the rest modulo n.

    References
    ----------
    RFC 2104 and RFC 4231 (HMAC-SHA256).

    Examples
    --------
    >>> tanks = [f"T{n:02}" for n in range(1, 13)]
    >>> " ".join(Stream(bytes(range(32))).shuffled(tanks))
    'T12 T03 T07 T01 T11 T04 T05 T09 T08 T02 T10 T06'
    """

    def __init__(self, seed: bytes) -> None:
        self._seed = _checked(seed)
        self._words = self._drawn()
        self.commitment = commitment(seed)

    def _drawn(self) -> Iterator[int]:
        counter = 0
        while True:
            block = hmac.digest(self._seed, counter.to_bytes(8, "big"), "sha256")
            for start in range(0, 32, 8):
                yield int.from_bytes(block[start : start + 8], "big")
            counter += 1

    def below(self, n: int) -> int:
        """Draw a whole number from 0 to n − 1, all equally likely."""
        if not 1 <= n <= _WORDS:
            bounds.refuse(
                "n",
                "The number to draw below is not one that a word of the stream can decide.",
                f"It was given as {n}.",
                "Give a whole number from 1 to 2^64.",
            )
        limit = _WORDS - _WORDS % n
        for word in self._words:
            if word < limit:
                return word % n
        raise AssertionError("the stream has no end")

    def shuffled[T](self, items: Iterable[T]) -> list[T]:
        """Give the items in a drawn order: Fisher and Yates, from the end."""
        found = list(items)
        for last in range(len(found) - 1, 0, -1):
            other = self.below(last + 1)
            found[last], found[other] = found[other], found[last]
        return found
