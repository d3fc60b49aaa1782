"""What a dictionary may ask of each type, as the readers of the data take it: frictionless."""

import pytest
from frictionless import FrictionlessException, Schema

from archive.dictionaries import CONSTRAINTS, TYPES, prepared
from registry.errors import Unsound

pytestmark = pytest.mark.outside

GIVEN = {
    "required": True, "unique": True, "minLength": 1, "maxLength": 3, "minimum": 1, "maximum": 3,
    "exclusiveMinimum": 1, "exclusiveMaximum": 3, "jsonSchema": {}, "pattern": "a", "enum": ["a"],
}  # fmt: skip
V2 = "https://datapackage.org/profiles/2.0/tableschema.json"


@pytest.mark.parametrize("kind", TYPES)
def test_a_constraint_is_published_just_where_frictionless_takes_it(kind: str) -> None:
    assert set(GIVEN) == CONSTRAINTS
    for name, value in GIVEN.items():
        field = {"name": "a", "type": kind, "constraints": {name: value}}
        try:
            Schema.from_descriptor({"$schema": V2, "fields": [field]})
            is_taken = True
        except FrictionlessException:
            is_taken = False
        table = {"name": "t", "schema": {"fields": [field]}}
        try:
            prepared({"name": "p", "resources": [table]}, [], 1)
            is_published = True
        except Unsound:
            is_published = False
        assert is_published == is_taken, (kind, name)
