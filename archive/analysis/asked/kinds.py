"""What can be asked of a table, and which columns each analysis needs. No numbers are loaded."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from archive.engine.roles import FieldRole, fields_of, role_of
from registry.design import bounds

_NUMBERS = frozenset({"integer", "number"})
_DAYS = frozenset({"date", "datetime"})
R = FieldRole


@dataclass(frozen=True, slots=True)
class Slot:
    """A column that an analysis needs, or may use.

    Parameters
    ----------
    name : str
    roles : tuple of FieldRole
        Roles of the columns that are proposed, the likeliest first.
    types : frozenset of str
        Table Schema types that it takes; empty takes any.
    is_needed : bool, default True
    """

    name: str
    roles: tuple[FieldRole, ...]
    types: frozenset[str] = frozenset()
    is_needed: bool = True


@dataclass(frozen=True, slots=True)
class Kind:
    """An analysis that can be asked.

    Parameters
    ----------
    name : str
        As its address has it.
    slots : tuple of Slot
    options : tuple of str
        Names of what else may be said.
    """

    name: str
    slots: tuple[Slot, ...]
    options: tuple[str, ...] = ()


_UNIT = Slot("unit", (R.UNIT, R.GROUP, R.ANIMAL))
_ARM = Slot("treatment", (R.TREATMENT,), is_needed=False)
_BESIDE = ("reference", "test", "planned")

KINDS: dict[str, Kind] = {
    one.name: one
    for one in (
        Kind(
            "budget",
            (
                Slot("animal", (R.ANIMAL, R.GROUP, R.UNIT)),
                Slot("behaviour", (R.BEHAVIOUR, R.OUTCOME)),
                Slot("session", (R.SESSION,), is_needed=False),
                Slot("time", (R.TIME,), frozenset({"datetime"}), is_needed=False),
            ),
            ("unseen",),
        ),
        Kind(
            "space",
            (
                Slot("animal", (R.ANIMAL, R.GROUP, R.UNIT)),
                Slot("zone", (R.PLACE, R.OUTCOME), is_needed=False),
            ),
            ("counts", "areas"),
        ),
        Kind(
            "comparison",
            (
                Slot("outcome", (R.OUTCOME,), _NUMBERS),
                Slot("of", (), _NUMBERS, is_needed=False),
                _UNIT,
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "growth",
            (
                Slot("mass", (R.OUTCOME,), _NUMBERS),
                Slot("time", (R.TIME,), _DAYS),
                _UNIT,
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "hatching",
            (
                Slot("fertile", (R.COVARIATE, R.OUTCOME), _NUMBERS),
                Slot("hatched", (R.OUTCOME,), _NUMBERS),
                Slot("laid", (), _NUMBERS, is_needed=False),
                Slot("unit", (R.UNIT, R.PLACE, R.GROUP)),
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "survival",
            (
                Slot("time", (R.OUTCOME,), _NUMBERS),
                Slot("happened", (), is_needed=False),
                Slot("unit", (R.UNIT, R.PLACE, R.GROUP, R.ANIMAL)),
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "agreement",
            (
                Slot("moment", (R.TIME, R.COVARIATE)),
                Slot("observer", (R.OBSERVER,)),
                Slot("behaviour", (R.BEHAVIOUR,)),
                Slot("session", (R.SESSION,), is_needed=False),
            ),
        ),
        Kind(
            "cohorts",
            (Slot("outcome", (R.OUTCOME,), _NUMBERS), _UNIT, Slot("treatment", (R.TREATMENT,))),
            ("reference", "arm", "versions", "planned"),
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Request:
    """An analysis as it was asked.

    Parameters
    ----------
    kind : str
        A key of `KINDS`.
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
        if types.get(name) not in _NUMBERS:
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


PLANNED: dict[str, frozenset[str]] = {
    "TankMeans": frozenset({"unit_t", "welch_t", "as_randomised"}),
    "TwoGroups": frozenset({"unit_t", "welch_t", "as_randomised"}),
    "SeveralGroups": frozenset({"unit_f", "among_arms_as_randomised"}),
    "RankedGroups": frozenset({"rank_sum"}),
    "Pairs": frozenset({"paired_t"}),
    "Followed": frozenset({"unit_t"}),
    "RankedPairs": frozenset({"signed_ranks"}),
    "TankShares": frozenset({"logit_t", "quasi_binomial", "as_randomised"}),
    "Waiting": frozenset({"tank_log_rank"}),
}
"""The design of a plan's replication, and the tests that it reckons with."""
