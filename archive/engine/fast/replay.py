"""Suspect rows judged again, one by one and in order, as frictionless' row stream judges them.

References
----------
frictionless 5.21, ``TableResource.__open_row_stream`` and ``Row.__process``: the order of errors
is theirs. Columns of keys are read first; the first error of a key has the rest of the row read.
"""

from collections.abc import Callable, Collection, Hashable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from archive.engine.fast.listed import COLUMN, EMPTY, NO_ENTRY, Listed
from archive.engine.fast.plan import Column
from archive.engine.fast.render import LightError, Mould, light
from archive.engine.fast.verdicts import KEPT, Verdicts
from archive.engine.translate import key_said

BLANK = Mould("blank-row", "")


@dataclass(slots=True)
class Key:
    """A key of the table, and what was seen of it.

    Parameters
    ----------
    kind : str
        "unique", "primary", "foreign" or "own" (a unique key, which frictionless does not look at).
    fields : tuple of int
        The places of its columns.
    bit : int
        Its bit in the mask of a row.
    names, source, source_names
        The words for a foreign key.
    lookup : set of tuple or None
        The keys of the other table; None where only their digests are known.
    told : dict
        What was said of each name that was looked up, by its cells.
    """

    kind: str
    fields: tuple[int, ...]
    bit: int = 0
    names: tuple[str, ...] = ()
    source: str = ""
    source_names: tuple[str, ...] = ()
    lookup: Collection[tuple[Any, ...]] | None = None
    seen: dict[Hashable, int] = field(default_factory=dict)
    told: dict[tuple[str | None, ...], Mould | None] = field(default_factory=dict)


class Replay:
    """Judges rows that may be faulty.

    Parameters
    ----------
    columns : sequence of Column
    keys : sequence of Key
        Those of frictionless, in the order in which it looks at them.
    verdicts : Verdicts
    cut : callable
        Cuts a record into cells.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        keys: Sequence[Key],
        verdicts: Verdicts,
        cut: Callable[[bytes], list[str]],
    ) -> None:
        self.columns = columns
        self.keys = keys
        self.verdicts = verdicts
        self.cut = cut
        self.count = len(columns)
        self.key_bits = sum(key.bit for key in keys)
        self.rank = self._rank(len(keys))
        self._ranks = [self._rank(number) for number in range(1, len(keys) + 1)]
        self._known: dict[int, tuple[Mould, ...]] = {}

    def _rank(self, held: int) -> list[int]:
        """Say in which order columns are read when the last key held is the first with an error."""
        first = dict.fromkeys(at for key in self.keys[:held] for at in key.fields)
        rank = [*range(self.count)]
        for number, at in enumerate(first):
            rank[at] = number - self.count
        return rank

    def errors(self, some: Listed, first_row: int) -> Iterator[LightError]:
        """Give the errors of listed rows, in order; `first_row` is the number of the table's first.

        Most rows have one cell at fault and nothing else: here they cost no call.
        """
        known, count, key_bits = self._known, self.count, self.key_bits
        for place, mask, record, width, asked, nulls in zip(*some, strict=True):
            row = place + first_row
            if mask & key_bits or width != count or len(asked) != 1 or nulls + 1 >= count:
                yield from self.judge(row, record, width, asked, nulls, mask)
            else:
                (one,) = asked
                for mould in known.get(one) or self._learn(one, record):
                    yield light((mould, row, record))

    def judge(
        self,
        row: int,
        record: bytes,
        width: int,
        asked: tuple[int, ...],
        nulls: int,
        mask: int,
    ) -> list[LightError]:
        """Give the errors of one row.

        Parameters
        ----------
        row : int
            Its number in the file.
        record : bytes
            As it stands in the file.
        width : int
            How many cells it has.
        asked : tuple of int
            The cells that were not proved good, in order: column * `COLUMN` + entry of the memo.
        nulls : int
            How many of the other columns are empty.
        mask : int
            With the bits of the keys in which the row may be faulty.
        """
        if width != self.count or nulls + len(asked) >= self.count:
            return _Row(self, row, record, asked, nulls).judge(mask)
        # Of a row that is whole cells and keys can be wrong, nothing else: most rows end here.
        rank, of_keys = self.rank, list[LightError]()
        if mask & self.key_bits:
            for number, key in enumerate(self.keys):
                if mask & key.bit and (mould := self.hold(key, self.cut(record), row)):
                    rank = rank if of_keys else self._ranks[number]
                    of_keys.append(light((mould, row, record)))
        if len(asked) > 1:
            asked = tuple(sorted(asked, key=lambda one: rank[one // COLUMN]))
        errors = [
            light((mould, row, record))
            for one in asked
            for mould in self._known.get(one) or self._learn(one, record)
        ]
        return errors + of_keys if of_keys else errors

    def _learn(self, one: int, record: bytes) -> tuple[Mould, ...]:
        """Give the errors of a cell, and keep them for each cell with the same text."""
        at, entry = divmod(one, COLUMN)
        if entry == NO_ENTRY:
            return self.moulds(at, self.cut(record)[at])
        text = "" if entry == EMPTY else self.verdicts.memo.text(at, entry)
        made = self._known[one] = self.moulds(at, text)
        return made

    def hold(self, key: Key, cells: list[str], row: int) -> Mould | None:
        """Hold a row against the rows before it, or against the other table."""
        read = self.verdicts.read
        texts = [cells[at] if at < len(cells) else None for at in key.fields]
        if key.kind == "foreign":
            # What is said of a name hangs on nothing but its letters.
            written = tuple(texts)
            if written in key.told:
                return key.told[written]
        values = tuple([read(at, text)[0] for at, text in zip(key.fields, texts, strict=True)])
        if key.kind == "foreign":
            mould = _unlinked(key, values)
            if len(key.told) < KEPT:
                key.told[written] = mould
            return mould
        if key.kind == "unique":
            if values[0] is None or not (earlier := _earlier(key, values[0], row)):
                return None
            return self.of_cell("unique-error", earlier, key.fields[0], str(values[0]))
        if values.count(None) == len(values):
            return Mould("primary-key", 'cells composing the primary keys are all "None"')
        earlier = _earlier(key, values, row)
        return Mould("primary-key", earlier, key_said(texts)) if earlier else None

    def moulds(self, at: int, cell: str | None) -> tuple[Mould, ...]:
        """Give the errors that a cell has, wherever it stands in its column."""
        _, notes = self.verdicts.read(at, cell)
        # frictionless tells a wrong type by itself, and looks at no bound of such a cell.
        return tuple(
            self.of_cell("type-error" if name == "type" else "constraint-error", note, at, cell)
            for name, note in (notes or {}).items()
        )

    def of_cell(self, kind: str, note: str, at: int, cell: str | None) -> Mould:
        """Make the mould of an error of one cell."""
        column = self.columns[at]
        return Mould(kind, note, str(cell), column.name, column.number)


class _Row:
    """One row while it is judged as a whole."""

    def __init__(
        self, replay: Replay, number: int, record: bytes, asked: tuple[int, ...], nulls: int
    ) -> None:
        self.replay = replay
        self.count = replay.count
        self.number = number
        self.record = record
        self.cells = replay.cut(record)
        self.nulls = nulls
        missing = range(len(self.cells), self.count)
        self.open = dict.fromkeys([*(one // COLUMN for one in asked), *missing])
        self.errors: list[LightError] = []
        self.is_whole = False

    def judge(self, mask: int) -> list[LightError]:
        """Read the columns of keys, hold the keys, and read the rest."""
        for key in self.replay.keys:
            for at in key.fields:
                self.look(at)
            if mask & key.bit and (mould := self.replay.hold(key, self.cells, self.number)):
                self.look_at_the_rest()
                self.tell(mould)
        self.look_at_the_rest()
        return self.errors

    def tell(self, mould: Mould) -> None:
        self.errors.append(LightError(mould, self.number, self.record))

    def look(self, at: int) -> None:
        """Read one cell, and note what is wrong with it."""
        if at not in self.open:
            return
        del self.open[at]
        text = self.cells[at] if at < len(self.cells) else None
        value, notes = self.replay.verdicts.read(at, text)
        if value is None and "type" not in (notes or ()):
            self.nulls += 1
        for mould in self.replay.moulds(at, text) if notes else ():
            self.tell(mould)

    def look_at_the_rest(self) -> None:
        """Read the cells that no key has read, then count them."""
        if self.is_whole:
            return
        self.is_whole = True
        for at in sorted(self.open):
            self.look(at)
        if len(self.cells) == self.count != self.nulls:
            return
        for at, cell in enumerate(self.cells[self.count :], start=self.count):
            self.tell(Mould("extra-cell", "", cell, "", at + 1))
        for at in range(len(self.cells), self.count):
            self.tell(self.replay.of_cell("missing-cell", "", at, ""))
        if self.nulls == self.count:
            self.errors = [LightError(BLANK, self.number, self.record)]


def _earlier(key: Key, value: Hashable, row: int) -> str:
    earlier = key.seen.get(value)
    key.seen[value] = row
    return f"the same as in the row at position {earlier}" if earlier else ""


def _unlinked(key: Key, values: tuple[Any, ...]) -> Mould | None:
    if set(values) == {None} or (key.lookup is not None and values in key.lookup):
        return None
    said = ", ".join(str(value) for value in values)
    note = (
        f'for "{", ".join(key.names)}": values "{said}" not found in the lookup table'
        f' "{key.source}" as "{", ".join(key.source_names)}"'
    )
    return Mould(
        "foreign-key",
        note,
        field_names=list(key.names),
        field_cells=["" if value is None else str(value) for value in values],
        reference_name=key.source,
        reference_field_names=list(key.source_names),
    )
