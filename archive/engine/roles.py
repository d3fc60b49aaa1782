"""What a column is for: the properties of a Table Schema field that are our own, all x:…."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

ROLE = "x:role"
UNIT = "x:unit"
FIELD_ID = "x:fieldId"
ETHOGRAM = "x:ethogram"
PLAUSIBLE = "x:plausible"
GENERALISED = "x:generalised"


class FieldRole(StrEnum):
    """The roles that a field of a dictionary may have."""

    ANIMAL = "animal"
    GROUP = "group"
    SESSION = "session"
    TIME = "time"
    PLACE = "place"
    OBSERVER = "observer"
    BEHAVIOUR = "behaviour"
    UNIT = "unit"
    TREATMENT = "treatment"
    COVARIATE = "covariate"
    OUTCOME = "outcome"


def role_of(field: Mapping[str, Any]) -> FieldRole | None:
    """Give a field's role, or None where it has none that we know."""
    try:
        return FieldRole(str(field.get(ROLE)))
    except ValueError:
        return None


def fields_of(schema: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The schema's fields that are objects with a name, whatever else stands there."""
    listed = schema.get("fields")
    return [
        field
        for field in (listed if isinstance(listed, list) else [])
        if isinstance(field, dict) and isinstance(field.get("name"), str)
    ]


def fields_with_role(schema: Mapping[str, Any], *roles: FieldRole) -> list[str]:
    """Names of the schema's fields that have one of the roles, in their order."""
    return [field["name"] for field in fields_of(schema) if role_of(field) in roles]


def ethogram_of(field: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Give the sound entries of a field's ethogram: each with a code and its first version."""
    entries = field.get(ETHOGRAM)
    return [
        {"kind": "", "exclusive": "", "validFrom": 1} | entry
        for entry in (entries if isinstance(entries, list) else [])
        if isinstance(entry, dict)
        and isinstance(entry.get("code"), str)
        and isinstance(entry.get("validFrom", 1), int)
    ]


def primary_key(schema: Mapping[str, Any]) -> tuple[str, ...]:
    """Give the columns of the primary key; a single name may stand without a list."""
    key = schema.get("primaryKey") or []
    return (key,) if isinstance(key, str) else tuple(key)


def missing_values(schema: Mapping[str, Any], name: str) -> frozenset[str]:
    """Give the texts that stand for an empty cell in a column."""
    listed = schema.get("missingValues", [""])
    for field in fields_of(schema):
        if field["name"] == name:
            listed = field.get("missingValues", listed)
    return frozenset(item["value"] if isinstance(item, dict) else item for item in listed)
