"""Suspect rows judged again, one by one and in order, as frictionless' row stream judges them.

References
----------
frictionless 5.21, ``TableResource.__open_row_stream`` and ``Row.__process``: the order of errors
is theirs. Columns of keys are read first; the first error of a key has the rest of the row read.
"""

from collections.abc import Collection, Hashable, Sequence
from dataclasses import dataclass, field
from typing import Any

from archive.engine.fast.plan import Column
from archive.engine.fast.render import LightError
from archive.engine.fast.verdicts import Verdicts


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
    """

    kind: str
    fields: tuple[int, ...]
    bit: int = 0
    names: tuple[str, ...] = ()
    source: str = ""
    source_names: tuple[str, ...] = ()
    lookup: Collection[tuple[Any, ...]] | None = None
    seen: dict[Hashable, int] = field(default_factory=dict)


class Replay:
    """Judges rows that may be faulty.

    Parameters
    ----------
    columns : sequence of Column
    keys : sequence of Key
        Those of frictionless, in the order in which it looks at them.
    verdicts : Verdicts
    """

    def __init__(self, columns: Sequence[Column], keys: Sequence[Key], verdicts: Verdicts) -> None:
        self.columns = columns
        self.keys = keys
        self.verdicts = verdicts
        self.key_bits = sum(key.bit for key in keys)
        self.read_first = list(dict.fromkeys(at for key in keys for at in key.fields))

    def judge(
        self, row: int, cells: list[str], asked: Sequence[int], nulls: int, mask: int
    ) -> list[LightError]:
        """Give the errors of one row.

        Parameters
        ----------
        row : int
            Its number in the file.
        cells : list of str
        asked : sequence of int
            Columns whose cells were not proved good, in order.
        nulls : int
            How many of the other columns are empty.
        mask : int
            With the bits of the keys in which the row may be faulty.
        """
        one = _Row(self, row, cells, asked, nulls)
        if mask & self.key_bits:
            for key in self.keys:
                for at in key.fields:
                    one.look(at)
                if mask & key.bit:
                    one.hold(key)
        else:
            for at in self.read_first:
                one.look(at)
        one.look_at_the_rest()
        return one.errors


class _Row:
    """One row while it is judged."""

    def __init__(
        self, replay: Replay, number: int, cells: list[str], asked: Sequence[int], nulls: int
    ) -> None:
        self.columns = replay.columns
        self.verdicts = replay.verdicts
        self.number = number
        self.cells = cells
        self.nulls = nulls
        self.open = dict.fromkeys([*asked, *range(len(cells), len(replay.columns))])
        self.errors: list[LightError] = []
        self.is_whole = False

    def value(self, at: int) -> Any:
        return self.verdicts.read(at, self.cells[at] if at < len(self.cells) else None)[0]

    def look(self, at: int) -> None:
        """Read one cell, and note what is wrong with it."""
        if at not in self.open:
            return
        del self.open[at]
        text = self.cells[at] if at < len(self.cells) else None
        value, notes = self.verdicts.read(at, text)
        if notes is None:
            self.nulls += value is None
            return
        if value is None and "type" not in notes:
            self.nulls += 1
        # frictionless tells a wrong type by itself, and looks at no bound of such a cell.
        for name, note in notes.items():
            kind = "type-error" if name == "type" else "constraint-error"
            self.errors.append(self.of_cell(kind, note, at, str(text)))

    def of_cell(self, kind: str, note: str, at: int, cell: str) -> LightError:
        return LightError(
            kind,
            note,
            self.number,
            self.cells,
            cell=cell,
            field_name=self.columns[at].name,
            field_number=self.columns[at].number,
        )

    def look_at_the_rest(self) -> None:
        """Read the cells that no key has read, then count them."""
        if self.is_whole:
            return
        self.is_whole = True
        for at in sorted(self.open):
            self.look(at)
        count = len(self.columns)
        if len(self.cells) == count != self.nulls:
            return
        for at, cell in enumerate(self.cells[count:], start=count):
            error = LightError("extra-cell", "", self.number, self.cells, cell, "", at + 1)
            self.errors.append(error)
        for at in range(len(self.cells), count):
            self.errors.append(self.of_cell("missing-cell", "", at, ""))
        if self.nulls == count:
            self.errors = [LightError("blank-row", "", self.number, self.cells)]

    def hold(self, key: Key) -> None:
        """Hold the row against the rows before it, or against the other table."""
        values = tuple(self.value(at) for at in key.fields)
        if key.kind == "unique":
            if values[0] is not None and (earlier := self._earlier(key, values[0])):
                self.look_at_the_rest()
                (at,) = key.fields
                self.errors.append(self.of_cell("unique-error", earlier, at, str(values[0])))
        elif key.kind == "primary":
            if set(values) == {None}:
                note = 'cells composing the primary keys are all "None"'
            else:
                note = self._earlier(key, values)
            if note:
                self.look_at_the_rest()
                self.errors.append(LightError("primary-key", note, self.number, self.cells))
        elif set(values) != {None} and (key.lookup is None or values not in key.lookup):
            self.look_at_the_rest()
            self.errors.append(self._unlinked(key, values))

    def _earlier(self, key: Key, value: Hashable) -> str:
        earlier = key.seen.get(value)
        key.seen[value] = self.number
        return f"the same as in the row at position {earlier}" if earlier else ""

    def _unlinked(self, key: Key, values: tuple[Any, ...]) -> LightError:
        said = ", ".join(str(value) for value in values)
        note = (
            f'for "{", ".join(key.names)}": values "{said}" not found in the lookup table'
            f' "{key.source}" as "{", ".join(key.source_names)}"'
        )
        return LightError(
            "foreign-key",
            note,
            self.number,
            self.cells,
            field_names=list(key.names),
            field_cells=["" if value is None else str(value) for value in values],
            reference_name=key.source,
            reference_field_names=list(key.source_names),
        )
