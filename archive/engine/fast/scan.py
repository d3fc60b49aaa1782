"""The kernel: csv.reader's state machine over bytes, and a verdict on every cell.

References
----------
CPython, Modules/_csv.c, ``parse_process_char``, for the states; RFC 4180 for the format.
"""

# ruff: noqa: PLR1714 - numba has no sets

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from archive.engine.fast.compiling import bare, inlined
from archive.engine.fast.memo import find, insert, same
from archive.engine.fast.prove import digest_of_proved, float_of, hash_bytes, prove
from archive.engine.fast.words import first_byte, marked, word_at

WHOLE, ROWS_FULL, ASKS_FULL, CELL_FULL, RETURN_IN_CELL, UNSOUND = range(6)
"""Why the kernel stopped: no further whole record; an output is full; a cell is too long; a
carriage return stands inside a cell of a text whose line ends are translated; a record is not as
`Bounds` ask for."""


class Layout(NamedTuple):
    """The CSV dialect: bytes as numbers, 256 for none.

    With `translates` the text reader turns CR LF inside a cell into LF, which the kernel does not.
    """

    delimiter: int
    quote: int
    skips_space: bool
    translates: bool


class Bounds(NamedTuple):
    """What is asked of each record of a file that nobody looked at before.

    With `is_asked` no line may end inside quotation marks, no text follow a closing one, none stay
    open; and a record has so many cells, and so many bytes, at most.
    """

    is_asked: bool
    cells: int
    bytes: int


NO_BOUNDS = Bounds(False, 0, 0)


class Rows(NamedTuple):
    """What the kernel tells of each record of a chunk.

    Parameters
    ----------
    start : ndarray of int64, shape (rows + 1,)
        Where each record begins in the chunk.
    width, nulls : ndarray of int64
        How many cells it has, and how many of the columns are empty (missing cells left out).
    flags : ndarray of uint8
        BAD and OURS where one of its cells is.
    digests : ndarray of uint64, shape (rows, slots)
    numbers : ndarray of float64, shape (columns, rows)
    days : ndarray of int64, shape (rows, days)
    """

    start: NDArray[np.int64]
    width: NDArray[np.int64]
    nulls: NDArray[np.int64]
    flags: NDArray[np.uint8]
    digests: NDArray[np.uint64]
    numbers: NDArray[np.float64]
    days: NDArray[np.int64]


class Asks(NamedTuple):
    """Cells on which frictionless' reader must speak; entry -1 where the memo has no room.

    Of an empty cell, which only the second pass asks about, the entry is -2.
    """

    row: NDArray[np.int64]
    field: NDArray[np.int64]
    entry: NDArray[np.int64]
    fresh: NDArray[np.bool_]


class Tallies(NamedTuple):
    """Counts over the whole table: empty cells of each column, least and greatest proved value.

    `nulls` are cells without a value, `empties` cells without a letter that are one. `least` and
    `greatest` have a second axis: without a zone, and with one; `shifts` are the offsets of the two
    in seconds.
    """

    nulls: NDArray[np.int64]
    least: NDArray[np.int64]
    greatest: NDArray[np.int64]
    empties: NDArray[np.int64]
    shifts: NDArray[np.int64]


NO_DAY = np.int64(-(1 << 62))
BATCH = 1_024
"""How many records are cut before their cells are judged, column after column."""

POWERS = np.array([10.0**scale for scale in range(19)])


@inlined
def cut(  # type: ignore[no-untyped-def] # noqa: C901 - one state machine, as in its reference
    data, at, length, is_last, layout, start, end, odd, base, most
):
    """Cut one record: (where the next begins or -1, how many cells, whether it is stray).

    A stray one has a line break inside quotation marks, text after a closing one, or an open one.

    Parameters
    ----------
    data : ndarray of uint8
    at, length : int
        Where the record begins, and how many bytes of `data` are filled.
    is_last : bool
        Whether no bytes follow; without it a record that may go on is left: -1.
    layout : Layout
    start, end : ndarray of int64
        Filled from `base` on with each cell's first and last byte; cells beyond `most` are only
        counted.
    odd : ndarray of uint8
        Filled likewise: 1 where doubled quotation marks, or text after the closing one, are inside
        the cell; 2 where a carriage return is.
    """
    delimiter, quote = layout.delimiter, layout.quote
    width, is_stray = 0, False
    byte = np.int64(data[np.uint64(at)])
    if byte == 10:
        return at + 1, width, is_stray
    if byte == 13:
        return _past_return(data, at, length, is_last), width, is_stray
    while True:
        while layout.skips_space and at < length and data[np.uint64(at)] == 32:
            at += 1
        first, last, is_odd = at, at, 0
        if at < length and data[np.uint64(at)] == quote:
            at += 1
            first, is_closed = at, False
            while at < length:
                while at + 8 <= length:
                    word = word_at(data, at)
                    marks = marked(word, quote) | marked(word, 13) | marked(word, 10)
                    if marks:
                        at += first_byte(marks)
                        break
                    at += 8
                if at >= length:
                    break
                byte = np.int64(data[np.uint64(at)])
                if byte != quote:
                    if byte == 13:
                        is_odd |= 2
                    is_stray |= byte == 13 or byte == 10
                    at += 1
                elif at + 1 < length and data[np.uint64(at + 1)] == quote:
                    is_odd |= 1
                    at += 2
                else:
                    is_closed = True
                    break
            last = at
            if not is_closed or at + 1 >= length:
                if not is_last:
                    return -1, width, is_stray
                at = length
                is_stray |= not is_closed
            else:
                at += 1
                byte = np.int64(data[np.uint64(at)])
                if byte != delimiter and byte != 10 and byte != 13:
                    is_odd |= 1
                    is_stray = True
                    while at < length:
                        byte = np.int64(data[np.uint64(at)])
                        if byte == delimiter or byte == 10 or byte == 13:
                            break
                        at += 1
                    last = at
        else:
            while at + 8 <= length:
                word = word_at(data, at)
                marks = marked(word, delimiter) | marked(word, 10) | marked(word, 13)
                if marks:
                    at += first_byte(marks)
                    break
                at += 8
            while at < length:
                byte = np.int64(data[np.uint64(at)])
                if byte == delimiter or byte == 10 or byte == 13:
                    break
                at += 1
            last = at
        if width < most:
            start[base + width], end[base + width], odd[base + width] = first, last, is_odd
        width += 1
        if at >= length:
            return (length if is_last else -1), width, is_stray
        byte = np.int64(data[np.uint64(at)])
        if byte == 10:
            return at + 1, width, is_stray
        if byte == 13:
            return _past_return(data, at, length, is_last), width, is_stray
        at += 1


@inlined
def _past_return(data, at, length, is_last):  # type: ignore[no-untyped-def]
    if at + 1 < length:
        return at + 2 if data[at + 1] == 10 else at + 1
    return length if is_last else -1


@inlined
def unquote(data, start, end, quote, out):  # type: ignore[no-untyped-def]
    """Write the content of an odd cell to `data[out:]`: where it ends, or -1 without the room."""
    is_quoted, at = True, start
    if out + (end - start) + 8 > data.shape[0]:
        return -1
    while at < end:
        if is_quoted and data[at] == quote:
            if at + 1 < end and data[at + 1] == quote:
                data[out] = data[at]
                out += 1
                at += 2
            else:
                is_quoted = False
                at += 1
        else:
            data[out] = data[at]
            out += 1
            at += 1
    return out


@njit(cache=True, nogil=True)
def scan(  # type: ignore[no-untyped-def]
    data, at, length, is_last, is_replay, layout, bounds, columns, memo, rows, asks, tallies, seed,
    powers,
):  # fmt: skip
    """Judge record after record: (where the next begins, records, asks, why it stopped).

    `data` must have room behind its `length` bytes, for the content of odd cells. With `is_replay`
    nothing is learnt or counted, and every cell that is not good is asked about.
    """
    fields = columns.kind.shape[0]
    start = np.empty(BATCH * fields, np.int64)
    end = np.empty(BATCH * fields, np.int64)
    odd = np.empty(BATCH * fields, np.uint8)
    count, asked, stopped = 0, 0, WHOLE
    while at < length:
        if count >= rows.width.shape[0]:
            return at, count, asked, ROWS_FULL
        if asked + fields * BATCH > asks.row.shape[0]:
            return at, count, asked, ASKS_FULL
        batch = min(BATCH, rows.width.shape[0] - count)
        after, records, is_sound = _cut_batch(
            data, at, length, is_last, layout, bounds, start, end, odd, rows, count, batch, fields
        )
        if not is_sound:
            return at, count, asked, UNSOUND
        if not records:
            break
        rows.digests[count : count + records] = np.uint64(0)
        rows.numbers[:, count : count + records] = np.nan
        rows.days[count : count + records] = NO_DAY
        for field in range(fields):
            asked, stopped = _judge_column(
                data,
                length,
                is_replay,
                layout.quote,
                layout.translates,
                seed,
                powers,
                start,
                end,
                odd,
                count,
                records,
                asked,
                field,
                fields,
                columns.kind[field],
                columns.sign[field],
                columns.zone[field],
                columns.low,
                columns.high,
                columns.looked_up[field],
                columns.empty[field],
                columns.slot[field],
                columns.number[field],
                columns.day[field],
                memo,
                memo.places,
                memo.hashes,
                memo.starts,
                memo.ends,
                memo.letters,
                memo.state,
                memo.digest,
                memo.number,
                memo.day,
                memo.seen,
                memo.full,
                memo.kept,
                rows.width,
                rows.nulls,
                rows.flags,
                rows.digests,
                rows.numbers,
                rows.days,
                asks.row,
                asks.field,
                asks.entry,
                asks.fresh,
                tallies.nulls,
                tallies.least,
                tallies.greatest,
                tallies.empties,
                tallies.shifts,
            )
            if stopped != WHOLE:
                return at, count, asked, stopped
        count += records
        at = after
    return at, count, asked, WHOLE


@bare
def _cut_batch(  # type: ignore[no-untyped-def]
    data, at, length, is_last, layout, bounds, start, end, odd, rows, count, batch, fields
):
    """Cut some records, and note where they stand: (where the next begins, how many, all sound)."""
    begins, widths, nulls, flags = rows.start, rows.width, rows.nulls, rows.flags
    records, is_sound = 0, True
    while records < batch and at < length:
        after, width, is_stray = cut(
            data, at, length, is_last, layout, start, end, odd, records * fields, fields
        )
        if after < 0:
            break
        row = count + records
        begins[row], widths[row], nulls[row], flags[row] = at, width, 0, 0
        if bounds.is_asked and (is_stray or width > bounds.cells or after - at > bounds.bytes):
            is_sound = False
            break
        at = after
        records += 1
    begins[count + records] = at
    return at, records, is_sound


@bare
def _judge_column(  # type: ignore[no-untyped-def] # noqa: C901 - one loop over cells: calls cost
    data,
    length,
    is_replay,
    quote,
    translates,
    seed,
    powers,
    start,
    end,
    odd,
    count,
    records,
    asked,
    field,
    fields,
    kind,
    sign,
    zone,
    low,
    high,
    looked_up,
    empty,
    slot,
    number,
    day,
    memo,
    m_places,
    m_hashes,
    m_starts,
    m_ends,
    m_letters,
    m_state,
    m_digest,
    m_number,
    m_day,
    m_seen,
    m_full,
    m_kept,
    r_width,
    r_nulls,
    r_flags,
    r_digests,
    r_numbers,
    r_days,
    a_row,
    a_field,
    a_entry,
    a_fresh,
    t_nulls,
    t_least,
    t_greatest,
    t_empties,
    t_shifts,
):
    """Judge one column of a batch: (asks so far, why it stopped).

    Notes
    -----
    The arrays come one by one, since taking one out of a tuple counts references.
    """
    least, greatest = low[field, 0], high[field, 0]
    is_free = kind == 1 and least <= 0 and greatest >= (1 << 62)
    is_open = not m_full[field]
    # Texts that can be proved are sought and put down only where each is to be known.
    is_kept = m_kept[field] or looked_up or kind == 0
    # Of texts that may say anything, and that nobody compares, only the empty ones matter.
    is_unread = is_free and slot < 0 and number < 0 and not is_kept
    # Unsigned places spare the kernel the question whether they count from the end.
    one, to, number_at, day_at = (
        np.uint64(field),
        np.uint64(slot),
        np.uint64(number),
        np.uint64(day),
    )
    first_before, width_before, entry_before = np.int64(0), np.int64(-1), np.int64(-1)
    for record in range(records):
        row, at = np.uint64(count + record), np.uint64(record * fields + field)
        if r_width[row] <= field:
            continue
        first, last = start[at], end[at]
        if is_unread and first != last and not (odd[at] & 2 and translates):
            continue
        if odd[at]:
            if odd[at] & 2 and translates:
                return asked, RETURN_IN_CELL
            if odd[at] & 1:
                # The content is written behind the last record.
                last = unquote(data, first, last, quote, length)
                if last < 0:
                    return asked, CELL_FULL
                first = length
        if first == last:
            if empty & 5:
                if not is_replay:
                    t_nulls[one] += 1
            else:
                if not is_replay:
                    t_empties[field] += 1
                if slot >= 0:
                    r_digests[row, to] = hash_bytes(data, first, last, seed)
            r_flags[row] |= empty & 10
            if is_replay and empty & 2:
                a_row[asked], a_field[asked], a_entry[asked] = row, field, -2
                asked += 1
            else:
                r_nulls[row] += empty & 1
            continue
        entry, place, hashed = np.int64(-1), np.uint64(0), np.uint64(0)
        ok, value, scale, local = is_free, np.int64(0), np.int64(0), np.int64(0)
        is_sought = is_kept
        if (
            last - first == width_before
            and not odd[at]
            and same(data, first_before, data, first, last)
        ):
            entry = entry_before
        elif not is_kept and not is_free:
            ok, value, scale, local = prove(kind, sign, zone, low, high, field, data, first, last)
            is_sought = not ok
        if entry < 0 and is_sought:
            hashed = hash_bytes(data, first, last, seed)
            entry, place = find(
                m_places, m_hashes, m_starts, m_ends, m_letters, field, data, first, last, hashed
            )
        if entry >= 0:
            if not odd[at]:
                first_before, width_before, entry_before = first, last - first, entry
            state = m_state[one, np.uint64(entry)]
            if is_replay:
                if state & 6:
                    a_row[asked], a_field[asked], a_entry[asked] = row, field, entry
                    asked += 1
                else:
                    r_nulls[row] += state & 1
                continue
            m_seen[one, np.uint64(entry)] += 1
            if state & 16:
                a_row[asked], a_field[asked] = row, field
                a_entry[asked], a_fresh[asked] = entry, False
                asked += 1
                continue
            if state:
                r_flags[row] |= state & 10
                r_nulls[row] += state & 1
                if state & 5:
                    t_nulls[one] += 1
            if slot >= 0 and not state & 5:
                r_digests[row, to] = m_digest[one, np.uint64(entry)]
            if number >= 0:
                r_numbers[number_at, row] = m_number[one, np.uint64(entry)]
            if day >= 0:
                r_days[row, day_at] = m_day[one, np.uint64(entry)]
            continue
        if is_kept and kind != 0 and not is_free:
            ok, value, scale, local = prove(kind, sign, zone, low, high, field, data, first, last)
        if not ok:
            is_fresh = False
            if is_open and not is_replay:
                entry = insert(memo, field, place, data, first, last, hashed, 16)
                is_fresh = entry >= 0
                is_open = not m_full[field]
            a_row[asked], a_field[asked] = row, field
            a_entry[asked], a_fresh[asked] = entry, is_fresh
            asked += 1
        elif not is_replay:
            digest, real = np.uint64(0), 0.0
            if slot >= 0 or (is_open and is_kept):
                digest = digest_of_proved(kind, data, first, last, value, scale, seed)
            if slot >= 0:
                r_digests[row, to] = digest
            if number >= 0:
                real = float_of(kind, value, scale, powers)
                r_numbers[number_at, row] = real
            if day >= 0:
                r_days[row, day_at] = local // 86400
            if kind >= 4:
                if value < t_least[one, np.uint64(scale)]:
                    t_least[one, np.uint64(scale)] = value
                    t_shifts[field, 0] = local - value
                if value > t_greatest[one, np.uint64(scale)]:
                    t_greatest[one, np.uint64(scale)] = value
                    t_shifts[field, 1] = local - value
            if is_open and is_kept:
                entry = insert(memo, field, place, data, first, last, hashed, 0)
                is_open = not m_full[field]
                if entry >= 0:
                    m_digest[field, entry], m_number[field, entry] = digest, real
                    m_day[field, entry] = local // 86400
    return asked, WHOLE
