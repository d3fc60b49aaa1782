"""An analysis as it was asked, and whether a table can answer it. No numbers are loaded."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from archive.analysis.asked.offered import KINDS
from archive.analysis.asked.slots import NUMBERS, Kind, Slot
from archive.engine.roles import fields_of, role_of
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Request:
    """An analysis as it was asked.

    Parameters
    ----------
    kind : str
        A key of `offered.KINDS`.
    table : str
        Name of the resource.
    columns : mapping of str to str
        Slot to column.
    options : mapping of str to Any
        What JSON holds.
    seed : int, default 1
        Of every draw.
    """

    kind: str
    table: str
    columns: Mapping[str, str]
    options: Mapping[str, Any] = field(default_factory=dict)
    seed: int = 1

    def column(self, slot: str) -> str:
        """Give the column of a slot; "" where none was named."""
        return self.columns.get(slot) or ""

    def as_dict(self) -> dict[str, Any]:
        """Give it as JSON holds it."""
        return {
            "kind": self.kind,
            "table": self.table,
            "columns": dict(self.columns),
            "options": dict(self.options),
            "seed": self.seed,
        }


def checked(request: Request, schema: Mapping[str, Any]) -> Request:
    """Refuse what the table cannot answer.

    Parameters
    ----------
    request : Request
    schema : mapping
        Table Schema of the table that it names.

    Raises
    ------
    Unsound
        Where a needed column is not named, is not there or is of another type.

    Examples
    --------
    >>> asked = Request("space", "scans", {"animal": "ray", "zone": "half"})
    >>> checked(asked, {"fields": [{"name": "ray"}, {"name": "half"}]}).table
    'scans'
    """
    kind = KINDS.get(request.kind)
    if kind is None:
        return bounds.refuse(
            "kind",
            "There is no such analysis.",
            f"“{request.kind[:60]}” is none of: {', '.join(KINDS)}.",
            "Name one of these.",
        )
    types = {one["name"]: str(one.get("type", "any")) for one in fields_of(schema)}
    for slot in kind.slots:
        name = request.column(slot.name)
        if not name and slot.is_needed:
            bounds.refuse(
                slot.name,
                "The analysis was not asked.",
                f"It needs a column for “{slot.name}”.",
                "Name one of the columns of the table.",
            )
        if name and name not in types:
            bounds.refuse(
                slot.name,
                "The analysis was not asked.",
                f"The table has no column “{name[:60]}”.",
                f"Name one of: {', '.join(types)}.",
            )
        if name and slot.types and types[name] not in slot.types:
            bounds.refuse(
                slot.name,
                "The analysis was not asked.",
                f"“{name}” is of type {types[name]}.",
                f"Name a column of type {' or '.join(sorted(slot.types))}.",
            )
    for name in request.options.get("counts") or ():
        if types.get(name) not in NUMBERS:
            bounds.refuse(
                "counts",
                "The analysis was not asked.",
                f"“{name[:60]}” is no column of numbers.",
                "Name the columns that hold the sightings in each zone.",
            )
    return request


def proposed(kind: Kind, schema: Mapping[str, Any]) -> dict[str, str]:
    """Propose a column for each slot that a role of the dictionary fits.

    Examples
    --------
    >>> fields = [{"name": "ray", "x:role": "animal"}, {"name": "half", "x:role": "place"}]
    >>> proposed(KINDS["space"], {"fields": fields})
    {'animal': 'ray', 'zone': 'half'}
    """
    found: dict[str, str] = {}
    for slot in kind.slots:
        name = _first(schema, slot, taken=found.values())
        if name:
            found[slot.name] = name
    return found


def _first(schema: Mapping[str, Any], slot: Slot, taken: Iterable[str]) -> str:
    used = set(taken)
    for role in slot.roles:
        for one in fields_of(schema):
            fits = not slot.types or str(one.get("type", "any")) in slot.types
            if fits and role_of(one) is role and one["name"] not in used:
                return str(one["name"])
    return ""


def fits(kind: Kind, schema: Mapping[str, Any]) -> bool:
    """Say whether the dictionary names a column for everything that an analysis needs."""
    found = proposed(kind, schema)
    return all(slot.name in found for slot in kind.slots if slot.is_needed)
