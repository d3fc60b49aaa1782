"""frictionless' own cell readers, asked once for each distinct text."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from archive.engine.counted import moment_of
from archive.engine.fast.keys import digest_of, padded
from archive.engine.fast.memo import BAD, NULL, OURS, VOID, Memo, empty_memo, insert, look_up
from archive.engine.fast.plan import Column, Slow, bits, missing_of
from archive.engine.fast.prove import hash_bytes
from archive.engine.fast.scan import NO_DAY, Asks, Rows, Tallies

KEPT = 20_000
_EPOCH = date(1970, 1, 1).toordinal()

Read = tuple[Any, dict[str, str] | None]


class Verdicts:
    """Answers the kernel's questions, and keeps the answers.

    Parameters
    ----------
    columns : sequence of Column
    fields : sequence of frictionless.Field
    seed : numpy.uint64
        Of the digests; another one in each process.
    judged : mapping of column to set of values
        The categories of a column, which frictionless does not look at.
    keyed : frozenset of int
        Columns whose values must have a digest.
    linked : frozenset of int
        Columns that are sought in another table by their digests alone.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        fields: Sequence[Any],
        seed: np.uint64,
        judged: Mapping[str, frozenset[Any]],
        keyed: frozenset[int] = frozenset(),
        linked: frozenset[int] = frozenset(),
    ) -> None:
        self.columns = columns
        self.seed = seed
        self.keyed = keyed
        self.linked = linked
        self.judged = [judged.get(column.name) for column in columns]
        self.memo: Memo = empty_memo(len(columns))
        self.spans: dict[tuple[int, bool], tuple[Any, Any]] = {}
        self._kept: list[dict[str, Read]] = [{} for _ in columns]
        for at, field in enumerate(fields):
            for text in missing_of(field):
                if text:
                    self._preload(at, text)

    def read(self, field: int, text: str | None) -> Read:
        """Read one cell as frictionless does: its typed value, and the notes on it."""
        if text is None:
            return self.columns[field].reader(None)
        kept = self._kept[field]
        if text in kept:
            value, notes = kept[text]
        else:
            value, notes = self.columns[field].reader(text)
            if len(kept) < KEPT and len(text) < 200 and not _is_no_number(value):
                kept[text] = value, notes
        return value, notes

    def _preload(self, field: int, text: str) -> None:
        data, length = padded(text)
        hashed = np.uint64(hash_bytes(data, 0, length, self.seed))
        entry, place = look_up(self.memo, field, data, 0, length, hashed)
        if entry < 0:
            entry = insert(self.memo, field, np.uint64(place), data, 0, length, hashed, 0)
        if entry < 0:
            raise Slow("one of its missing values is too long")
        self._learn(field, entry, text)
        self.memo.seen[field, entry] = 0

    def judge(self, field: int, text: str) -> tuple[int, np.uint64, float, int]:
        """Give a text's bits, digest, number and day.

        Raises
        ------
        Slow
            When frictionless' own reader crashes; it will crash at its row the slow way too.
        """
        try:
            return self._judge(field, text)
        except (MemoryError, Slow):
            raise
        except Exception as fault:
            name = self.columns[field].name
            message = f"the reader of “{name}” broke off ({type(fault).__name__})"
            raise Slow(message) from fault

    def _judge(self, field: int, text: str) -> tuple[int, np.uint64, float, int]:
        value, notes = self.read(field, text)
        if field in self.linked and _is_no_number(value):
            # Its digest equals itself, and it does not: what is no number is found nowhere.
            raise Slow("what is no number is sought in another table")
        state = bits(value, notes)
        codes = self.judged[field]
        if codes is not None and value is not None and value not in codes:
            state |= OURS
        try:
            digest = digest_of(value, self.seed)
        except TypeError:
            if field in self.keyed:
                raise
            # Lists and objects are counted by their text; they are no part of a key.
            digest = digest_of(text, self.seed)
        if isinstance(value, date | time):
            self._stretch(field, value)
        return state, digest, _float(value), _day(value)

    def _learn(self, field: int, entry: int, text: str) -> None:
        memo = self.memo
        (
            memo.state[field, entry],
            memo.digest[field, entry],
            memo.number[field, entry],
            memo.day[field, entry],
        ) = self.judge(field, text)

    def _stretch(self, field: int, value: Any) -> None:
        key = (field, getattr(value, "tzinfo", None) is not None)
        least, greatest = self.spans.get(key, (value, value))
        self.spans[key] = min(least, value), max(greatest, value)

    def answer(
        self, rows: Rows, asks: Asks, asked: int, texts: Any, tallies: Tallies, shape: Any
    ) -> None:
        """Answer what the kernel asked of a chunk, and complete its rows.

        Parameters
        ----------
        texts : callable
            Gives the cells of a row of the chunk.
        """
        if not asked:
            return
        row, field = asks.row[:asked], asks.field[:asked]
        entry, fresh = asks.entry[:asked], asks.fresh[:asked]
        memo = self.memo
        for at in np.flatnonzero(fresh & (entry >= 0)):
            one, number = int(field[at]), int(entry[at])
            self._learn(one, number, memo.text(one, number))
        held = entry >= 0
        known = np.where(held, entry, 0)
        state = memo.state[field, known]
        digest, real = memo.digest[field, known], memo.number[field, known]
        day = memo.day[field, known]
        for at in np.flatnonzero(~held):
            one = int(field[at])
            text = texts(int(row[at]))[one]
            state[at], digest[at], real[at], day[at] = self.judge(one, text)
        np.bitwise_or.at(rows.flags, row, (state & (BAD | OURS)).astype(np.uint8))
        np.add.at(rows.nulls, row, state & NULL)
        np.add.at(tallies.nulls, field, ((state & (NULL | VOID)) > 0).astype(np.int64))
        _place(rows.digests, row, shape.slot[field], digest)
        _place(rows.days, row, shape.day[field], day)
        _place(rows.numbers.T, row, shape.number[field], real)


def _place(
    out: NDArray[Any], row: NDArray[np.int64], column: NDArray[np.int64], values: NDArray[Any]
) -> None:
    wanted = column >= 0
    out[row[wanted], column[wanted]] = values[wanted]


def _is_no_number(value: Any) -> bool:
    # NaN does not equal itself, and so must not be met twice as one object.
    return isinstance(value, float | Decimal) and not Decimal(value).is_finite()


def _float(value: Any) -> float:
    if isinstance(value, bool | str) or value is None:
        return float("nan")
    if isinstance(value, date | time):
        return moment_of(value)
    try:
        return float(value)
    except (OverflowError, TypeError, ValueError):
        return float("nan")


def _day(value: Any) -> int:
    if isinstance(value, datetime):
        value = value.date()
    return value.toordinal() - _EPOCH if isinstance(value, date) else int(NO_DAY)
