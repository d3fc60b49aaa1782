"""The vectorised search is held against asking each interval in turn."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.engine.checks.approval_day import covered
from archive.engine.facts import Live
from archive.engine.intervals import CodedDays, codes_of, days_of

START = date(2026, 3, 1)
days = st.integers(0, 12).map(lambda number: START + timedelta(days=number))
ends = st.one_of(st.none(), days, st.sampled_from([date.min, date.max]))
codes = st.sampled_from(["CE-01", "CE-02", "CE-03"])


def holds(since: date | None, until: date | None, day: date) -> bool:
    return (since is None or since <= day) and (until is None or day <= until)


@given(
    st.lists(st.tuples(codes, ends, ends), max_size=8),
    st.lists(st.tuples(codes, st.one_of(days, st.sampled_from([date.min, date.max]))), max_size=9),
)
@settings(max_examples=200, deadline=None)
def test_a_code_holds_a_day_just_when_one_of_its_intervals_does(items, asked):
    spans = CodedDays(items)
    numbers = spans.number([code for code, _ in asked])
    told = spans.covers(numbers, days_of(day for _, day in asked))
    expected = [
        any(code == name and holds(since, until, day) for name, since, until in items)
        for code, day in asked
    ]
    assert told.tolist() == expected


@given(
    st.lists(st.tuples(ends, ends, st.one_of(st.none(), st.sets(st.integers(0, 6)))), max_size=5),
    st.lists(days, max_size=14),
)
@settings(max_examples=200, deadline=None)
def test_a_day_is_approved_just_when_an_interval_and_its_weekdays_hold_it(items, asked):
    live = [Live(s, u, None if w is None else tuple(w)) for s, u, w in items]
    expected = [
        any(holds(s, u, day) and (w is None or day.weekday() in w) for s, u, w in items)
        for day in asked
    ]
    assert covered(days_of(asked), live).tolist() == expected


def test_a_row_without_a_day_is_held_by_any_interval_of_its_code():
    spans = CodedDays([("CE-01", START, START)])
    numbers = spans.number(["CE-01", "CE-02"])
    assert spans.covers(numbers, days_of([None, None])).tolist() == [True, False]


def test_the_day_of_a_time_with_a_zone_is_the_day_as_written():
    late = datetime.fromisoformat("2026-03-01T23:30:00-05:00")
    assert late.astimezone(UTC).date() == date(2026, 3, 2)
    assert days_of([late, "2026", None]).tolist() == [date(2026, 3, 1), None, None]
    assert np.isnat(days_of([7])[0])


def test_codes_are_read_without_outer_spaces_and_numbers_as_text():
    assert codes_of([" CE-01 ", 7, None]) == ["CE-01", "7", ""]
