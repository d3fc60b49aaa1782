"""Likely ranges: the dictionary's word before the unit's, ends inside, and a reason with each."""

import numpy as np
import pytest

from archive.engine.checks.plausible import UNIT_RANGES, likely, unlikely_values


def told(field, values):
    rows = np.arange(2, 2 + len(values), dtype=np.int64)
    return list(unlikely_values("tank", {"name": "x"} | field, rows, np.array(values, float)))


def test_the_dictionary_s_range_holds_its_ends_and_gives_its_reason():
    field = {"x:plausible": {"minimum": 8, "maximum": 20, "reason": "the chiller's setting"}}
    found = told(field, [8, 20, 7.9, 20.1, np.nan, 14])
    assert [(one.code, one.row, one.value) for one in found] == [
        ("unlikely-value", 4, "7.9"),
        ("unlikely-value", 5, "20.1"),
    ]
    assert found[0].message == ("7.9 in row 4, column “x”, is less than 8: the chiller's setting.")
    assert told({"x:plausible": {"maximum": 20}}, [-5, 21])[0].value == "21"


@pytest.mark.parametrize(
    ("unit", "inside", "outside"),
    [
        ("%", [0, 100], [-0.1, 100.1]),
        ("[pH]", [0, 8.1, 14], [-1, 81]),
        ("Cel", [-273.15, 18], [-274]),
        ("K", [0, 291], [-1]),
        ("h/d", [0, 24], [25]),
        ("{eggs}", [0, 12], [-1]),
    ],
)
def test_a_unit_says_what_it_can_hold(unit, inside, outside):
    assert told({"x:unit": unit}, inside) == []
    assert len(told({"x:unit": unit}, outside)) == len(outside)


def test_the_dictionary_s_own_word_comes_before_the_unit_s():
    field = {"x:unit": "%", "x:plausible": {"maximum": 150, "reason": "growth against the start"}}
    assert told(field, [140, -20]) == []
    assert likely({"x:unit": "g"}) is None
    assert all(span.reason for span in UNIT_RANGES.values())


def test_no_more_than_fifty_are_listed():
    found = told({"x:unit": "%"}, [101] * 60)
    assert len(found) == 50
    assert found[-1].message.endswith("10 more like it are not listed.")
