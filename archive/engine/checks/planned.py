"""Planned against achieved: how many animals, sessions or units the data hold, over all tables."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from archive.engine.checks.chunk import Chunk
from archive.engine.codes import found
from archive.engine.facts import Planned
from archive.engine.findings import Finding
from archive.engine.intervals import codes_of
from archive.engine.roles import FieldRole, fields_with_role


class PlannedNumbers:
    """Count the different values of each planned role over the whole package."""

    def __init__(self, planned: Sequence[Planned]) -> None:
        self.planned = {FieldRole(item.role): item.number for item in planned}
        self.seen: dict[FieldRole, set[str]] = {}

    def for_table(self, schema: Mapping[str, Any]) -> "CountRoles":
        """Give the check that counts one table's columns into this one."""
        return CountRoles(self, {role: fields_with_role(schema, role) for role in self.planned})

    def close(self) -> Iterator[Finding]:
        """Compare each role that the data have with its planned number."""
        for role, codes in self.seen.items():
            number = self.planned[role]
            if len(codes) != number:
                message = f"The plan says {number:,} of “{role}”; the data hold {len(codes):,}."
                yield found("planned-numbers", message, value=len(codes))


class CountRoles:
    """Count one table's columns with a planned role."""

    def __init__(self, whole: PlannedNumbers, fields: Mapping[FieldRole, list[str]]) -> None:
        self.whole = whole
        self.fields = fields
        self.reads = tuple(name for names in fields.values() for name in names)

    def look(self, chunk: Chunk) -> Iterator[Finding]:
        """Take note of a chunk of rows; nothing is said before the package's end."""
        for role, names in self.fields.items():
            for name in names:
                codes = set(codes_of(chunk.columns.get(name, ()))) - {""}
                self.whole.seen.setdefault(role, set()).update(codes)
        yield from ()

    def close(self) -> Iterator[Finding]:
        """Nothing is left to say."""
        yield from ()
