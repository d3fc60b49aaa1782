"""What the next cohort may change in a dictionary without breaking the tables that there are.

Each piece of advice is tried: the change is made in a copy, and compared with what was.
"""

import copy
from collections.abc import Callable, Mapping
from typing import Any

from archive.engine.roles import ETHOGRAM, UNIT, fields_of, primary_key
from archive.extending.changes import Verdict
from archive.extending.comparing import compare
from archive.extending.fields import kind_of
from archive.extending.limits import LOWER, UPPER, limits_of, some

type Field = dict[str, Any]

_NEW = "a_new_one"


def may_change(descriptor: Mapping[str, Any]) -> list[str]:
    """Say in words what may change, and every old table is valid still and means the same.

    Parameters
    ----------
    descriptor : mapping
        The newest version of a dictionary, as it was published.
    """
    said = [
        words.format(some([f"“{name}”" for name in names]))
        for words, edit in _EDITS
        if (names := _changeable(descriptor, edit))
    ]
    if may_add_column(descriptor):
        said.append("Add a column that may be left out; old tables do without it.")
    return [
        *said,
        "Add a table of its own.",
        "Say titles and descriptions better, where they mean the same.",
    ]


def may_add_column(descriptor: Mapping[str, Any]) -> bool:
    """Whether a column more leaves every old table valid."""
    tables = _with_schema(descriptor)
    return bool(tables) and all(
        _holds(descriptor, at, lambda schema: schema["fields"].append({"name": _NEW}))
        for at in tables
    )


def _with_schema(descriptor: Mapping[str, Any]) -> list[int]:
    return [
        at
        for at, table in enumerate(descriptor["resources"])
        if isinstance(table.get("schema"), Mapping)
    ]


def _changeable(
    descriptor: Mapping[str, Any], edit: Callable[[Field, Mapping[str, Any]], bool]
) -> list[str]:
    """Name the fields to which an edit can be made, and leaves the dictionary compatible."""
    names = []
    for at in _with_schema(descriptor):
        schema = descriptor["resources"][at]["schema"]
        for number, field in enumerate(fields_of(schema)):
            if not edit(copy.deepcopy(field), schema):
                continue
            if _holds(
                descriptor,
                at,
                lambda new, at=number: edit(fields_of(new)[at], new),  # type: ignore[misc]  # why: the number is bound in its turn
            ):
                names.append(str(field.get("title") or field["name"]))
    return list(dict.fromkeys(names))


def _holds(
    descriptor: Mapping[str, Any], at: int, edit: Callable[[dict[str, Any]], object]
) -> bool:
    changed = copy.deepcopy(dict(descriptor))
    edit(changed["resources"][at]["schema"])
    return compare(descriptor, changed).verdict is Verdict.COMPATIBLE


# ------------------------------------------------------------------ edits; each says if it applies


def _more_codes(field: Field, _schema: Mapping[str, Any]) -> bool:
    listed = field.get("categories")
    if not isinstance(listed, list):
        return False
    listed.append(_NEW)
    if ETHOGRAM in field:
        field[ETHOGRAM].append({"code": _NEW, "name": _NEW, "kind": "state", "definition": _NEW})
    return True


def _wider(field: Field, _schema: Mapping[str, Any]) -> bool:
    limits = limits_of(field)
    bounds = {name for name in limits if name in {*LOWER, *UPPER, "minLength", "maxLength"}}
    field["constraints"] = {name: limits[name] for name in limits if name not in bounds}
    return bool(bounds)


def _left_empty(field: Field, schema: Mapping[str, Any]) -> bool:
    limits = limits_of(field)
    field["constraints"] = {name: limits[name] for name in limits if name != "required"}
    return "required" in limits and field["name"] not in primary_key(schema)


def _decimals(field: Field, schema: Mapping[str, Any]) -> bool:
    if kind_of(field) != "integer" or field["name"] in primary_key(schema):
        return False
    field["type"] = "number"
    return True


def _with_unit(field: Field, _schema: Mapping[str, Any]) -> bool:
    if kind_of(field) not in {"integer", "number"} or field.get(UNIT):
        return False
    field[UNIT] = "1"
    return True


_EDITS: list[tuple[str, Callable[[Field, Mapping[str, Any]], bool]]] = [
    ("Add codes to the list of {}.", _more_codes),
    ("Widen the limits of {}.", _wider),
    ("Let {} be left empty.", _left_empty),
    ("Let {} hold decimals.", _decimals),
    ("Say the unit of {}, if the old values are in it.", _with_unit),
]
