"""A study's dictionary before it is published: sound, and each field with its permanent id.

References
----------
Data Package Standard 2.0, Table Schema (types and constraints); UCUM, the Unified Code for Units
of Measure, section 2.1 (its codes are printable ASCII without spaces).
"""

import copy
import csv
import io
import re
import secrets
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from archive.engine.descriptor import Descriptor, examine, too_deep
from archive.engine.limits import Limits
from archive.engine.roles import (
    ETHOGRAM,
    FIELD_ID,
    PLAUSIBLE,
    ROLE,
    UNIT,
    ethogram_of,
    fields_of,
)
from archive.exports.descriptor import PROFILE
from archive.exports.identifier import BETANUMERIC
from archive.extending.codes import plain
from archive.storage.names import check_name
from registry.errors import Unsound

TYPES = {
    "string": "text",
    "number": "number",
    "integer": "number",
    "boolean": "truth",
    "object": "structure",
    "array": "structure",
    "list": "structure",
    "datetime": "time",
    "date": "time",
    "time": "time",
    "year": "time",
    "yearmonth": "time",
    "duration": "duration",
    "geopoint": "place",
    "geojson": "place",
    "any": "text",
}
"""Types of the standard, each with what kind of thing it holds."""

CONSTRAINTS = frozenset({
    "required", "unique", "minLength", "maxLength", "minimum", "maximum", "exclusiveMinimum",
    "exclusiveMaximum", "jsonSchema", "pattern", "enum",
})  # fmt: skip
_BOUNDS = frozenset({"minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"})
_OF_EVERY = frozenset({"required", "unique", "enum"})
_LENGTHS = frozenset({"minLength", "maxLength"})
_ORDERED = frozenset({"number", "integer", "datetime", "date", "time", "year", "yearmonth"})
_LIMITED_BY: dict[str, frozenset[str]] = (
    dict.fromkeys(TYPES, _OF_EVERY)
    | dict.fromkeys(_ORDERED, _OF_EVERY | _BOUNDS)
    | dict.fromkeys(("object", "array"), _OF_EVERY | _LENGTHS)
    | {"string": _OF_EVERY | _LENGTHS | {"pattern"}, "list": _LENGTHS | {"required", "unique"}}
)
"""Which constraints the readers of the data take for each type: those of frictionless, which are
fewer than the standard's. Whoever would publish another would find no table valid."""
BETTER_UNITS = {
    "degC": "Cel", "hr": "h", "hrs": "h", "sec": "s", "secs": "s", "mins": "min", "days": "d",
    "litre": "L", "litres": "L", "ppm": "mg/L or [ppm]", "percent": "%", "grams": "g",
}  # fmt: skip
"""Units that people write, and the UCUM code to write instead (UCUM tables 2 to 4)."""

WHAT = "The dictionary was not published."
_ID = re.compile(r"[A-Za-z0-9_-]{2,40}")
_UNIT = re.compile(r"[!-~]{1,40}")
_ETHOGRAM_KEYS = ("code", "name", "kind", "definition", "exclusive", "validFrom")


def prepared(
    descriptor: Mapping[str, Any], earlier: Sequence[Mapping[str, Any]], number: int
) -> Descriptor:
    """Give the descriptor as it is to be published: sound, and with an id for each field.

    Parameters
    ----------
    descriptor : mapping
        What was sent: a Data Package descriptor with a schema for each table.
    earlier : sequence of mapping
        The descriptors of the versions before it, oldest first.
    number : int
        The number that this version will have.

    Raises
    ------
    Unsound
        With each fault in words.
    """
    if deep := too_deep(descriptor, Limits()):
        raise _unsound([deep.message])
    ours = copy.deepcopy(dict(descriptor))
    ours.pop("profile", None)
    ours["$schema"] = PROFILE
    tables = ours.get("resources")
    for table in tables if isinstance(tables, list) else []:
        if isinstance(table, dict):
            _name_file(table)
    faults = [one.message for one in examine(ours, Limits())]
    if not faults:
        faults = [fault for table in tables_of(ours) for fault in _faults(table)]
    if faults:
        raise _unsound(faults)
    faults = list(_give_ids(ours, earlier))
    if not faults:
        faults = list(_date_codes(ours, earlier, number))
    if faults:
        raise _unsound(faults)
    return ours


def _unsound(faults: Sequence[str]) -> Unsound:
    shown = list(dict.fromkeys(faults))
    more = _(" And %(number)s more.") % {"number": len(shown) - 12} if len(shown) > 12 else ""
    return Unsound(
        WHAT,
        " ".join(shown[:12]) + more,
        "Put these right in the descriptor and send it again.",
        fields={"descriptor": shown[0]},
    )


def tables_of(descriptor: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Give the tables that the dictionary describes."""
    return [
        table
        for table in descriptor.get("resources", [])
        if isinstance(table, dict) and isinstance(table.get("schema"), dict)
    ]


def table_of(descriptor: Mapping[str, Any], name: str) -> dict[str, Any] | None:
    """Give the table of that name, or None."""
    return next((one for one in tables_of(descriptor) if one["name"] == name), None)


def fields_by_id(descriptor: Mapping[str, Any]) -> dict[str, tuple[str, dict[str, Any]]]:
    """Give each field of the dictionary, with its table's name, by its permanent id."""
    return {
        str(field[FIELD_ID]): (str(table["name"]), field)
        for table in tables_of(descriptor)
        for field in fields_of(table["schema"])
        if FIELD_ID in field
    }


def sheet(table: Mapping[str, Any]) -> str:
    """Give a blank data sheet: the header row and nothing else."""
    written = io.StringIO(newline="")
    csv.writer(written).writerow([field["name"] for field in fields_of(table["schema"])])
    return written.getvalue()


# ------------------------------------------------------------------ what is sound


def _name_file(table: dict[str, Any]) -> None:
    """Give the table a file name where the descriptor leaves it out, and drop facts of one file."""
    for said in ("hash", "bytes", "rows"):
        table.pop(said, None)
    if isinstance(table.get("name"), str):
        table.setdefault("path", f"{table['name']}.csv")
    table.setdefault("type", "table")


def _faults(table: dict[str, Any]) -> Iterator[str]:
    name = str(table.get("name", ""))
    try:
        check_name(name)
    except Unsound as refused:
        yield f"The table's name {name!r} {refused.fields['name']}."
    schema = table["schema"]
    listed = schema.get("fields")
    if not isinstance(listed, list) or not listed:
        yield f"The table “{name}” has no fields."
        return
    names = [field["name"] for field in fields_of(schema)]
    if len(names) < len(listed) or "" in names:
        yield f"A field of “{name}” has no name."
    for twice in sorted({one for one in names if names.count(one) > 1}):
        yield f"Two fields of “{name}” are called “{twice}”."
    for field in fields_of(schema):
        yield from _field_faults(field, name)
    yield from _key_faults(schema, name, set(names))


def _key_faults(schema: Mapping[str, Any], table: str, names: set[str]) -> Iterator[str]:
    key = schema.get("primaryKey") or []
    for part in key if isinstance(key, list) else [key]:
        if not isinstance(part, str) or part not in names:
            yield f"The key of “{table}” names “{part}”, which is no field of it."
    links = schema.get("foreignKeys") or []
    for link in links if isinstance(links, list) else [links]:
        here = link.get("fields") if isinstance(link, dict) else None
        for part in here if isinstance(here, list) and here else [here or "?"]:
            if not isinstance(part, str) or part not in names:
                yield f"A link of “{table}” names “{part}”, which is no field of it."


def _field_faults(field: dict[str, Any], table: str) -> Iterator[str]:
    place = f"“{field['name']}” of “{table}”"
    said = field.get("type")
    if not isinstance(said, str) or said not in TYPES:
        what = f"the type “{said}”, which there is not" if said else "no type"
        yield f"{place} has {what}; the types are {', '.join(TYPES)}."
    constraints = field.get("constraints", {})
    if not isinstance(constraints, dict):
        yield f"The constraints of {place} are no object."
    else:
        for odd in sorted(set(constraints) - CONSTRAINTS):
            yield f"{place} has the constraint “{odd}”, which there is not."
        fit = _LIMITED_BY.get(str(said), CONSTRAINTS)
        for odd in sorted(set(constraints) & CONSTRAINTS - fit):
            known = ", ".join(sorted(fit))
            yield f"{place} holds {said} values, which “{odd}” cannot limit; they take {known}."
        if said in ("integer", "number"):
            for name in sorted(set(constraints) & _BOUNDS):
                if not isinstance(constraints[name], int | float):
                    yield f"The {name} of {place} is {constraints[name]!r}, which is no number."
    unit = field.get(UNIT)
    if unit is not None and (not isinstance(unit, str) or not _UNIT.fullmatch(unit)):
        yield f"The unit {unit!r} of {place} is no UCUM code: printable signs without a space."
    elif unit in BETTER_UNITS:
        yield f"The unit “{unit}” of {place} is no UCUM code; write {BETTER_UNITS[unit]}."
    mark = field.get(FIELD_ID)
    if mark is not None and (not isinstance(mark, str) or not _ID.fullmatch(mark)):
        yield f"The id {mark!r} of {place} must be 2 to 40 letters, digits, hyphens, underscores."
    if PLAUSIBLE in field:
        yield from _plausible_faults(field, place)
    if ETHOGRAM in field:
        yield from _ethogram_faults(field, place)


def _plausible_faults(field: dict[str, Any], place: str) -> Iterator[str]:
    """Look through the likely range: of numbers, with ends in their order, and with a reason."""
    span = field[PLAUSIBLE]
    if not isinstance(span, dict) or set(span) - {"minimum", "maximum", "reason"}:
        yield f"The likely range of {place} must hold minimum, maximum and reason, nothing else."
        return
    if field.get("type") not in {"integer", "number", "year"}:
        yield f"{place} has a likely range, so its type must be integer, number or year."
    ends = [span[key] for key in ("minimum", "maximum") if key in span]
    if not ends or not all(type(end) in {int, float} for end in ends):
        yield f"The likely range of {place} needs a minimum or a maximum, and each is a number."
    elif ends != sorted(ends):
        yield f"The likely range of {place} ends below its beginning."
    if not isinstance(span.get("reason"), str) or not span["reason"].strip():
        yield f"The likely range of {place} needs a reason, for whoever is asked about a value."


def _ethogram_faults(field: dict[str, Any], place: str) -> Iterator[str]:
    """Look through the ethogram; then its codes are the field's categories."""
    entries = field[ETHOGRAM]
    if (
        not isinstance(entries, list)
        or not entries
        or not all(isinstance(e, dict) for e in entries)
    ):
        yield f"The ethogram of {place} must be a list of entries."
        return
    if field.get("type") != "string":
        yield f"The ethogram of {place} holds codes, so its type must be string."
    for at, entry in enumerate(entries, start=1):
        where = f"entry {at} of the ethogram of {place}"
        for odd in sorted(set(entry) - set(_ETHOGRAM_KEYS)):
            yield f"There is no “{odd}” in an ethogram ({where})."
        for key in ("code", "name", "definition"):
            if not isinstance(entry.get(key), str) or not entry[key].strip():
                yield f"There is no {key} in {where}."
        if entry.get("kind") not in {"state", "event"}:
            yield f"The kind in {where} must be “state” or “event”."
    codes = [entry.get("code") for entry in entries]
    for twice in sorted({str(code) for code in codes if codes.count(code) > 1}):
        yield f"The code “{twice}” stands twice in the ethogram of {place}."
    listed = field.setdefault("categories", codes)
    plain = [item.get("value") if isinstance(item, dict) else item for item in listed]
    if sorted(map(str, plain)) != sorted(map(str, codes)):
        yield f"The categories of {place} are not the codes of its ethogram; leave them out."


# ------------------------------------------------------------------ permanent ids


def _give_ids(ours: Descriptor, earlier: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Give each field without an id its own; say where one was changed or used again."""
    known: dict[str, tuple[str, dict[str, Any]]] = {}
    by_name: dict[tuple[str, str], str] = {}
    for version in earlier:
        known |= fields_by_id(version)
        by_name |= {
            (table, str(field["name"])): mark
            for mark, (table, field) in fields_by_id(version).items()
        }
    said = [
        str(field[FIELD_ID])
        for table in tables_of(ours)
        for field in fields_of(table["schema"])
        if FIELD_ID in field
    ]
    for twice in sorted({mark for mark in said if said.count(mark) > 1}):
        yield f"The id “{twice}” stands at two fields."
    taken = set(said) | set(known)
    for table in tables_of(ours):
        for field in fields_of(table["schema"]):
            was = by_name.get((str(table["name"]), str(field["name"])))
            if FIELD_ID not in field:
                field[FIELD_ID] = was if was and was not in said else _new_id(taken)
                taken.add(field[FIELD_ID])
            yield from _reused(field, str(table["name"]), was, known)


def _reused(
    field: Mapping[str, Any],
    table: str,
    was: str | None,
    known: Mapping[str, tuple[str, Mapping[str, Any]]],
) -> Iterator[str]:
    place = f"“{field['name']}” of “{table}”"
    mark = str(field[FIELD_ID])
    if was is not None and was != mark:
        yield (
            f"{place} had the id “{was}” in an earlier version; an id is permanent, and a name is"
            " not given to another field."
        )
        return
    if mark not in known:
        return
    old_table, old = known[mark]
    if old_table != table:
        yield f"The id “{mark}” of {place} belongs to the table “{old_table}”."
    for key, said in ((UNIT, "unit"), (ROLE, "role")):
        if old.get(key) and field.get(key) and old[key] != field[key]:
            yield (
                f"The id “{mark}” of {place} stood for the {said} “{old[key]}”, now for"
                f" “{field[key]}”: that is another meaning. Give the field a new name and no id."
            )
    kinds = {TYPES.get(str(one.get("type"))) for one in (old, field)}
    if len(kinds) > 1 and field.get("type") not in {"any", "string"}:
        yield (
            f"The id “{mark}” of {place} stood for {old.get('type')} values, now for"
            f" {field.get('type')}: that is another meaning. Give the field a new name and no id."
        )


def _date_codes(
    ours: Descriptor, earlier: Sequence[Mapping[str, Any]], number: int
) -> Iterator[str]:
    """Say since which version each code of behaviour has meant what it means."""
    before = fields_by_id(earlier[-1]) if earlier else {}
    for mark, (table, field) in fields_by_id(ours).items():
        held = {entry["code"]: entry for entry in ethogram_of(before.get(mark, ("", {}))[1])}
        for entry in field.get(ETHOGRAM, ()):
            was = held.get(entry["code"])
            is_same = was is not None and all(
                plain(str(was.get(key) or "")) == plain(str(entry.get(key) or ""))
                for key in ("name", "kind", "definition")
            )
            since = was["validFrom"] if was is not None and is_same else number
            said = entry.setdefault("validFrom", since)
            if type(said) is not int or not 1 <= said <= number:
                yield (
                    f"“{entry['code']}” of “{field['name']}” of “{table}” is said to hold since"
                    f" version {said}; give a version from 1 to {number}, or leave it out."
                )


def _new_id(taken: Iterable[str]) -> str:
    used = set(taken)
    while True:
        mark = "f" + "".join(secrets.choice(BETANUMERIC) for _at in range(8))
        if mark not in used:
            return mark
