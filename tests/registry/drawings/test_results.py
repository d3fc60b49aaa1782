"""Drawings of results: apart, on the sheet, true to the numbers, and whole as files."""

import itertools
import re
import xml.etree.ElementTree as ET

from registry.drawings import (
    Bar,
    Course,
    Drawn,
    Found,
    Zone,
    alone,
    courses,
    forest,
    hours,
    plan,
    shares,
)

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def drawn_ones() -> list[Drawn]:
    bars = [Bar("resting", 0.5, (0.4, 0.6), mark=0.3), Bar("<walking>", 0.2)]
    course = Course("brisk", ((0, 4.0, 3.5, 4.5), (30, 5.4, 5.0, 5.8)))
    steps = Course("still", ((0, 1.0, None, None), (50, 0.4, None, None)))
    cohorts = [Found("2025–26", 1.2, (0.2, 2.2), 0.6), Found("together", 1.0, (0.5, 1.5))]
    schematic = [Zone(f"zone {n}", 1 / 9, n / 36) for n in range(9)]
    placed = [
        Zone("sand", 0.8, 0.2, (0.0, 0.0, 4.0, 2.0)),
        Zone("<cave>", 0.2, 0.8, (4.0, 0.0, 1.0, 2.0)),
    ]
    return [
        plan(schematic, "share of sightings", "use for size"),
        plan(placed, "share of sightings", "use for size"),
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


def test_zones_are_drawn_to_scale_apart_and_the_more_used_for_its_size_the_darker() -> None:
    areas = [0.4, 0.25, 0.2, 0.1, 0.05]
    zones = [Zone(f"z{n}", area, use) for n, (area, use) in
             enumerate(zip(areas, [0.1, 0.2, 0.2, 0.12, 0.38], strict=True))]  # fmt: skip
    for svg in (plan(zones, "share", "use").large, plan(zones, "share", "use").small):
        drawn = list(ET.fromstring(svg).iter("rect"))[: len(zones)]
        boxes = [{k: float(v) for k, v in one.attrib.items() if k != "class"} for one in drawn]
        whole = sum((b["width"] + 3) * (b["height"] + 3) for b in boxes)
        for zone, b in zip(zones, boxes, strict=True):
            assert abs((b["width"] + 3) * (b["height"] + 3) / whole - zone.ground) < 0.01
        assert [one.attrib["class"] for one in drawn] == ["p1", "p2", "p3", "p3", "p5"]
        for at, one in enumerate(boxes):
            for other in boxes[at + 1 :]:
                assert (
                    one["x"] + one["width"] <= other["x"]
                    or other["x"] + other["width"] <= one["x"]
                    or one["y"] + one["height"] <= other["y"]
                    or other["y"] + other["height"] <= one["y"]
                )
    # Where each zone says where it lies, it lies there.
    left, right = (float(one.attrib["x"]) for one in
                   list(ET.fromstring(drawn_ones()[1].large).iter("rect"))[:2])  # fmt: skip
    assert left < right


def test_names_of_courses_keep_apart_and_above_the_axis() -> None:
    steps = [Course(f"arm {n}", ((0, 1.0, None, None), (40 + n, 0.0, None, None)))
             for n in range(4)]  # fmt: skip
    drawn = courses(steps, "days", "share", are_steps=True, ends=(0, 1))
    for svg in (drawn.large, drawn.small):
        texts = list(ET.fromstring(svg).iter("text"))
        named = sorted(float(t.attrib["y"]) for t in texts if "arm" in (t.text or ""))
        ticks = [float(t.attrib["y"]) for t in texts if t.attrib["class"] == "m tq"]
        assert all(b - a >= 15 for a, b in itertools.pairwise(named))
        assert named[-1] < min(ticks) - 13


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
