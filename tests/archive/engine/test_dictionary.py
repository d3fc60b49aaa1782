"""The dictionary rules: a looser descriptor cannot let a fault through."""

import copy
import json
from pathlib import Path

import pytest

from archive.engine.descriptor import package_for
from archive.engine.findings import Verdict
from archive.engine.run import check

VALID = Path(__file__).resolve().parents[3] / "fixtures" / "packages" / "valid"


@pytest.fixture
def dictionary():
    return json.loads((VALID / "datapackage.json").read_text(encoding="utf-8"))


def test_a_package_that_says_what_the_dictionary_says_is_valid(dictionary):
    assert check(VALID, expected=dictionary).verdict is Verdict.VALID


def test_properties_that_a_student_may_leave_out_or_write_otherwise_are_no_difference(dictionary):
    package = copy.deepcopy(dictionary)
    for resource in package["resources"]:
        for field in resource["schema"]["fields"]:
            field.pop("x:role", None)
            field["title"] = "another title"
    package["resources"][0]["schema"]["primaryKey"] = "string"
    assert check(VALID, descriptor=package, expected=dictionary).verdict is Verdict.VALID


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda schema: schema["fields"][5]["constraints"].update(maximum=9_000), "eggs"),
        (lambda schema: schema["fields"][5].update(type="string", constraints={}), "eggs"),
        (lambda schema: schema["fields"][4]["categories"].append("other"), "water"),
        (lambda schema: schema["fields"][5].update({"x:unit": "g"}), "eggs"),
        (lambda schema: schema["fields"].pop(), "eggs"),
        (lambda schema: schema["fields"].append({"name": "extra", "type": "any"}), "extra"),
        (lambda schema: schema.pop("primaryKey"), ""),
        (lambda schema: schema.update(missingValues=["", "-"]), ""),
    ],
)
def test_a_change_of_meaning_is_a_finding(dictionary, change, field):
    package = copy.deepcopy(dictionary)
    change(package["resources"][0]["schema"])
    report = check(VALID, descriptor=package, expected=dictionary)
    assert {(f.code, f.table, f.field) for f in report.findings} == {
        ("schema-differs", "egg_strings", field)
    }
    assert report.verdict is Verdict.INVALID


def test_the_dictionary_s_schema_is_the_one_that_the_rows_are_held_to(dictionary):
    loose = copy.deepcopy(dictionary)
    dictionary["resources"][0]["schema"]["fields"][5]["constraints"]["maximum"] = 140
    told = check(VALID, descriptor=loose, expected=dictionary)
    assert ("constraint-error", 2) in {(f.code, f.row) for f in told.findings}


def test_a_missing_table_blocks_and_an_extra_one_is_only_told(dictionary):
    one = package_for(dictionary, {"egg_strings": "egg_strings.csv"})
    told = check(VALID, descriptor=one, expected=dictionary)
    missing = {(f.code, f.table) for f in told.findings if f.group == "table"}
    assert missing == {("missing-table", "hatching")}
    extra = check(VALID, expected=one)
    assert extra.verdict is Verdict.VALID
    assert {(f.code, f.table) for f in extra.findings} == {("extra-table", "hatching")}
