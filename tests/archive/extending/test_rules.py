"""Rules: what is refused, what is written down, and what becomes of a column."""

import json
from decimal import Decimal
from fractions import Fraction

import pandas as pd
import pyarrow as pa
import pytest

from archive.extending.applying import applied
from archive.extending.comparing import compare
from archive.extending.rules import (
    Convert,
    Derive,
    Mapped,
    Recode,
    Rename,
    Split,
    columns_of,
    rule_from_dict,
    unmet,
)
from registry.errors import Unsound

RULES = (
    Rename("weight", "mass"),
    Convert("mass", "g", "kg"),
    Recode("posture", (("R", "rest"), ("S", "swim"), ("G", "swim"))),
    Split("place", ("tank", "side"), "-"),
    Derive("loss", "(wet - dry) / wet"),
)


@pytest.fixture
def table():
    return pa.table(
        {
            "weight": pa.array([1500, None, 12], pa.int64()),
            "posture": ["R", "G", None],
            "place": ["T1-left", None, "T2-right"],
            "wet": [2.0, 4.0, None],
            "dry": [1, 1, 1],
        }
    )


def test_each_kind_of_rule_carries_a_column_over_as_pandas_would(table):
    found = applied(RULES, table)
    frame = pd.DataFrame(table.to_pydict())
    assert found.column_names == ["mass", "posture", "tank", "side", "wet", "dry", "loss"]
    assert found["mass"].to_pylist() == [1.5, None, 0.012]
    assert found["posture"].to_pylist() == ["rest", "swim", None]
    assert found["tank"].to_pylist() == ["T1", None, "T2"]
    assert found["side"].to_pylist() == ["left", None, "right"]
    expected = ((frame.wet - frame.dry) / frame.wet).tolist()
    assert found["loss"].to_pylist()[:2] == expected[:2]
    assert found["loss"].to_pylist()[2] is None


@pytest.mark.parametrize("value", [9007199254740993, 9223372036854775807, -3])
def test_whole_numbers_keep_every_digit(value):
    table = pa.table({"mass": pa.array([value, None], pa.int64())})
    (found, empty) = applied([Convert("mass", "kg", "g")], table)["mass"].to_pylist()
    assert int(found) == value * 1000
    assert empty is None


def test_numbers_that_stand_as_text_are_converted_digit_by_digit():
    table = pa.table({"t": ["9007199254740993.1", "-40"]})
    found = applied([Convert("t", "[degF]", "Cel")], table)["t"].to_pylist()
    for text, was in zip(found, ("9007199254740993.1", "-40"), strict=True):
        exact = (Fraction(was) - 32) * 5 / 9
        assert abs(Fraction(text) - exact) < Fraction(1, 10**30)
    with pytest.raises(Unsound, match="“warm” in “t” is no number"):
        applied([Convert("t", "g", "kg")], pa.table({"t": ["warm"]}))


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (Rename("mass", "weight"), "no column “mass”"),
        (Rename("wet", "dry"), "a column “dry” already"),
        (Recode("posture", (("R", "rest"),)), "holds G, which the rule has no code for"),
        (Split("place", ("a", "b", "c"), "-"), "“T1-left” in “place” has not 3 parts"),
        (Split("place", ("wet", "b"), "-"), "a column “wet” already"),
        (Derive("x", "wet / (dry - 1)"), "no number in row 1"),
        (Derive("x", "posture + 1"), "“posture” does not hold numbers"),
    ],
)
def test_what_a_rule_does_not_cover_is_refused_by_name(table, rule, said):
    with pytest.raises(Unsound, match=said.replace("(", r"\(")):
        applied([rule], table)


@pytest.mark.parametrize(
    ("record", "said"),
    [
        ({"kind": "guess"}, "no rule “guess”"),
        ({"kind": "rename", "old": "a"}, "must say old, new"),
        ({"kind": "unit", "field": "a", "old": "g", "new": "m"}, "measure different things"),
        ({"kind": "recode", "field": "a", "codes": []}, "has no codes"),
        ({"kind": "recode", "field": "a", "codes": [["R", "x"], ["R", "y"]]}, "two new codes"),
        ({"kind": "split", "field": "a", "into": ["b"], "at": "-"}, "two or more columns"),
        ({"kind": "derive", "into": "a", "expression": "open('x')"}, "is no column"),
        ({"kind": "derive", "into": "a", "expression": "a **"}, "is no sum"),
        ({"kind": "derive", "into": "a", "expression": "True + 1"}, "is no column"),
    ],
)
def test_a_rule_that_is_unsound_is_refused_when_it_is_written(record, said):
    with pytest.raises(Unsound) as refused:
        rule_from_dict(record)
    assert said in str(refused.value)


def test_a_mapping_needs_a_reason_and_a_second_person_and_is_read_back_as_it_was():
    parts = {"table": "eggs", "old": "1.0.0", "new": "2.0.0", "rules": RULES}
    whole = Mapped(**parts, reason="Scales were changed.", made_by="P1", reviewed_by="P2")
    assert Mapped.from_dict(json.loads(json.dumps(whole.as_dict()))) == whole
    assert all(rule.said.endswith(".") for rule in whole.rules)
    assert "cannot be told apart again" in RULES[2].said
    for reviewer in ("", "P1"):
        with pytest.raises(Unsound, match="Nobody has reviewed it"):
            Mapped(**parts, reason="Scales.", made_by="P1", reviewed_by=reviewer)
    with pytest.raises(Unsound, match="why it holds"):
        Mapped(**parts, reason=" ", made_by="P1", reviewed_by="P2")


def test_what_needs_a_mapping_and_has_no_rule_is_told():
    def dictionary(name, unit):
        field = {"name": name, "type": "number", "x:fieldId": "f1", "x:unit": unit}
        schema = {"fields": [field]}
        return {"resources": [{"name": "eggs", "path": "eggs.csv", "schema": schema}]}

    told = compare(dictionary("weight", "g"), dictionary("mass", "kg"))
    assert len(unmet(told.changes, [], {})) == 2
    left = ["mass: It is in kg, where it was in g."]
    assert unmet(told.changes, RULES[:1], {}) == left
    assert unmet(told.changes, RULES[:2], {}) == []
    # A rule may speak of a column by the name that it had.
    of_old = [RULES[0], Convert("weight", "g", "kg")]
    assert unmet(told.changes, of_old, {"weight": "mass"}) == []


def test_an_expression_names_its_columns():
    assert columns_of("-(a + b) / (a * 2.5)") == ["a", "b"]


def test_a_converted_number_has_the_digits_that_a_person_would_write():
    # 0.69 × 10 is 6.8999999999999995 in binary64; decimal arithmetic, by itself, says 6.9.
    hundredths = [at / 100 for at in range(-500, 500)] + [1e-12, 123456789.125, 0.0]
    table = pa.table({"mantle": pa.array([*hundredths, None], pa.float64())})
    for old, new, factor in (("cm", "mm", "10"), ("mm", "m", "0.001"), ("L/min", "L/h", "60")):
        found = applied([Convert("mantle", old, new)], table)["mantle"].to_pylist()
        exact = [float(Decimal(repr(one)) * Decimal(factor)) for one in hundredths]
        assert found == [*exact, None]
