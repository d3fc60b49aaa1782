"""Whether rules carry a table over is told from the two dictionaries; so is what may be meant."""

from typing import Any

import pytest

from archive.extending.fitting import NOT_SAID, faults, still_open, suggested
from archive.extending.lines import read, written
from archive.extending.rules import Recode


def table(*fields: dict[str, Any], name: str = "scans") -> dict[str, Any]:
    given = [{"type": "string"} | field for field in fields]
    return {"name": name, "schema": {"fields": given}}


OLD = table(
    {"name": "depth", "type": "number", "x:unit": "m", "x:fieldId": "one"},
    {"name": "posture", "categories": ["REST", "SWIM", "BOTH"], "x:fieldId": "two"},
    {"name": "stage_sex", "x:fieldId": "three"},
)
NEW = table(
    {"name": "depth_cm", "type": "number", "x:unit": "cm", "x:fieldId": "four"},
    {"name": "posture", "categories": ["REST", "SWIM"], "x:fieldId": "two"},
    {"name": "stage", "x:fieldId": "five"},
    {"name": "sex", "x:fieldId": "six"},
)
WHOLE = """
convert depth from m to cm
rename depth to depth_cm
recode posture: REST to REST, SWIM to SWIM, BOTH to SWIM
split stage_sex at "-" into stage, sex
"""


def test_rules_that_meet_all_that_differs_fit() -> None:
    assert faults(OLD, NEW, read(WHOLE)) == []
    assert still_open(OLD, NEW, read("rename depth to depth_cm")) == [
        "posture: The list no longer has BOTH."
    ]


@pytest.mark.parametrize(
    ("rules", "fault"),
    [
        ("", "There is no rule"),
        ("rename weight to depth_cm", "no column weight by then"),
        ("rename depth to depth_cm", "comes out in m, and the newer dictionary has it in cm"),
        ("convert depth from cm to m", "The dictionary has it in m"),
        ("convert depth from m to cm", "“depth” is no column of the newer dictionary"),
        ("rename depth to posture", "There is a column of that name already"),
        ("recode posture: REST to REST", "has SWIM, BOTH too"),
        ("recode posture: REST to R, SWIM to SWIM, BOTH to SWIM", "would hold R"),
        ('split stage_sex at "-" into stage, posture', "There is a column “posture” already"),
        ("derive depth_cm = depth * width", "no column width"),
    ],
)
def test_what_does_not_fit_is_said(rules: str, fault: str) -> None:
    told = " ".join(faults(OLD, NEW, read(rules)))
    assert fault in told


def test_names_and_units_are_suggested_and_a_lost_code_is_left_for_a_person_to_say() -> None:
    begun = suggested(OLD, NEW)
    assert written(begun).splitlines() == [
        "recode posture: REST to REST, SWIM to SWIM, BOTH to ?",
        "convert depth from m to cm",
        "rename depth to depth_cm",
    ]
    assert NOT_SAID in dict(next(one for one in begun if isinstance(one, Recode)).codes).values()
    assert f"would hold {NOT_SAID};" in " ".join(faults(OLD, NEW, begun))


def test_of_another_study_columns_are_taken_for_one_another_by_name_kind_and_unit() -> None:
    theirs = table(
        {"name": "depth", "type": "number", "x:unit": "m", "x:fieldId": "a"},
        {"name": "mass", "type": "number", "x:unit": "g", "x:fieldId": "b"},
    )
    ours = table(
        {"name": "depth", "type": "number", "x:unit": "m", "x:fieldId": "c"},
        {"name": "mass", "type": "number", "x:unit": "mm", "x:fieldId": "d"},
    )
    begun = suggested(theirs, ours)
    assert written(begun) == "rename depth to depth"  # a mass is in no millimetres
    assert begun[0].said == "“depth” is the same column in both."
    assert faults(theirs, ours, begun) == []
