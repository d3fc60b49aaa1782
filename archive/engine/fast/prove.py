"""Proofs, cell by cell, that a cell is good: canonical forms only, compiled by numba.

What is not proved here is not wrong: frictionless' own reader is asked about it.

References
----------
Data Package 2.0, Table Schema, "Field Types", for the canonical forms. Steele, G. L., Lea, D. and
Flood, C. H. (2014). Fast splittable pseudorandom number generators, for the mixing of 64 bits.
"""

# ruff: noqa: PLR1714 - numba has no sets

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from archive.engine.fast.compiling import inlined
from archive.engine.fast.words import first_byte, marked, tail_at, word_at

ASK, TEXT, INTEGER, NUMBER, DATE, DATETIME, TIME = range(7)
"""How a column is proved; ASK leaves every distinct text to frictionless' own reader."""

NAIVE, ZONED, EITHER = range(3)
"""Which datetimes can be compared with the column's bounds."""

NULL_DIGEST = np.uint64(0)
SCALES = 19

Bytes = NDArray[np.uint8]


class Columns(NamedTuple):
    """What the kernel knows of each column, one entry a column.

    Parameters
    ----------
    kind : ndarray of uint8
    sign : ndarray of uint8
        The decimal sign of a number, or what stands between date and time.
    zone : ndarray of uint8
        NAIVE, ZONED or EITHER.
    low, high : ndarray of int64, shape (columns, SCALES)
        The least and greatest value, as whole multiples of 10**-scale; for texts the lengths.
    looked_up : ndarray of bool
        Whether some text that has a canonical form stands for an empty cell.
    empty : ndarray of uint8
        What an empty cell is, in the bits of `archive.engine.fast.memo`.
    slot, number, day : ndarray of int64
        Where in a row's digests, numbers and days the column stands; -1 for nowhere.
    """

    kind: NDArray[np.uint8]
    sign: NDArray[np.uint8]
    zone: NDArray[np.uint8]
    low: NDArray[np.int64]
    high: NDArray[np.int64]
    looked_up: NDArray[np.bool_]
    empty: NDArray[np.uint8]
    slot: NDArray[np.int64]
    number: NDArray[np.int64]
    day: NDArray[np.int64]


@inlined
def mix(value, salt):  # type: ignore[no-untyped-def]
    """Spread 64 bits over 64 bits; never 0, which stands for an empty cell."""
    z = np.uint64(value) + np.uint64(salt) + np.uint64(0x9E3779B97F4A7C15)
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z ^= z >> np.uint64(31)
    return z if z != np.uint64(0) else np.uint64(1)


@inlined
def hash_bytes(data, start, end, seed):  # type: ignore[no-untyped-def]
    """Hash a run of bytes, eight at a time; `words.PAD` more must follow it."""
    h = np.uint64(seed) ^ (np.uint64(end - start) * np.uint64(0x9E3779B97F4A7C15))
    at = start
    while at + 8 <= end:
        h = (h ^ word_at(data, at)) * np.uint64(0xFF51AFD7ED558CCD)
        h ^= h >> np.uint64(32)
        at += 8
    h = (h ^ tail_at(data, at, end - at)) * np.uint64(0xFF51AFD7ED558CCD)
    h ^= h >> np.uint64(32)
    h *= np.uint64(0xC4CEB9FE1A85EC53)
    h ^= h >> np.uint64(29)
    return h if h != np.uint64(0) else np.uint64(1)


@inlined
def digest_number(value, scale, seed):  # type: ignore[no-untyped-def]
    """Digest value × 10**-scale, alike for all ways of writing it."""
    while scale > 0 and value % 10 == 0:
        value //= 10
        scale -= 1
    return mix(value, np.uint64(seed) + np.uint64(scale) * np.uint64(0xD1B54A32D192ED03))


@inlined
def digest_moment(kind, value, zoned, seed):  # type: ignore[no-untyped-def]
    """Digest a day, an instant or a time of day; one with a zone never equals one without."""
    salt = np.uint64(kind * 2 + zoned + 1) * np.uint64(0xA0761D6478BD642F)
    return mix(value, np.uint64(seed) ^ salt)


@inlined
def two_digits(data, at):  # type: ignore[no-untyped-def]
    """Read two digits; -1 where they are none."""
    a = np.int64(data[np.uint64(at)]) - 48
    b = np.int64(data[np.uint64(at + 1)]) - 48
    if a < 0 or a > 9 or b < 0 or b > 9:
        return np.int64(-1)
    return a * 10 + b


@inlined
def read_day(data, at):  # type: ignore[no-untyped-def]
    """Read YYYY-MM-DD as days since 1970-01-01; a large negative where it is none."""
    bad = np.int64(-(1 << 62))
    high, low = two_digits(data, at), two_digits(data, at + 2)
    month, day = two_digits(data, at + 5), two_digits(data, at + 8)
    if data[at + 4] != 45 or data[at + 7] != 45 or high < 0 or low < 0 or month < 1 or day < 1:
        return bad
    year = high * 100 + low
    if year < 1 or month > 12:
        return bad
    is_leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    if month == 2:
        length = 29 if is_leap else 28
    elif month in (4, 6, 9, 11):
        length = 30
    else:
        length = 31
    if day > length:
        return bad
    # Howard Hinnant's days_from_civil, "chrono-Compatible Low-Level Date Algorithms".
    y = year - 1 if month <= 2 else year
    era = y // 400
    of_era = y - era * 400
    of_year = (153 * (month - 3 if month > 2 else month + 9) + 2) // 5 + day - 1
    return era * 146097 + of_era * 365 + of_era // 4 - of_era // 100 + of_year - 719468


@inlined
def read_clock(data, at):  # type: ignore[no-untyped-def]
    """Read HH:MM:SS as seconds of the day; -1 where it is none."""
    hour, minute, second = (
        two_digits(data, at),
        two_digits(data, at + 3),
        two_digits(data, at + 6),
    )
    if data[at + 2] != 58 or data[at + 5] != 58:
        return np.int64(-1)
    if hour < 0 or hour > 23 or minute < 0 or minute > 59 or second < 0 or second > 59:
        return np.int64(-1)
    return hour * 3600 + minute * 60 + second


@inlined
def eight_digits(word):  # type: ignore[no-untyped-def]
    """Read a word of eight digits, the first one lowest: (whether they all are, their number).

    References
    ----------
    Lemire, D. (2018). Quickly parsing eight digits, for the three multiplications.
    """
    rest = word ^ np.uint64(0x3030303030303030)
    if ((rest + np.uint64(0x7676767676767676)) | rest) & np.uint64(0x8080808080808080):
        return False, np.int64(0)
    rest = rest * np.uint64(2561) >> np.uint64(8)
    rest = (rest & np.uint64(0x00FF00FF00FF00FF)) * np.uint64(6553601) >> np.uint64(16)
    rest = (rest & np.uint64(0x0000FFFF0000FFFF)) * np.uint64(42949672960001) >> np.uint64(32)
    return True, np.int64(rest)


@inlined
def short_number(data, at, count, sign):  # type: ignore[no-untyped-def]
    """Read digits[sign digits], 1 to 8 letters in all, as one word: (proved, multiple, scale)."""
    word, scale = word_at(data, at), np.int64(0)
    if sign < 256:
        marks = marked(word, sign)
        place = first_byte(marks) if marks else np.int64(8)
        if place < count:
            if place == 0 or place == count - 1:
                return False, np.int64(0), np.int64(0)
            before = (np.uint64(1) << np.uint64(8 * place)) - np.uint64(1)
            word = (word & before) | ((word >> np.uint64(8)) & ~before)
            count -= 1
            scale = count - place
    # Zeros go before the first digit; a shift by all 64 bits is none.
    free = np.uint64(64 - 8 * count)
    zeros = np.uint64(0x3030303030303030) >> np.uint64(1) >> (np.uint64(63) - free)
    ok, value = eight_digits((word << free) | zeros)
    return ok, value, scale


@inlined
def prove_number(data, start, end, sign, most):  # type: ignore[no-untyped-def]
    """Read -?digits[sign digits] of at most 18 digits: (proved, whole multiple, scale)."""
    at = start
    is_negative = data[np.uint64(at)] == 45
    if is_negative:
        at += 1
    if at >= end or end - at > 19:
        return False, np.int64(0), np.int64(0)
    if end - at <= 8:
        ok, value, scale = short_number(data, at, end - at, sign)
        return ok, (-value if is_negative else value), scale
    value, scale, digits, has_sign = np.int64(0), np.int64(0), 0, False
    while at < end:
        byte = np.int64(data[np.uint64(at)])
        if 48 <= byte <= 57:
            value = value * 10 + (byte - 48)
            digits += 1
            if has_sign:
                scale += 1
        elif byte == sign and not has_sign and digits > 0 and at + 1 < end:
            has_sign = True
        else:
            return False, np.int64(0), np.int64(0)
        at += 1
    if digits > 18 or value > most:
        return False, np.int64(0), np.int64(0)
    return True, (-value if is_negative else value), scale


@inlined
def prove_datetime(data, start, end, sign, zone):  # type: ignore[no-untyped-def]
    """Read YYYY-MM-DDTHH:MM:SS with Z, ±HH:MM or nothing: (proved, seconds, zoned, local)."""
    no = (False, np.int64(0), np.int64(0), np.int64(0))
    length = end - start
    if length not in (19, 20, 25) or data[start + 10] != sign:
        return no
    day, clock = read_day(data, start), read_clock(data, start + 11)
    if day < -(1 << 60) or clock < 0:
        return no
    local = day * 86400 + clock
    seconds, zoned = local, np.int64(0)
    if length == 20:
        if data[start + 19] != 90:
            return no
        zoned = np.int64(1)
    elif length == 25:
        hours, minutes = two_digits(data, start + 20), two_digits(data, start + 23)
        mark = data[start + 19]
        if data[start + 22] != 58 or hours < 0 or hours > 23 or minutes < 0 or minutes > 59:
            return no
        if mark == 43:
            seconds -= hours * 3600 + minutes * 60
        elif mark == 45:
            seconds += hours * 3600 + minutes * 60
        else:
            return no
        zoned = np.int64(1)
    if zone != 2 and zone != zoned:
        return no
    return True, seconds, zoned, local


@inlined
def letters(data, start, end):  # type: ignore[no-untyped-def]
    """Count the characters of a run of UTF-8: every byte but those that continue one."""
    count = np.int64(0)
    for at in range(start, end):
        if (data[at] & 0xC0) != 0x80:
            count += 1
    return count


@inlined
def prove(kind, sign, zone, low, high, field, data, start, end):  # type: ignore[no-untyped-def]
    """Prove one cell: (proved, value, scale or zone, local).

    Notes
    -----
    `value` is the whole multiple of a number, the days of a date, the seconds of a datetime or
    time, the length of a text; `local` the seconds of a date or datetime as they were written.
    """
    ok, value, scale, local = False, np.int64(0), np.int64(0), np.int64(0)
    limit = 0
    if kind == 1:
        ok = True
        # A letter has one to four bytes; only where that leaves a doubt are letters counted.
        if low[field, 0] > (end - start + 3) // 4 or high[field, 0] < end - start:
            value = letters(data, start, end)
        else:
            return True, value, scale, local
    elif kind == 2:
        ok, value, scale = prove_number(data, start, end, 256, np.int64(1 << 62))
    elif kind == 3:
        # Up to 2**53 a quotient of two floats is the nearest float to the decimal.
        sign = np.int64(sign)
        ok, value, scale = prove_number(data, start, end, sign, np.int64(1 << 53))
        limit = scale
    elif kind == 4:
        if end - start == 10:
            value = read_day(data, start)
            ok = value > -(1 << 60)
            local = value * 86400 if ok else value
    elif kind == 5:
        ok, value, scale, local = prove_datetime(data, start, end, sign, zone)
    elif kind == 6 and end - start == 8:
        value = read_clock(data, start)
        ok = value >= 0
    if ok and (value < low[field, limit] or value > high[field, limit]):
        ok = False
    return ok, value, scale, local


@inlined
def digest_of_proved(kind, data, start, end, value, scale, seed):  # type: ignore[no-untyped-def]
    """Digest the typed value of a proved cell."""
    if kind == 1:
        return hash_bytes(data, start, end, seed)
    if kind in (2, 3):
        return digest_number(value, scale, seed)
    return digest_moment(kind, value, scale, seed)


@inlined
def float_of(kind, value, scale, powers):  # type: ignore[no-untyped-def]
    """Give a proved number as the nearest float; days and seconds as they are."""
    if kind == 3:
        return value / powers[scale]
    return np.float64(value)
