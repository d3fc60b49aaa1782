"""One table judged the fast way: findings, checks of our own, and its columns at a glance."""

import secrets
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from archive.engine.checks.categories import Categories
from archive.engine.checks.chunk import Check, Chunk
from archive.engine.checks.null_in_key import NullInKey
from archive.engine.checks.over_time import OverTime
from archive.engine.checks.unique_keys import UniqueKeys
from archive.engine.checks.vanished import Vanished
from archive.engine.fast.first_pass import OWN, Watcher
from archive.engine.fast.glance import Glance
from archive.engine.fast.keys import DigestSet
from archive.engine.fast.links import near_links_only
from archive.engine.fast.plan import Odd, Reader, Slow
from archive.engine.fast.run import FastTable
from archive.engine.fast.scan import NO_BOUNDS, Bounds
from archive.engine.fast.stream import Fixity
from archive.engine.fast.watchers import Combinations, PartlyEmpty, Timed, slots_of
from archive.engine.findings import Finding
from archive.engine.limits import Limits
from archive.engine.reports import ColumnSummary
from archive.engine.roles import FieldRole, fields_of, role_of
from archive.engine.summary import MOMENTS, NUMERIC
from archive.engine.translate import translate_row

WINDOW_ROWS = 20_000
FIRST_CHECK_BIT = 31

__all__ = ["FastJudging", "Odd", "Slow", "open_judging"]


def open_judging(
    resource: Any,
    table: str,
    key: tuple[str, ...],
    schema: Any,
    checks: Sequence[Check],
    guard: Callable[[Reader], Reader] | None = None,
) -> "FastJudging":
    """Open a table, and make ready to judge it the fast way.

    Raises
    ------
    Slow
        When it must be read the slow way.
    frictionless.FrictionlessException
        When it cannot be opened.
    """
    seed = np.uint64(secrets.randbits(63))
    with near_links_only(resource, seed) as linked:
        resource.open()
    return FastJudging(resource, table, key, schema, checks, linked=linked, seed=seed, guard=guard)


@dataclass(slots=True)
class Watched:
    """A check of our own, and the bits of the rows that it must see."""

    check: Check
    bits: int


class FastJudging:
    """Judges an opened table.

    Parameters
    ----------
    resource : frictionless.Resource
        Opened.
    table : str
    key : tuple of str
        Its primary key.
    schema : mapping
        The descriptor's schema, with roles and units.
    checks : sequence of Check
    linked : mapping of (table, columns) to DigestSet
    seed : numpy.uint64
        Of the digests in `linked`.
    guard : callable, optional
        Laid around the reader of each column with a pattern.

    Raises
    ------
    Slow
    """

    def __init__(
        self,
        resource: Any,
        table: str,
        key: tuple[str, ...],
        schema: Any,
        checks: Sequence[Check],
        *,
        linked: dict[tuple[str, tuple[str, ...]], DigestSet],
        seed: np.uint64,
        guard: Callable[[Reader], Reader] | None = None,
    ) -> None:
        self.name = table
        self.key = key
        fields = fields_of(schema)
        self.time = next(
            (
                field["name"]
                for field in fields
                if role_of(field) is FieldRole.TIME and field.get("type") in {"date", "datetime"}
            ),
            "",
        )
        numbers = [field["name"] for field in fields if field.get("type") in NUMERIC | MOMENTS]
        own_keys = [key for one in checks if isinstance(one, UniqueKeys) for key in one.seen]
        codes = [one for one in checks if isinstance(one, Categories)]
        over_time = [one for one in checks if isinstance(one, OverTime)]
        self.fast = FastTable(
            resource,
            linked=linked,
            numbers=numbers,
            days=[self.time] if self.time else [],
            digested=[
                *(name for one in checks for name in one.reads or () if name != self.time),
                *(name for one in over_time for name in one.codes),
            ],
            judged={name: one.codes[name] for one in codes for name in one.reads},
            own_keys=own_keys,
            seed=seed,
            guard=guard,
            is_counted=True,
        )
        present = [name for name in numbers if name in self.fast.place]
        self.glance = Glance(table, fields, present)
        self.watchers: list[Watcher] = [self.glance]
        self.names: dict[str, dict[int, str]] = {}
        self.checks = checks
        self.watched = self._watch(checks)

    def _watch(self, checks: Sequence[Check]) -> list[Watched]:
        watched, bit = [], 1 << FIRST_CHECK_BIT
        taken = max((key.bit for key in [*self.fast.keys, *self.fast.own]), default=OWN)
        for check in checks:
            if isinstance(check, UniqueKeys):
                watched.append(Watched(check, sum(key.bit for key in self.fast.own)))
                continue
            if isinstance(check, OverTime):
                self.watchers.append(self._timed(check))
                continue
            if isinstance(check, Categories):
                watched.append(Watched(check, OWN))
                continue
            if check.reads is None or bit <= taken:
                raise Slow("a check must see every row")
            # The keys of drafts are compared at the end; without a column there is nothing to see.
            if not set(check.reads) & set(self.fast.place):
                continue
            if isinstance(check, NullInKey):
                if not set(check.reads) <= set(self.fast.place):
                    continue
                slots = np.array([self.fast.slots[self.fast.place[n]] for n in check.reads])
                self.watchers.append(PartlyEmpty(bit, slots))
            else:
                slots = slots_of(check, self.fast, self.time)
                has_day = self.time in check.reads and self.time in self.fast.place
                day = 0 if has_day else -1
                self.watchers.append(Combinations(check, bit, slots, day, self._shown))
            watched.append(Watched(check, bit))
            bit >>= 1
        return watched

    def _timed(self, check: OverTime) -> Timed:
        """Have a check see every row; its codes are told apart by digest, and named by the memo."""
        place = self.fast.place
        check.name = self._name
        return Timed(
            check,
            {name: self.fast.slots[place[name]] for name in check.codes if name in place},
            {name: self.fast.numbers[place[name]] for name in check.when.names if name in place},
            self.fast.source.first_row,
        )

    def _name(self, column: str, digest: int) -> str:
        if column not in self.names:
            at, memo = self.fast.place[column], self.fast.verdicts.memo
            told = memo.digest[at, : memo.size[at]].view(np.int64).tolist()
            self.names[column] = {one: memo.text(at, entry) for entry, one in enumerate(told)}
        at, text = self.fast.place[column], self.names[column].get(digest, "")
        return str(self.fast.verdicts.read(at, text)[0])

    def _shown(self, check: Check, rows: Sequence[tuple[int, list[str]]]) -> Chunk:
        """Make a chunk of some rows, with the columns that a check reads."""
        place, read = self.fast.place, self.fast.verdicts.read
        return Chunk(
            rows=[self.fast.source.first_row + number for number, _ in rows],
            columns={
                name: [
                    read(place[name], cells[place[name]] if place[name] < len(cells) else None)[0]
                    for _, cells in rows
                ]
                for name in check.reads or ()
                if name in place
            },
            written=[cells for _, cells in rows],
            places=place,
        )

    def read(
        self,
        progress: Callable[[int], None] | None = None,
        sha256: str = "",
        limits: Limits | None = None,
    ) -> int:
        """Read the table once, and give the number of its rows; nothing is told before its end.

        `sha256` is the file's digest where it has been made already; `limits` are those of a file
        that nobody looked at before.

        Raises
        ------
        Slow
        """
        count = self.fast.read(
            self.watchers,
            progress,
            sha256=sha256,
            bounds=Bounds(True, limits.columns, limits.cell_bytes) if limits else NO_BOUNDS,
            most_rows=limits.table_rows if limits else None,
        ).count
        for one in self.watchers:
            for name in one.slots if isinstance(one, Timed) else ():
                if self.fast.verdicts.memo.partial[self.fast.place[name]]:
                    raise Slow(f"“{name}” has very many different values")
        return count

    @property
    def fixity(self) -> Fixity:
        """Size and digests of the file, once it was read."""
        assert self.fast.first is not None
        return self.fast.first.stream.fixity

    def findings(self) -> Iterator[list[Finding]]:
        """Give what is wrong with the rows, some rows at a time, by row."""
        for some in self.fast.suspects():
            told = [
                translate_row(mould, row, self.name, self.key)
                for mould, row, _ in self.fast.errors_of(some)
            ]
            for watched in self.watched:
                rows = [
                    (place, self.fast.cut(record))
                    for place, mask, record in zip(
                        some.places, some.masks, some.records, strict=True
                    )
                    if mask & watched.bits
                ]
                if rows:
                    told += watched.check.look(self._shown(watched.check, rows))
            told.sort(key=lambda finding: finding.row or 0)
            yield told

    def told_at_the_end(self) -> Iterator[Finding]:
        """Give what only the whole table can tell."""
        for check in self.checks:
            if isinstance(check, Vanished):
                self._compare(check)
            yield from check.close()

    def _compare(self, check: Vanished) -> None:
        """Show the check the keys of every row, as they stand in the file."""
        names = check.draft.key or tuple(self.fast.place)
        if not set(names) <= set(self.fast.place):
            return
        with self.fast.source.path.open(encoding="utf-8-sig", newline="") as file:
            records = self.fast.source.records(file)
            held: list[list[str]] = []
            for number, cells in enumerate(records, start=1):
                if number >= self.fast.source.first_row:
                    held.append(cells)
                if len(held) == WINDOW_ROWS:
                    list(check.look(self._written(held)))
                    held = []
        list(check.look(self._written(held)))

    def _written(self, rows: list[list[str]]) -> Chunk:
        numbers = list(range(len(rows)))
        return Chunk(rows=numbers, columns={}, written=rows, places=self.fast.place)

    def columns(self) -> tuple[tuple[ColumnSummary, ...], list[Finding]]:
        """Give the columns at a glance, and the numbers that stand far from their column."""
        assert self.fast.first is not None
        return self.glance.close(self.fast.first, self.fast)

    def close(self) -> None:
        """Let go of what was put aside on disk."""
        self.glance.discard()
