"""Intervals, curves and the places of findings: on the sheet, apart, and true to the numbers."""

import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.drawings import (
    CheckedFile,
    Curve,
    Group,
    Place,
    Weight,
    curves,
    intervals,
    places,
)
from registry.drawings.axis import NumberAxis

numbers = st.floats(-1e6, 1e6).map(lambda value: round(value, 3))


def width_of(svg: str) -> float:
    return float(ET.fromstring(svg).attrib["viewBox"].split()[2])


@given(st.lists(numbers, min_size=1, max_size=40))
def test_an_axis_holds_its_values_on_round_ticks(values: list[float]) -> None:
    axis = NumberAxis.over(min(values), max(values), 0, 100)
    assert axis.low <= min(values)
    assert max(values) <= axis.high
    ticks = list(axis.ticks())
    assert 2 <= len(ticks) <= 10
    assert ticks[-1] == pytest.approx(axis.high)
    for a, b in pairwise(ticks):
        assert b - a == pytest.approx(axis.step)


@given(st.lists(st.lists(numbers, max_size=8), max_size=6))
def test_every_unit_is_drawn_inside_both_sheets(groups: list[list[float]]) -> None:
    drawn = intervals(
        [Group(f"group {i}", tuple(units)) for i, units in enumerate(groups)], "mass, g"
    )
    for svg in (drawn.large, drawn.small):
        marks = list(ET.fromstring(svg).iter("circle"))
        assert len(marks) == sum(map(len, groups))
        assert all(0 <= float(mark.attrib["cx"]) <= width_of(svg) for mark in marks)


def test_a_mean_lies_between_the_ends_of_its_interval() -> None:
    drawn = intervals([Group("Still", (50, 60), 55, (52, 58))], "days")
    bar = next(p for p in ET.fromstring(drawn.large).iter("path") if p.attrib["class"] == "kl")
    mean = next(p for p in ET.fromstring(drawn.large).iter("path") if p.attrib["class"] == "dn")
    start, end = bar.attrib["d"].split("H")
    middle = float(mean.attrib["d"].split()[0].removeprefix("M"))
    assert (float(start.split()[0].removeprefix("M")) + float(end)) / 2 == pytest.approx(
        middle, abs=0.1
    )


def test_a_higher_share_lies_higher() -> None:
    drawn = curves([Curve("6 days", ((2, 0.2), (4, 0.9)))], "tanks", "power", wanted=0.8)
    low, high = (float(c.attrib["cy"]) for c in ET.fromstring(drawn.large).iter("circle"))
    assert high < low


def test_names_at_the_ends_of_curves_keep_apart() -> None:
    drawn = curves([Curve(f"{i} days", ((2, 0.2), (4, 0.99))) for i in range(5)], "n", "power")
    said = [
        float(t.attrib["y"]) for t in ET.fromstring(drawn.small).iter("text") if "days" in t.text
    ]  # type: ignore[operator]  # every text has one
    assert all(b - a >= 15 for a, b in pairwise(sorted(said)))


@st.composite
def files(draw: st.DrawFn) -> CheckedFile:
    rows = draw(st.integers(1, 10_000_000))
    found = []
    for number in range(draw(st.integers(0, 50))):
        first = draw(st.integers(1, rows))
        weight = draw(st.sampled_from(list(Weight)))
        found.append(Place(number, weight, first, draw(st.integers(first, rows))))
    return CheckedFile("checks.csv", rows, tuple(found))


@given(files())
def test_marks_of_findings_keep_apart_and_inside(file: CheckedFile) -> None:
    drawn = places([file])
    for svg, most in ((drawn.large, 40), (drawn.small, 14)):
        root = ET.fromstring(svg)
        spots = sorted(
            float(t.attrib["x"])
            for t in root.iter("text")
            if t.attrib["class"] in {"inv m", "tb m"}
        )
        assert len(spots) == min(len(file.places), most)
        assert all(b - a >= 22.8 for a, b in pairwise(spots))
        assert all(11 <= x <= width_of(svg) - 11 for x in spots)
        boxes = list(root.iter("rect"))
        assert len(boxes) == 1 + len(file.places)
