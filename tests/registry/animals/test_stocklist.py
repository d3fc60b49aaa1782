from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.animals.stocklist import (
    NOUGHT,
    Change,
    Column,
    Happening,
    StockLine,
    is_early_death,
    stock_lines,
)

changes = st.builds(Change, *[st.integers(-500, 500)] * 3)


def test_a_years_line_balances():
    # An invented line, summed by hand: 13 + 1 + 9 - 2 - 2 - 4 = 15.
    lines = stock_lines(
        {"ray": Change(3, 4, 6)},
        [
            Happening("ray", Column.ARRIVED, Change(1, 0, 0)),
            Happening("ray", Column.BRED, Change(0, 0, 4)),
            Happening("ray", Column.BRED, Change(0, 0, 5)),
            Happening("ray", Column.DIED_EARLY, Change(0, 0, -2)),
            Happening("ray", Column.DIED, Change(0, -1, -1)),
            Happening("ray", Column.DEPARTED, Change(-1, 0, -3)),
            Happening("ray", Column.SEXED, Change(2, 2, -4)),
        ],
    )
    line = lines["ray"]
    assert str(line.held_at_start) == "3.4.6"
    assert str(line.shown(Column.BRED)) == "0.0.9"
    assert str(line.shown(Column.DIED)) == "0.1.1"
    assert str(line.shown(Column.DEPARTED)) == "1.0.3"
    assert str(line.shown(Column.SEXED)) == "2.2.−4"
    assert str(line.held_at_end) == "5.5.5"
    assert line.held_at_end.total == 15


def test_a_recount_is_a_column_of_its_own():
    line = stock_lines(
        {"shoal": Change(0, 0, 40)}, [Happening("shoal", Column.RECOUNTED, Change(0, 0, -3))]
    )["shoal"]
    assert str(line.shown(Column.RECOUNTED)) == "0.0.−3"
    assert line.shown(Column.DIED) == NOUGHT
    assert line.held_at_end.total == 37


def test_a_line_is_unsound_where_sexing_makes_an_animal_or_more_leave_than_were_there():
    made = stock_lines({}, [Happening("ray", Column.SEXED, Change(1, 0, 0))])["ray"]
    assert not made.is_sound
    lost = stock_lines({"ray": Change(1)}, [Happening("ray", Column.DIED, Change(0, -1))])["ray"]
    assert not lost.is_sound
    moved = stock_lines(
        {"ray": Change(0, 0, 2)}, [Happening("ray", Column.SEXED, Change(1, 0, -1))]
    )
    assert moved["ray"].is_sound
    assert moved["ray"].held_at_end == Change(1, 0, 1)


def test_kinds_of_which_none_was_here_are_left_out_and_those_that_came_and_went_are_not():
    came = Happening("b", Column.ARRIVED, Change(1))
    went = Happening("b", Column.DEPARTED, Change(-1))
    lines = stock_lines({"a": NOUGHT}, [came, went])
    assert list(lines) == ["b"]
    assert lines["b"].held_at_end == NOUGHT


@given(opening=changes, moved=st.lists(st.tuples(st.sampled_from(list(Column)), changes)))
def test_each_sex_and_the_total_balance_alike_and_two_years_are_one_after_the_other(opening, moved):
    year = [
        Happening("x", column, change)
        for column, change in moved
        if column != Column.SEXED or not change.total
    ]
    line = stock_lines({"x": opening}, year).get("x", StockLine())
    for place in range(3):
        expected = opening[place] + sum(change[place] for _, _, change in year)
        assert line.held_at_end[place] == expected
    assert line.held_at_end.total == opening.total + sum(change.total for _, _, change in year)
    doubled = line.plus(line)
    assert doubled.held_at_end == NOUGHT.plus(line.held_at_end, 2)


def test_a_death_on_the_thirtieth_day_is_early_and_on_the_next_is_not():
    born = date(2026, 12, 20)
    assert is_early_death(born, date(2027, 1, 10))
    assert is_early_death(born, date(2027, 1, 19))
    assert not is_early_death(born, date(2027, 1, 20))
    assert is_early_death(born, born)
    with pytest.raises(ValueError, match="before"):
        is_early_death(born, date(2026, 12, 19))
