"""Keys by 64-bit digests of typed values: 8 bytes a row, whatever the key's length.

Equal digests only make candidates, whose rows are read again and compared as they are. A row whose
digest stands alone needs no second look, for equal values have equal digests.
"""

from collections.abc import Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from archive.engine.fast.prove import (
    DATE,
    DATETIME,
    TIME,
    digest_moment,
    digest_number,
    hash_bytes,
    mix,
)
from archive.engine.fast.words import PAD

Digests = NDArray[np.uint64]

_MOST = 10**18
_EXACT = 2**53
_EPOCH = date(1970, 1, 1).toordinal()


def digest_of(value: Any, seed: np.uint64) -> np.uint64:
    """Digest a typed value as the kernel does: equal values alike, None as 0.

    Raises
    ------
    TypeError
        When the value cannot be hashed, and so be no key.
    """
    if value is None:
        return np.uint64(0)
    if isinstance(value, str):
        data, length = padded(value)
        return np.uint64(hash_bytes(data, 0, length, seed))
    if isinstance(value, int | float | Decimal):
        return _digest_of_number(value, seed)
    if isinstance(value, datetime) and not value.microsecond:
        moment, zoned = value, value.utcoffset()
        seconds = (moment.toordinal() - _EPOCH) * 86_400
        seconds += moment.hour * 3_600 + moment.minute * 60 + moment.second
        if zoned is None:
            return np.uint64(digest_moment(DATETIME, seconds, 0, seed))
        if not zoned.microseconds:
            shift = zoned.days * 86_400 + zoned.seconds
            return np.uint64(digest_moment(DATETIME, seconds - shift, 1, seed))
    elif type(value) is date:
        return np.uint64(digest_moment(DATE, value.toordinal() - _EPOCH, 0, seed))
    elif isinstance(value, time) and value.tzinfo is None and not value.microsecond:
        seconds = value.hour * 3_600 + value.minute * 60 + value.second
        return np.uint64(digest_moment(TIME, seconds, 0, seed))
    return _hashed(value, seed)


def padded(text: str) -> tuple[NDArray[np.uint8], int]:
    """Give a text's bytes with the padding that the kernel needs, and how many they are."""
    letters = text.encode("utf-8", "surrogatepass")
    return np.frombuffer(letters + bytes(PAD), np.uint8).copy(), len(letters)


def _digest_of_number(value: float | Decimal, seed: np.uint64) -> np.uint64:
    exact = Decimal(value)
    if not exact.is_finite():
        return _hashed(value, seed)
    sign, digits, exponent = exact.as_tuple()
    assert isinstance(exponent, int)
    shown = "".join(map(str, digits)).rstrip("0")
    exponent += len(digits) - len(shown)
    if len(shown) > 18 or not -18 <= exponent <= 18:
        return _hashed(value, seed) if shown else np.uint64(digest_number(0, 0, seed))
    whole = int(shown or "0")
    if not whole:
        exponent = 0
    if exponent > 0:
        whole, exponent = whole * 10**exponent, 0
    fits = whole < _MOST if exponent == 0 else exponent >= -18 and whole <= _EXACT
    if not fits:
        return _hashed(value, seed)
    return np.uint64(digest_number(np.int64(-whole if sign else whole), -exponent, seed))


def _hashed(value: Any, seed: np.uint64) -> np.uint64:
    # Python's own hash is alike for equal values of different types.
    return np.uint64(mix(np.uint64(hash(value) & 0xFFFFFFFFFFFFFFFF), seed ^ np.uint64(0x5EED)))


@njit(cache=True, nogil=True)
def fold(digests, rows, slots, needs_all, out):  # type: ignore[no-untyped-def]
    """Digest each row's key into `out`; 0 where it is empty, or in part so with `needs_all`."""
    if len(slots) == 1:
        for row in range(rows):
            out[row] = digests[row, slots[0]]
        return
    for row in range(rows):
        folded, empty = np.uint64(0x243F6A8885A308D3), 0
        for slot in slots:
            part = digests[row, slot]
            if part == np.uint64(0):
                empty += 1
            folded = mix(folded ^ part, np.uint64(0x9FB21C651E98DF25))
        if empty == len(slots) or (needs_all and empty):
            folded = np.uint64(0)
        out[row] = folded


def repeated(digests: Digests) -> NDArray[np.int64]:
    """Give the places of all digests that stand there more than once; 0 is passed over.

    Notes
    -----
    A table of 32 bits a row tells the few that may: those whose bit was already set. Only they, and
    what is equal to them, are sorted.
    """
    bits = np.zeros(max(16, 1 << (max(1, len(digests)) - 1).bit_length() >> 1), np.uint64)
    again = np.empty(len(digests), np.uint64)
    maybe = again[: set_twice(digests, bits, again)]
    found = np.zeros(len(digests), np.bool_)
    contains(DigestSet(maybe).table, digests, len(digests), found)
    places = np.flatnonzero(found)
    ordered = np.sort(digests[places])
    twice = ordered[1:][ordered[1:] == ordered[:-1]]
    known = DigestSet(twice)
    held = np.zeros(len(places), np.bool_)
    contains(known.table, np.ascontiguousarray(digests[places]), len(places), held)
    return places[held]


@njit(cache=True, nogil=True)
def set_twice(digests, bits, again):  # type: ignore[no-untyped-def]
    """Set each digest's bit; list those whose bit was set before, and say how many they are."""
    last, count = np.uint64(bits.shape[0] * 64 - 1), 0
    for digest in digests:
        if digest == np.uint64(0):
            continue
        bit = (digest >> np.uint64(11)) & last
        word, mask = bit >> np.uint64(6), np.uint64(1) << (bit & np.uint64(63))
        if bits[word] & mask:
            again[count] = digest
            count += 1
        else:
            bits[word] |= mask
    return count


class DigestSet:
    """A set of digests, asked for whole columns at once."""

    def __init__(self, digests: Digests) -> None:
        size = 1 << max(4, (2 * len(digests)).bit_length())
        self.table = np.zeros(size, np.uint64)
        self.parts: Digests | None = None
        fill(self.table, np.ascontiguousarray(digests))

    def tell_parts(self, digests: Digests, parts: Digests) -> None:
        """Put down what each digest of a key was folded from, shape (digests, columns)."""
        self.parts = np.zeros((len(self.table), parts.shape[1]), np.uint64)
        put_parts(self.table, self.parts, digests, parts)


def known_keys(keys: Sequence[tuple[Any, ...]], columns: int, seed: np.uint64) -> DigestSet:
    """Make the set of another table's keys; those of several columns are known part by part."""
    parts = np.zeros((len(keys), columns), np.uint64)
    for row, values in enumerate(keys):
        for column, value in enumerate(values):
            parts[row, column] = digest_of(value, seed)
    digests = np.zeros(len(keys), np.uint64)
    fold(parts, len(keys), np.arange(columns), False, digests)
    known = DigestSet(digests)
    if columns > 1:
        known.tell_parts(digests, parts)
    return known


@njit(cache=True, nogil=True)
def put_parts(table, told, digests, parts):  # type: ignore[no-untyped-def]
    """Put the parts of each digest beside it."""
    last = np.int64(table.shape[0] - 1)
    for at in range(digests.shape[0]):
        if digests[at] == np.uint64(0):
            continue
        place = np.int64(digests[at] >> np.uint64(7)) & last
        while table[place] != digests[at]:
            place = (place + 1) & last
        told[place] = parts[at]


@njit(cache=True, nogil=True)
def compare_parts(table, told, folded, digests, slots, count, out):  # type: ignore[no-untyped-def]
    """Take back what was held by its folded digest alone, with other parts."""
    last = np.int64(table.shape[0] - 1)
    for row in range(count):
        if not out[row]:
            continue
        place = np.int64(folded[row] >> np.uint64(7)) & last
        while table[place] != folded[row]:
            place = (place + 1) & last
        for part in range(slots.shape[0]):
            if told[place, part] != digests[row, slots[part]]:
                out[row] = False


@njit(cache=True, nogil=True)
def fill(table, digests):  # type: ignore[no-untyped-def]
    """Put digests into an open-addressed table; 0 is left out."""
    last = np.int64(table.shape[0] - 1)
    for digest in digests:
        if digest == np.uint64(0):
            continue
        place = np.int64(digest >> np.uint64(7)) & last
        while table[place] != np.uint64(0) and table[place] != digest:
            place = (place + 1) & last
        table[place] = digest


@njit(cache=True, nogil=True)
def contains(table, digests, count, out):  # type: ignore[no-untyped-def]
    """Say for each digest whether the table holds it; 0 is not held."""
    last = np.int64(table.shape[0] - 1)
    for at in range(count):
        digest = digests[at]
        place = np.int64(digest >> np.uint64(7)) & last
        found = False
        while digest != np.uint64(0) and table[place] != np.uint64(0):
            if table[place] == digest:
                found = True
                break
            place = (place + 1) & last
        out[at] = found
