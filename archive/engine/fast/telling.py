"""Where in a file of any size a text may be a telephone number, or a name that is sought.

One pass over the bytes that only points: whoever asked looks at the place, and decides.
"""

# ruff: noqa: PLR1714 - numba has no sets

import mmap
from collections.abc import Iterable
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from archive.engine.fast.compiling import bare, inlined

A_NAME, A_NUMBER = 0, 1
NOTHING = -1
LEAST_DIGITS = 9

_START, _PRIME = np.uint64(0xCBF29CE484222325), np.uint64(0x100000001B3)
"""Of the digest of a word: FNV-1a, 64 bits (Fowler, Noll and Vo; the two numbers from memory)."""
_TURN = np.uint64(0x9E3779B97F4A7C15)
_EMPTY = np.uint64(0)


def _kinds() -> NDArray[np.uint8]:
    """Say of each byte: 1 of a letter, of which those beyond ASCII are made, 2 of a digit."""
    kinds = np.zeros(256, np.uint8)
    kinds[128:] = 1
    for first, last, kind in ((b"A", b"Z", 1), (b"a", b"z", 1), (b"0", b"9", 2)):
        kinds[first[0] : last[0] + 1] = kind
    return kinds


KIND = _kinds()
LOWER = np.frombuffer(bytes(range(256)).lower(), np.uint8).astype(np.uint64)
BEFORE = np.array([KIND[one] > 0 or one in b"_.+-" for one in range(256)])
"""Bytes after which no telephone number begins."""


def pair_of(before: bytes, after: bytes) -> int:
    """Digest two words that follow each other, in lower case as far as they are ASCII."""
    return (_word(before) * int(_TURN) ^ _word(after)) % (1 << 64)


def _word(letters: bytes) -> int:
    digest = int(_START)
    for one in letters.lower():
        digest = (digest ^ one) * int(_PRIME) % (1 << 64)
    return digest


def _table_of(pairs: Iterable[int]) -> NDArray[np.uint64]:
    """Lay digests out so that one is found at once: where it hashes to, or in the places after."""
    listed = list(pairs)
    size = 1 << max(4, (4 * len(listed)).bit_length())
    table = np.zeros(size, np.uint64)
    for one in listed:
        at = one & (size - 1)
        while table[at] not in {0, one}:
            at = (at + 1) & (size - 1)
        table[at] = one
    return table


class Places:
    """The places in a file to look at; a context, since the file cannot be closed meanwhile."""

    def __init__(self, held: mmap.mmap | bytes) -> None:
        self._data = np.frombuffer(held, np.uint8)
        self.seek(())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _fault: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        del self._data

    def seek(self, pairs: Iterable[int]) -> None:
        """Seek these pairs of words from now on."""
        self._table = _table_of(pairs)

    def after(self, at: int, *, seeks_number: bool) -> tuple[int, bool] | None:
        """Give the next place, and whether a number may begin there; None where there is none.

        Go on at the place of a name, and after that of a number.
        """
        told = int(next_telling(self._data, at, self._table, seeks_number))
        return None if told == NOTHING else (told >> 1, bool(told & 1))


@inlined
def _is_listed(table, pair):  # type: ignore[no-untyped-def]
    last = np.uint64(len(table) - 1)
    at = pair & last
    while table[at] != _EMPTY:
        if table[at] == pair:
            return True
        at = (at + np.uint64(1)) & last
    return False


@inlined
def _is_gap(data, at, size):  # type: ignore[no-untyped-def]
    """Say whether a space, or a comma or a full stop and a space, part two words."""
    if size == 1:
        return data[at] == 32
    return size == 2 and data[at + 1] == 32 and (data[at] == 44 or data[at] == 46)


@inlined
def _digits(data, at, most):  # type: ignore[no-untyped-def]
    end = at
    while end < len(data) and end - at < most and KIND[data[end]] == 2:
        end += 1
    return end - at


@inlined
def _may_be_number(data, at):  # type: ignore[no-untyped-def]
    """Say whether groups of digits, with a space or a dash between, begin with + or 0 here."""
    if at and BEFORE[data[at - 1]]:
        return False
    is_abroad = data[at] == 43
    at += is_abroad
    count = _digits(data, at, 3 if is_abroad else 5)
    if count < (1 if is_abroad else 3):
        return False
    at += count
    if at < len(data) and data[at] == 41:
        at += 1
    for _ in range(4):
        if at >= len(data) or (data[at] != 32 and data[at] != 45):
            return False
        group = _digits(data, at + 1, 6)
        count += group
        if group < 2:
            return False
        if count >= LEAST_DIGITS:
            return True
        at += 1 + group
    return False


@bare
def next_telling(data, start, table, seeks_number):  # type: ignore[no-untyped-def]
    """Give the next place at which a sought pair of words ends, or a number may begin.

    Parameters
    ----------
    data : ndarray of uint8
        The file, whole: what stands before `start` is looked at too.
    start : int
        Where to begin; of a pair that was told, at the word that it ends with.
    table : ndarray of uint64
        Digests of the pairs of words, as `_table_of` lays them out.
    seeks_number : bool

    Returns
    -------
    int
        Twice the place, plus `A_NUMBER` for a number; `NOTHING` at the end.
    """
    before, ended, at = _EMPTY, -9, start
    while at < len(data):
        sign = data[at]
        if KIND[sign] == 1:
            begun, word = at, _START
            while at < len(data) and KIND[data[at]] == 1:
                word = (word ^ LOWER[data[at]]) * _PRIME
                at += 1
            if _is_gap(data, ended, begun - ended) and _is_listed(table, (before * _TURN) ^ word):
                return 2 * begun + A_NAME
            before, ended = word, at
            continue
        if seeks_number and (sign == 48 or sign == 43) and _may_be_number(data, at):
            return 2 * at + A_NUMBER
        at += 1
    return NOTHING
