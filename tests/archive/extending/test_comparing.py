"""A dictionary beside the one before it: what is said of each change, and what number it gets."""

import copy
from typing import Any

import pytest

from archive.extending.changes import Release, Verdict
from archive.extending.comparing import compare, releases

KEPT, MAPPED, BROKEN = Verdict.COMPATIBLE, Verdict.MAPPING, Verdict.BREAKING
CODES = [{"value": "R", "label": "rest"}, {"value": "S", "label": "swim"}]
REST = {
    "code": "R",
    "name": "rest",
    "kind": "state",
    "definition": "At rest on the bottom.",
    "exclusive": "posture",
}


def dictionary(*fields: dict[str, Any], **schema: Any) -> dict[str, Any]:
    schema = {"fields": [{"name": "egg", "type": "string"}, *fields], **schema}
    return {"resources": [{"name": "eggs", "path": "eggs.csv", "schema": schema}]}


def a_field(**said: Any) -> dict[str, Any]:
    return {"name": "f", "type": "integer", "x:fieldId": "f1"} | said


@pytest.mark.parametrize(
    ("old", "new", "verdict", "release", "words"),
    [
        ({}, {"type": "number"}, KEPT, Release.MAJOR, "holds number values"),
        ({"type": "number"}, {"type": "integer"}, MAPPED, Release.MAJOR, "holds integer values"),
        ({}, {"type": "string"}, KEPT, Release.MAJOR, "is one still"),
        ({"constraints": {"unique": True}}, {"type": "string", "constraints": {"unique": True}},
         MAPPED, Release.MAJOR, "holds string values"),
        ({"type": "date"}, {"type": "datetime"}, MAPPED, Release.MAJOR, "datetime"),
        ({"type": "string", "format": "email"}, {"type": "string"}, KEPT, Release.MAJOR,
         "any text"),
        ({"type": "date"}, {"type": "date", "format": "%d/%m/%Y"}, MAPPED, Release.MAJOR,
         "written"),
        ({"type": "number"}, {"type": "number", "decimalChar": ","}, MAPPED, Release.MAJOR, "','"),
        ({"constraints": {"minimum": 2}}, {"constraints": {"minimum": 1}}, KEPT, Release.MINOR,
         "must be 1 or more; before, it must be 2 or more"),
        ({"constraints": {"minimum": 1}}, {"constraints": {"minimum": 2}}, BROKEN, Release.MAJOR,
         "must be 2 or more"),
        ({"constraints": {"minimum": 1}}, {"constraints": {"exclusiveMinimum": 1}}, BROKEN,
         Release.MAJOR, "more than 1"),
        ({"constraints": {"exclusiveMinimum": 1}}, {"constraints": {"minimum": 1}}, KEPT,
         Release.MINOR, "No longer asked: it must be more than 1"),
        ({"constraints": {"required": True}}, {"constraints": {"required": False}}, KEPT,
         Release.MINOR, "must be filled"),
        ({}, {"constraints": {"required": True}}, BROKEN, Release.MAJOR, "must be filled"),
        ({"type": "string", "constraints": {"enum": ["a"]}},
         {"type": "string", "constraints": {"enum": ["a", "b"]}}, KEPT, Release.MINOR, "a, b"),
        ({"type": "string", "constraints": {"pattern": "a+"}},
         {"type": "string", "constraints": {"pattern": "a*"}}, BROKEN, Release.MAJOR, "a*"),
        ({}, {"missingValues": ["", "NA"]}, KEPT, Release.MINOR, "“NA” stands for an empty cell"),
        ({"type": "string"}, {"type": "string", "missingValues": ["", "NA"]}, MAPPED,
         Release.MAJOR, "may have been a value"),
        ({"missingValues": ["", "-9"]}, {}, MAPPED, Release.MAJOR, "would be read as a value"),
        ({"type": "boolean"}, {"type": "boolean", "trueValues": ["true", "True", "TRUE", "1", "y"]},
         KEPT, Release.MINOR, "“y” may be written"),
        ({"type": "boolean"}, {"type": "boolean", "trueValues": ["y"]}, MAPPED, Release.MAJOR,
         "“true”"),
        ({}, {"x:unit": "g"}, KEPT, Release.MINOR, "for the first time"),
        ({"x:unit": "g"}, {"x:unit": "kg"}, MAPPED, Release.MAJOR, "in kg, where it was in g"),
        ({"x:unit": "ng/mL"}, {"x:unit": "ug/L"}, KEPT, Release.PATCH, "written ug/L"),
        ({"x:unit": "g"}, {}, BROKEN, Release.MAJOR, "no longer said"),
        ({"x:role": "animal"}, {"x:role": "group"}, BROKEN, Release.MAJOR, "the group"),
        ({"title": "A"}, {"title": "B"}, KEPT, Release.PATCH, "title"),
        ({"type": "string", "categories": CODES[:1]}, {"type": "string", "categories": CODES}, KEPT,
         Release.MINOR, "has S too"),
        ({"type": "string", "categories": CODES}, {"type": "string", "categories": CODES[:1]},
         MAPPED, Release.MAJOR, "no longer has S"),
        ({"type": "string"}, {"type": "string", "categories": CODES}, BROKEN, Release.MAJOR,
         "held to a list"),
        ({"type": "string", "categories": CODES}, {"type": "string", "categories": [
            CODES[0], {"value": "S", "label": "sleep"}]}, MAPPED, Release.MAJOR, "“sleep”"),
        ({"type": "string", "categories": ["R"], "x:ethogram": [REST]},
         {"type": "string", "categories": ["R"],
          "x:ethogram": [REST | {"definition": "Still, wherever it is."}]}, MAPPED, Release.MAJOR,
         "is defined as"),
        ({"type": "string", "categories": ["R"], "x:ethogram": [REST]},
         {"type": "string", "categories": ["R"],
          "x:ethogram": [REST | {"definition": "at rest, on the bottom"}]}, KEPT, Release.PATCH,
         "is defined as"),
        ({"type": "string", "categories": ["R"], "x:ethogram": [REST | {"exclusive": ""}]},
         {"type": "string", "categories": ["R"], "x:ethogram": [REST]}, BROKEN, Release.MAJOR,
         "excludes the others"),
    ],
)  # fmt: skip
def test_what_differs_in_a_field_is_said_in_words(old, new, verdict, release, words):
    told = compare(dictionary(a_field(**old)), dictionary(a_field(**new)))
    assert told.verdict is verdict, told
    assert told.release is release
    (change,) = told.changes
    assert words in change.what
    assert (change.table, change.field, change.field_id) == ("eggs", "f", "f1")
    assert told.verdict_of("eggs") is verdict


@pytest.mark.parametrize(
    ("match", "verdict"),
    [("exact", BROKEN), ("equal", BROKEN), ("superset", KEPT), ("partial", BROKEN)],
)
def test_a_column_more_is_compatible_only_where_old_tables_may_do_without(match, verdict):
    told = compare(dictionary(fieldsMatch=match), dictionary(a_field(), fieldsMatch=match))
    assert told.verdict is verdict
    # Data Package Version recipe: "You append a column to the data. Increment the MAJOR version".
    assert told.release is Release.MAJOR
    needed = a_field(constraints={"required": True})
    assert (
        compare(dictionary(fieldsMatch=match), dictionary(needed, fieldsMatch=match)).verdict
        is BROKEN
    )


def test_a_field_of_the_same_id_and_another_name_was_renamed_and_its_keys_go_with_it():
    old = dictionary(a_field(), primaryKey=["f"], uniqueKeys=[["egg", "f"]])
    new = dictionary(a_field(name="g"), primaryKey="g", uniqueKeys=[["g", "egg"]])
    (change,) = compare(old, new).changes
    assert (change.verdict, change.mapping, change.field) == (MAPPED, "rename", "g")
    assert "was called “f”" in change.what


def test_a_name_given_to_another_field_is_no_rename():
    told = compare(dictionary(a_field()), dictionary(a_field(**{"x:fieldId": "f2"})))
    assert [change.what for change in told.changes] == [
        "It is gone: what old tables say there is no longer described.",
        "The name stood for another field.",
    ]


@pytest.mark.parametrize(
    ("old", "new", "verdict"),
    [
        ({}, {"primaryKey": ["egg"]}, BROKEN),
        ({"primaryKey": ["egg"]}, {}, KEPT),
        ({"uniqueKeys": [["egg"]]}, {}, KEPT),
        ({}, {"uniqueKeys": [["egg"]]}, BROKEN),
        ({}, {"fieldsMatch": "equal"}, KEPT),
        ({"fieldsMatch": "superset"}, {"fieldsMatch": "subset"}, BROKEN),
        ({"fieldsMatch": "superset"}, {"fieldsMatch": ["partial"]}, KEPT),
        ({"foreignKeys": [{"fields": "egg", "reference": {"fields": "f"}}]}, {}, KEPT),
        ({}, {"foreignKeys": [{"fields": ["egg"], "reference": {"fields": ["f"]}}]}, BROKEN),
    ],
)  # fmt: skip
def test_keys_links_and_the_way_to_match_are_compared(old, new, verdict):
    told = compare(dictionary(a_field(), **old), dictionary(a_field(), **new))
    assert told.verdict is verdict
    assert len(told.changes) == 1


def test_another_order_matters_where_columns_are_matched_by_their_place():
    for match, verdict in (("exact", BROKEN), ("equal", KEPT)):
        old = dictionary(a_field(), fieldsMatch=match)
        new = copy.deepcopy(old)
        new["resources"][0]["schema"]["fields"].reverse()
        told = compare(old, new)
        assert (told.verdict, told.release) == (verdict, Release.MAJOR)


def test_a_link_s_far_end_of_another_type_breaks_it_and_a_wider_number_does_not():
    link = {"fields": "egg", "reference": {"resource": "animals", "fields": "code"}}
    for kind, verdict in (("number", KEPT), ("string", BROKEN)):
        old, new = dictionary(foreignKeys=[link]), dictionary(foreignKeys=[link])
        for one, said in ((old, "integer"), (new, kind)):
            schema = {"fields": [{"name": "code", "type": said}]}
            one["resources"].append({"name": "animals", "path": "a.csv", "schema": schema})
        assert compare(old, new).verdict_of("eggs") is verdict


def test_tables_come_and_go_and_are_laid_out_otherwise():
    one, two = dictionary(), dictionary()
    two["resources"].append(
        {"name": "tanks", "path": "t.csv", "schema": {"fields": [{"name": "t", "type": "string"}]}}
    )
    assert compare(one, two).verdict is KEPT
    assert compare(one, two).release is Release.MINOR
    assert compare(two, one).verdict is BROKEN
    other = dictionary()
    other["resources"][0]["dialect"] = {"delimiter": ";"}
    assert compare(one, other).verdict is BROKEN


def test_release_numbers_follow_the_recipe_of_the_standard():
    """Data Package Standard, recipe "Data Package Version", its scenarios."""
    first = dictionary(a_field(constraints={"minimum": 5}))
    said = copy.deepcopy(first) | {"description": "Egg strings"}
    looser = copy.deepcopy(said)
    looser["resources"][0]["schema"]["fields"][1]["constraints"]["minimum"] = 0
    column = copy.deepcopy(looser)
    column["resources"][0]["schema"]["fields"].append({"name": "note", "type": "string"})
    relocated = copy.deepcopy(column)
    relocated["resources"][0]["path"] = "elsewhere/eggs.csv"
    versions = [first, said, looser, column, relocated]
    assert releases(versions) == ["1.0.0", "1.0.1", "1.1.0", "2.0.0", "2.0.0"]
