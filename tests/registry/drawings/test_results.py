"""Drawings of results: apart, on the sheet, true to the numbers, and whole as files."""

import re
import xml.etree.ElementTree as ET

from registry.drawings import (
    Bar,
    Course,
    Drawn,
    Found,
    alone,
    courses,
    forest,
    hours,
    shares,
)

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def drawn_ones() -> list[Drawn]:
    bars = [Bar("resting", 0.5, (0.4, 0.6), mark=0.3), Bar("<walking>", 0.2)]
    course = Course("brisk", ((0, 4.0, 3.5, 4.5), (30, 5.4, 5.0, 5.8)))
    steps = Course("still", ((0, 1.0, None, None), (50, 0.4, None, None)))
    cohorts = [Found("2025–26", 1.2, (0.2, 2.2), 0.6), Found("together", 1.0, (0.5, 1.5))]
    return [
        shares(bars, "share of visible points", most=1.0),
        courses([course], "days", "mass in g"),
        courses([steps], "days", "share", are_steps=True, ends=(0, 1)),
        forest(cohorts, "g"),
        hours(["2026-03-01", "2026-03-02"], {("2026-03-01", 9): 0.5}, "activity"),
    ]


def test_every_stroke_lies_on_its_sheet_at_both_widths() -> None:
    for one in drawn_ones():
        for svg in (one.large, one.small):
            root = ET.fromstring(svg)
            _, _, width, height = map(float, root.attrib["viewBox"].split())
            for box in root.iter("rect"):
                x, y = float(box.attrib["x"]), float(box.attrib["y"])
                assert 0 <= x <= x + float(box.attrib["width"]) <= width
                assert 0 <= y <= y + float(box.attrib["height"]) <= height
            for said in root.iter("text"):
                assert 0 <= float(said.attrib["x"]) <= width
                assert 0 <= float(said.attrib["y"]) <= height


def test_a_bar_twice_as_long_stands_for_twice_the_value() -> None:
    root = ET.fromstring(shares([Bar("a", 0.25), Bar("b", 0.5)], "share", most=1.0).large)
    short, long = (float(one.attrib["width"]) for one in root.iter("rect"))
    assert abs(long - 2 * short) < 0.2


def test_the_larger_weight_has_the_larger_mark_and_the_pooled_one_a_diamond() -> None:
    found = [Found("a", 1.0, None, 0.8), Found("b", 2.0, None, 0.2), Found("all", 1.2, (1, 2))]
    root = ET.fromstring(forest(found, "g").large)
    first, second = (float(one.attrib["width"]) for one in root.iter("rect"))
    assert first > second
    assert len([one for one in root.iter("path") if one.attrib["class"] == "dn"]) == 1


def test_as_a_file_a_drawing_brings_its_title_its_size_and_its_paints() -> None:
    for one in drawn_ones():
        root = ET.fromstring(alone(one.large, "Rest & <play>"))
        space = "{http://www.w3.org/2000/svg}"
        assert root.find(f"{space}title").text == "Rest & <play>"  # type: ignore[union-attr]  # why: it is there, or the test fails
        assert float(root.attrib["width"]) == 844
        used = {name for el in root.iter() for name in el.attrib.get("class", "").split()}
        painted = root.find(f"{space}style").text or ""  # type: ignore[union-attr]  # why: likewise
        assert all(f".{name}{{" in painted for name in used - {"large", "plot"})
