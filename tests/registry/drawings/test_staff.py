"""The limit staff and the spark bars: words and lengths that agree with the numbers."""

import xml.etree.ElementTree as ET
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.drawings import bars, staff

amounts = st.one_of(st.integers(0, 10**6), st.decimals(0, 1000, places=2))


@given(amounts, amounts, amounts)
def test_the_words_agree_with_the_sum_and_all_stays_on_the_sheet(
    used: int | Decimal, asked: int | Decimal, limit: int | Decimal
) -> None:
    drawn = staff("Keeper hours", used, asked, limit)
    over = Decimal(used) + Decimal(asked) - Decimal(limit)
    assert drawn.is_over == (over > 0)
    assert Decimal(drawn.figure) == abs(over)
    for box in ET.fromstring(drawn.svg).iter("rect"):
        assert float(box.attrib["x"]) + float(box.attrib["width"]) <= 398.6


def test_used_and_asked_and_limit_are_drawn_to_scale() -> None:
    drawn = staff("Seahorses", 8, 4, 8)
    _, used, asked = ET.fromstring(drawn.svg).iter("rect")
    assert float(used.attrib["width"]) == pytest.approx(2 * float(asked.attrib["width"]))
    assert (drawn.figure, drawn.said) == ("4", "over; the limit would rise to 12")
    assert drawn.note == "8 used, 4 asked"


def test_a_limit_already_passed_does_not_say_that_it_would_rise() -> None:
    drawn = staff("Contacts", 9, 0, 8)
    assert (drawn.figure, drawn.said, drawn.note) == ("1", "over the limit of 8", "9 used")


def test_nothing_used_of_nothing_is_drawn() -> None:
    assert staff("Contacts", 0, 0, 0).said == "left of 0"


def test_an_amount_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="below 0"):
        staff("Contacts", -1, 0, 8)


@given(st.lists(st.floats(0, 1e9), max_size=200))
def test_bars_stay_inside_and_the_tallest_is_full(counts: list[float]) -> None:
    drawn = list(ET.fromstring(bars(counts, "spread")).iter("rect"))
    assert len(drawn) == sum(count > 0 for count in counts)
    for bar in drawn:
        assert float(bar.attrib["x"]) + float(bar.attrib["width"]) <= 104.5
    if drawn:
        assert max(float(bar.attrib["height"]) for bar in drawn) == 48


def test_bars_that_hold_a_finding_are_full() -> None:
    classes = [r.attrib["class"] for r in ET.fromstring(bars([1, 2], "s", marked=[1])).iter("rect")]
    assert classes == ["p3", "p5"]
