"""The use map: tone by contacts, breaches by number, and tables that add up."""

import xml.etree.ElementTree as ET
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.drawings import UseRow, use_map
from registry.drawings.use_map import MOST_WEEKS

MONDAY = date(2026, 1, 5)


@st.composite
def rows(draw: st.DrawFn) -> list[UseRow]:
    weeks = draw(st.integers(0, 130))
    week = st.integers(0, max(weeks - 1, 0))
    return [
        UseRow(
            group,
            f"animal {i}",
            tuple(draw(st.lists(st.integers(0, 9), min_size=weeks, max_size=weeks))),
            tuple(draw(st.lists(st.tuples(week, week), max_size=2))),
            tuple(draw(st.lists(st.tuples(week, st.integers(1, 99)), max_size=4))),
        )
        for group in ("Rays", "Gentoos")
        for i in range(draw(st.integers(0, 3)))
    ]


@given(rows())
def test_the_tables_add_up_to_the_rows(all_rows: list[UseRow]) -> None:
    drawn = use_map(all_rows, MONDAY)
    if not all_rows:
        assert drawn.by_month == ()
        return
    name, cells, whole = drawn.by_month[-1]
    assert name == "All"
    assert sum(cells) == whole == sum(row.total for row in all_rows)
    assert len(cells) == len(drawn.months)


@given(rows())
def test_cells_stay_on_the_sheet(all_rows: list[UseRow]) -> None:
    drawn = use_map(all_rows, MONDAY)
    for svg in (drawn.large, drawn.small):
        root = ET.fromstring(svg)
        width, height = (float(part) for part in root.attrib["viewBox"].split()[2:])
        for cell in root.iter("rect"):
            x, y = float(cell.attrib["x"]), float(cell.attrib["y"])
            assert 0 <= x <= x + float(cell.attrib["width"]) <= width
            assert 0 <= y <= y + float(cell.attrib["height"]) <= height


def test_tone_grows_with_the_contacts() -> None:
    drawn = use_map([UseRow("Rays", "Morwen", (0, 1, 2, 3, 4, 5, 60))], MONDAY)
    tones = [cell.attrib["class"] for cell in ET.fromstring(drawn.large).iter("rect")]
    assert tones == ["p2", "p3", "p4", "p4", "p5", "p5"]


def test_a_breach_stands_by_number_in_both_drawings() -> None:
    drawn = use_map([UseRow("Rays", "Morwen", (0, 1, 0), (), ((1, 42),))], MONDAY)
    for svg in (drawn.large, drawn.small):
        said = [text.text for text in ET.fromstring(svg).iter("text")]
        assert "42" in said


def test_rows_are_paged_and_a_page_past_the_end_is_the_last() -> None:
    many = [UseRow("Rays", f"ray {i}", (1,)) for i in range(85)]
    shown = [[row.name for row in use_map(many, MONDAY, page=page).shown] for page in (1, 3, 9)]
    assert [len(names) for names in shown] == [40, 5, 5]
    assert shown[1] == shown[2]
    assert use_map(many, MONDAY).pages == 3


@pytest.mark.parametrize("weeks", range(44, 54))
def test_the_last_month_keeps_clear_of_the_word_above_the_sums(weeks: int) -> None:
    drawn = use_map([UseRow("Rays", "Morwen", (1,) * weeks)], MONDAY)
    heads = [one for one in ET.fromstring(drawn.large).iter() if one.get("y") == "22"]
    month, total = heads[-2:]
    assert total.text == "contacts"
    assert float(month.get("x") or 0) + 8 * len(month.text or "") < float(total.get("x") or 0) - 60


def test_weeks_that_do_not_fit_are_counted() -> None:
    drawn = use_map([UseRow("Rays", "Morwen", (1,) * (MOST_WEEKS + 7))], MONDAY)
    assert drawn.left_out_weeks == 7
    assert drawn.by_month[-1][2] == MOST_WEEKS + 7


def test_rows_of_unequal_length_are_refused() -> None:
    with pytest.raises(ValueError, match="same weeks"):
        use_map([UseRow("Rays", "a", (1,)), UseRow("Rays", "b", (1, 2))], MONDAY)
