"""A table judged the fast way, with just the errors that frictionless would give.

Notes
-----
1. frictionless opens the table: encoding, layout, header, expected columns.
2. One pass (`first_pass`): a compiled kernel proves cells good; frictionless' own readers are
   asked once about each distinct text that it cannot prove; keys are digests, 8 bytes a row.
3. A second pass (`second_pass`) fetches the rows that may be faulty, and `replay` judges them in
   order with frictionless' own readers. A digest that collides costs a second look there and
   nothing else, save where it says that a name stands in another table. Each different text of a
   column that links to a small table is therefore held against the keys themselves, up to the
   10,000 that are remembered of a column. Beyond those, and in large tables, whose keys are known
   as digests alone, a match is taken by its digest: wrong with a chance of n / 2**64 a row, n
   being the number of keys.
"""

import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from archive.engine.fast.first_pass import FirstPass, KeyDigests, Watcher
from archive.engine.fast.keys import DigestSet, digest_of, known_keys
from archive.engine.fast.listed import Listed
from archive.engine.fast.memo import NULL, VOID
from archive.engine.fast.plan import Cutter, Reader, Slow, columns_of, kernel_columns, source_of
from archive.engine.fast.prove import INTEGER, NUMBER, TEXT
from archive.engine.fast.render import LightError
from archive.engine.fast.replay import Key, Replay
from archive.engine.fast.scan import NO_BOUNDS, Bounds
from archive.engine.fast.second_pass import listed
from archive.engine.fast.verdicts import Verdicts

FIRST_KEY_BIT = 4
UNHASHABLE = frozenset({"array", "object", "geojson", "list"})


class FastTable:
    """One opened table.

    Parameters
    ----------
    resource : frictionless.Resource
        Opened; its foreign keys looked up by frictionless itself or named in `linked`.
    linked : mapping of (table, columns) to DigestSet, optional
        The keys of tables that were too large for that.
    numbers, days : sequence of str
        Columns whose numbers or days the watchers want.
    digested : sequence of str
        Columns whose digests they want.
    judged : mapping of column to set of values
        Categories.
    own_keys : sequence of tuple of str
        Unique keys, which frictionless does not look at.
    seed : numpy.uint64, optional
        Of the digests; needed alike where those of two tables are compared.
    guard : callable, optional
        Laid around the reader of each column with a pattern.

    is_counted : bool
        Whether the distinct values of each column are counted.

    Raises
    ------
    Slow
        When the table must be read the slow way.
    """

    def __init__(
        self,
        resource: Any,
        *,
        linked: Mapping[tuple[str, tuple[str, ...]], DigestSet] | None = None,
        numbers: Sequence[str] = (),
        days: Sequence[str] = (),
        digested: Sequence[str] = (),
        judged: Mapping[str, frozenset[Any]] | None = None,
        own_keys: Sequence[Sequence[str]] = (),
        seed: np.uint64 | None = None,
        guard: Callable[[Reader], Reader] | None = None,
        is_counted: bool = False,
    ) -> None:
        self.resource = resource
        self.source = source_of(resource)
        self.columns, self.fields = columns_of(resource, guard)
        self.place = {column.name: at for at, column in enumerate(self.columns)}
        self.seed = np.uint64(secrets.randbits(63)) if seed is None else seed
        self.linked = linked or {}
        self.keys = self._keys()
        self.own = [self._own(key) for key in own_keys if set(key) <= set(self.place)]
        bit = FIRST_KEY_BIT
        for key in [*self.keys, *self.own]:
            key.bit = bit
            bit <<= 1
        if bit >= 1 << 32:
            raise Slow("it has very many keys")
        in_keys = {at for key in [*self.keys, *self.own] for at in key.fields}
        if any(self.columns[at].kind in UNHASHABLE for at in in_keys):
            raise Slow("a list or an object is part of a key")
        wanted = in_keys | {self.place[name] for name in digested if name in self.place}
        wanted |= {at for key in self._self_links() for at in self._source_places(key)}
        self.slots = {at: slot for slot, at in enumerate(sorted(wanted))}
        self.numbers = self._numbered(numbers)
        self.days = self._numbered(days)
        judged = judged or {}
        self.shape = kernel_columns(
            self.columns,
            self.fields,
            slots=self.slots,
            numbers=self.numbers,
            days=self.days,
            judged=frozenset(judged),
        )
        keyed = frozenset(self.slots)
        far = {
            at
            for key in self.keys
            if key.kind == "foreign" and key.lookup is None
            for at in key.fields
        }
        self.verdicts = Verdicts(
            self.columns, self.fields, self.seed, judged, keyed, frozenset(far)
        )
        if not is_counted:
            # Texts and numbers are sooner proved again than found among those seen before.
            kept = self.verdicts.memo.kept
            kept[[one in (TEXT, INTEGER, NUMBER) for one in self.shape.kind]] = False
            for key in self._near_links():
                kept[list(key.fields)] = True
        self.cut = Cutter(self.source)
        self.replay = Replay(self.columns, self.keys, self.verdicts, self.cut)
        self.first: FirstPass | None = None

    def _numbered(self, names: Sequence[str]) -> dict[int, int]:
        present = [name for name in names if name in self.place]
        return {self.place[name]: number for number, name in enumerate(present)}

    # -------------------------------------------------------------- keys

    def _keys(self) -> list[Key]:
        """Give the keys in the order in which frictionless looks at them."""
        keys = [
            Key("unique", (at,))
            for at, field in enumerate(self.fields)
            if field.constraints.get("unique")
        ]
        schema = self.resource.schema
        primary = list(schema.primary_key)
        if primary and set(primary) <= set(self.place):
            keys.append(Key("primary", tuple(self.place[name] for name in primary)))
        for link in schema.foreign_keys:
            names, there = tuple(link["fields"]), link["reference"]
            if not set(names) <= set(self.place):
                continue
            key = Key("foreign", tuple(self.place[name] for name in names), names=names)
            key.source, key.source_names = there["resource"], tuple(there["fields"])
            lookup = self.resource.lookup.get(key.source)
            if lookup is not None:
                key.lookup = lookup.get(key.source_names, set())
                keys.append(key)
            elif (key.source, key.source_names) in self.linked or self._is_self(key):
                keys.append(key)
            else:
                raise Slow("a foreign key leads to a table that was not looked up")
        return keys

    def _own(self, names: Sequence[str]) -> Key:
        return Key("own", tuple(self.place[name] for name in names))

    def _is_self(self, key: Key) -> bool:
        return key.source in {"", self.resource.name}

    def _self_links(self) -> list[Key]:
        return [
            key
            for key in self.keys
            if key.kind == "foreign"
            and key.lookup is None
            and (key.source, key.source_names) not in self.linked
        ]

    def _near_links(self) -> list[Key]:
        return [key for key in self.keys if key.kind == "foreign" and key.lookup is not None]

    def _source_places(self, key: Key) -> list[int]:
        if not set(key.source_names) <= set(self.place):
            raise Slow("a foreign key leads to columns that are not there")
        return [self.place[name] for name in key.source_names]

    def _digests(self) -> list[KeyDigests]:
        held = []
        for key in [*self.keys, *self.own]:
            one = KeyDigests(key, self._slots(key.fields))
            if key.kind == "foreign":
                if key.lookup is not None:
                    one.known = known_keys(list(key.lookup), len(key.fields), self.seed)
                elif (key.source, key.source_names) in self.linked:
                    one.known = self.linked[key.source, key.source_names]
                else:
                    there = tuple(self._source_places(key))
                    one.source = KeyDigests(Key("source", there), self._slots(there))
                    held.append(one.source)
            held.append(one)
        return held

    def _slots(self, fields: Sequence[int]) -> Any:
        return np.array([self.slots[at] for at in fields], np.int64)

    # -------------------------------------------------------------- the passes

    def read(
        self,
        watchers: Sequence[Watcher] = (),
        progress: Callable[[int], None] | None = None,
        also: Sequence[KeyDigests] = (),
        sha256: str = "",
        bounds: Bounds = NO_BOUNDS,
        most_rows: int | None = None,
    ) -> FirstPass:
        """Read the table once; nothing is told before its end.

        `sha256` is the file's digest where it has been made already; `bounds` and `most_rows` are
        asked of a file that nobody looked at before.

        Raises
        ------
        Slow
        """
        hashed = str(self.resource.hash or "")
        needs_md5 = bool(hashed) and not hashed.startswith("sha256")
        self.first = FirstPass(
            self.source,
            self.shape,
            self.verdicts,
            [*self._digests(), *also],
            watchers,
            progress,
            needs_md5=needs_md5,
            is_hashed=needs_md5 or not sha256,
            bounds=bounds,
            most_rows=most_rows,
        )
        self.first.run()
        self._hold_links_by_value()
        stats, fixity = self.resource.stats, self.first.stream.fixity
        stats.bytes, stats.rows = fixity.bytes, self.first.count
        stats.sha256 = fixity.sha256 or sha256
        if fixity.md5:
            stats.md5 = fixity.md5
        return self.first

    def _hold_links_by_value(self) -> None:
        """Hold each text found by its digest against the keys of the other table.

        Raises
        ------
        Slow
            When two unequal values have one digest.
        """
        memo = self.verdicts.memo
        for key in self._near_links():
            for number, at in enumerate(key.fields):
                there = self._by_digest([values[number] for values in key.lookup or ()])
                size = int(memo.size[at])
                digests = memo.digest[at, :size].tolist()
                sound = ((memo.state[at, :size] & (NULL | VOID)) == 0).tolist()
                for entry in range(size):
                    if sound[entry] and digests[entry] in there:
                        value = self.verdicts.read(at, memo.text(at, entry))[0]
                        if value != there[digests[entry]]:
                            raise Slow("two of its values have one digest")

    def _by_digest(self, values: Sequence[Any]) -> dict[int, Any]:
        found: dict[int, Any] = {}
        for value in values:
            if found.setdefault(int(digest_of(value, self.seed)), value) != value:
                raise Slow("two values of a key have one digest")
        return found

    def suspects(self) -> Iterator[Listed]:
        """Give the rows that may be faulty, in order, some at a time."""
        assert self.first is not None
        return listed(self.first, self.first.wanted())

    def errors_of(self, some: Listed) -> Iterator[LightError]:
        """Judge listed rows as frictionless does."""
        return self.replay.errors(some, self.source.first_row)

    def errors(self) -> Iterator[LightError]:
        """Read the table, and give the errors of its rows in order."""
        self.read()
        for some in self.suspects():
            yield from self.errors_of(some)
