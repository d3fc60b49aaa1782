"""The life strip: bars in their lanes, nothing outside the sheet, the same facts as rows."""

import xml.etree.ElementTree as ET
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from registry.drawings import LifeStrip, Moment, Shape, Span, Tone, life_strip

START, END, TODAY = date(2024, 1, 1), date(2026, 12, 31), date(2026, 11, 24)
LANES = ("Lives in", "Restricted")
days = st.dates(date(2020, 1, 1), date(2030, 1, 1))


@st.composite
def spans(draw: st.DrawFn) -> Span:
    begun = draw(days)
    long = draw(st.one_of(st.none(), st.integers(0, 2000)))
    return Span(
        draw(st.sampled_from(LANES)),
        begun,
        None if long is None else begun + timedelta(days=long),
        draw(st.sampled_from(list(Tone))),
        draw(st.text("ab <&", max_size=12)),
    )


@st.composite
def moments(draw: st.DrawFn) -> Moment:
    shape = draw(st.sampled_from(list(Shape)))
    return Moment(LANES[0], draw(days), shape, "weighed", 7 if shape is Shape.BREACH else None)


def rects(svg: str) -> list[tuple[float, float, float, float]]:
    return [
        tuple(float(r.attrib[name]) for name in ("x", "y", "width", "height"))  # type: ignore[misc]  # four of them
        for r in ET.fromstring(svg).iter("rect")
    ]


@given(st.lists(spans(), max_size=12), st.lists(moments(), max_size=12))
def test_bars_stay_on_the_sheet_and_every_fact_is_a_row(
    all_spans: list[Span], all_moments: list[Moment]
) -> None:
    strip = life_strip("Morwen", LANES, all_spans, all_moments, START, END, TODAY)
    assert len(strip.facts) == len(all_spans) + len(all_moments)
    begun = [fact.begun_on for fact in strip.facts]
    assert begun == sorted(begun, reverse=True)
    for svg in (strip.large, strip.small):
        width, height = (float(part) for part in ET.fromstring(svg).attrib["viewBox"].split()[2:])
        for x, y, wide, high in rects(svg):
            assert x >= -0.1
            assert x + wide <= width + 0.1
            assert 0 <= y <= y + high <= height


def _strip(*all_spans: Span) -> LifeStrip:
    return life_strip("Morwen", LANES, all_spans, (), START, END, TODAY)


def test_bars_at_the_same_time_lie_in_rows_of_their_own() -> None:
    one = Span(LANES[1], date(2026, 2, 1), date(2026, 5, 1), Tone.SOLID)
    apart = Span(LANES[1], date(2026, 5, 1), date(2026, 6, 1), Tone.SOLID)
    over = Span(LANES[1], date(2026, 3, 1), date(2026, 4, 1), Tone.SOLID)
    heights = [
        sorted({y for _, y, _, _ in rects(_strip(*s).large)}) for s in ((one, apart), (one, over))
    ]
    assert [len(rows) for rows in heights] == [1, 2]


def test_what_lasts_is_drawn_to_today_and_no_further() -> None:
    lasting = rects(_strip(Span(LANES[0], START, None, Tone.PALE)).large)[0]
    ended = rects(_strip(Span(LANES[0], START, TODAY, Tone.PALE)).large)[0]
    assert lasting == ended


def test_an_empty_life_is_drawn_and_says_nothing() -> None:
    strip = _strip()
    assert strip.facts == ()
    assert strip.key == ()
    assert "Lives in" in strip.large


def test_a_fact_is_lasting_until_its_last_day_has_passed() -> None:
    facts = _strip(
        Span(LANES[0], START, None, Tone.PALE),
        Span(LANES[1], START, TODAY + timedelta(days=1), Tone.HATCHED),
        Span(LANES[1], START, TODAY, Tone.HATCHED, "keep off"),
    ).facts
    assert {fact.what: fact.is_lasting for fact in facts} == {
        "Lives in": True,
        "Restricted": True,
        "Restricted: keep off": False,
    }
