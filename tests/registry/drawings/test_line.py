"""The line: captions apart, marks inside, long histories folded without losing a deed."""

import re
import xml.etree.ElementTree as ET
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.drawings import Line, Step, line
from registry.drawings.line import COLUMNS, MOST_CAPTIONS

TODAY = date(2026, 11, 24)
days = st.dates(date(1990, 1, 1), date(2040, 12, 31))


@st.composite
def steps(draw: st.DrawFn) -> list[Step]:
    done = draw(st.lists(st.dates(date(1990, 1, 1), TODAY), max_size=70))
    to_come = draw(st.lists(st.one_of(st.none(), days), max_size=12))
    return [Step(day, f"<deed {i}>", "Tam & Co", f"#{i}") for i, day in enumerate(done)] + [
        Step(day, f"to come {i}", done=False) for i, day in enumerate(to_come)
    ]


def marks(svg: str) -> list[tuple[float, float, float]]:
    root = ET.fromstring(svg)
    return [
        (float(c.attrib["cx"]), float(c.attrib["cy"]), float(c.attrib["r"]))
        for c in root.iter("circle")
    ]


def view_box(svg: str) -> tuple[float, float]:
    width, height = ET.fromstring(svg).attrib["viewBox"].split()[2:]
    return float(width), float(height)


@given(steps(), st.booleans())
def test_captions_never_overlap_and_keep_their_order(given_steps: list[Step], ended: bool) -> None:
    drawn = line(given_steps, TODAY, ended=ended)
    assert len(drawn.captions) <= MOST_CAPTIONS
    end = 1
    for caption in drawn.captions:
        assert caption.column >= end
        assert caption.span >= 3
        end = caption.column + caption.span
    assert end <= COLUMNS + 1


@given(steps(), st.booleans())
def test_every_mark_lies_inside_both_drawings(given_steps: list[Step], ended: bool) -> None:
    drawn = line(given_steps, TODAY, ended=ended)
    if not given_steps:
        assert drawn == Line("", "", (), ())
        return
    for svg in (drawn.large, drawn.small):
        width, height = view_box(svg)
        found = marks(svg)
        assert len(found) == len(given_steps), "no deed is left out of the drawing"
        for x, y, radius in found:
            assert radius <= x <= width - radius
            assert radius <= y <= height - radius


@given(steps())
def test_folding_loses_no_deed_and_keeps_first_and_last(given_steps: list[Step]) -> None:
    drawn = line(given_steps, TODAY)
    behind = [step for caption in drawn.captions for step in caption.steps]
    assert behind == list(drawn.steps)
    assert sorted(map(repr, behind)) == sorted(map(repr, given_steps))
    if given_steps:
        assert not drawn.captions[0].is_fold
        assert not drawn.captions[-1].is_fold


def test_sixty_deeds_are_folded_in_the_middle_and_the_next_one_still_shows() -> None:
    done = [Step(date(2024, 1, 1) + timedelta(days=15 * i), f"deed {i}") for i in range(60)]
    drawn = line([*done, Step(date(2026, 12, 18), "next", done=False)], TODAY)
    folds = [caption for caption in drawn.captions if caption.is_fold]
    assert [len(fold.steps) for fold in folds] == [49]
    said = [caption.step.said for caption in drawn.captions if not caption.is_fold]
    assert said[0] == "deed 0"
    assert said[-2:] == ["deed 59", "next"]
    assert (drawn.done, drawn.to_come, drawn.is_folded) == (60, 1, True)


def test_a_single_deed_is_a_line_too() -> None:
    drawn = line([Step(TODAY, "Question posted")], TODAY)
    assert [caption.step.said for caption in drawn.captions] == ["Question posted"]
    assert len(marks(drawn.large)) == 1
    assert "today" in drawn.large


def test_an_ended_line_shows_no_today() -> None:
    drawn = line([Step(date(2021, 1, 1), "a"), Step(date(2023, 1, 1), "b")], TODAY, ended=True)
    assert "today" not in drawn.large + drawn.small
    assert "2026" not in drawn.large


def test_dates_are_true_to_scale() -> None:
    drawn = line(
        [Step(date(2024, 1, 1), "a"), Step(date(2024, 7, 1), "b"), Step(TODAY, "c")], TODAY
    )
    (a, _, _), (b, _, _), (c, _, _) = marks(drawn.large)
    share = (date(2024, 7, 1) - date(2024, 1, 1)).days / (TODAY - date(2024, 1, 1)).days
    assert (b - a) / (c - a) == pytest.approx(share, abs=0.001)


def test_done_is_filled_and_to_come_is_hollow() -> None:
    drawn = line([Step(date(2026, 1, 1), "a"), Step(None, "b", done=False)], TODAY)
    for svg in (drawn.large, drawn.small):
        assert [c.attrib["class"] for c in ET.fromstring(svg).iter("circle")] == ["dn", "ho"]


def test_no_drawing_holds_a_style_a_script_or_a_colour() -> None:
    drawn = line([Step(TODAY, "<script>alert(1)</script>")], TODAY)
    assert not re.search(r"style=|<script|#[0-9a-f]{3}", drawn.large + drawn.small)
