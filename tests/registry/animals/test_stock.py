from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.animals.stock import Count, StockLine, is_early_death, parse
from registry.errors import Unsound

counts = st.builds(Count, *[st.integers(0, 500)] * 3)


def test_a_count_is_read_and_written_in_the_trades_notation():
    rays = parse("2.6.0")
    assert (rays.males, rays.females, rays.unknown, rays.total) == (2, 6, 0, 8)
    assert str(rays) == "2.6.0"
    assert parse(" 0.0.12 ") == Count(0, 0, 12)


@pytest.mark.parametrize(
    "text", ["", "2.6", "2.6.0.1", "-1.0.0", "2,6,0", "a.b.c", "2.6.", "1e3.0.0"]
)
def test_what_is_no_count_is_refused_in_words(text):
    with pytest.raises(Unsound) as refused:
        parse(text)
    assert "2.6.0" in refused.value.next


def test_the_arithmetic_of_the_trade():
    # Worked out by hand: 2.3.4, five hatch, two are sexed, a male leaves; 13 remain.
    hatched = parse("2.3.4") + parse("0.0.5")
    assert str(hatched) == "2.3.9"
    sexed = hatched.sexed(males=1, females=1)
    assert str(sexed) == "3.4.7"
    left = sexed - parse("1.0.0")
    assert str(left) == "2.4.7"
    assert left.total == 13


def test_no_column_falls_below_nothing():
    with pytest.raises(Unsound) as refused:
        parse("1.2.3") - parse("0.3.0")
    assert set(refused.value.fields) == {"females"}
    with pytest.raises(Unsound):
        Count(-1)
    with pytest.raises(Unsound):
        parse("0.0.1").sexed(males=1, females=1)
    with pytest.raises(ValueError, match="whole numbers"):
        parse("1.0.0").sexed(males=-1)


def test_the_share_of_males_is_of_the_sexed_alone():
    assert parse("1.3.96").share_male == 0.25
    assert parse("0.0.5").share_male is None


def test_a_years_line_balances():
    # An invented line, summed by hand: 13 + 1 + 9 - 2 - 2 - 4 = 15.
    line = StockLine(
        held_at_start=parse("3.4.6"),
        arrived=parse("1.0.0"),
        bred=parse("0.0.9"),
        died_early=parse("0.0.2"),
        died=parse("0.1.1"),
        departed=parse("1.0.3"),
        sexed=parse("2.2.0"),
    )
    assert str(line.held_at_end) == "5.5.5"
    assert line.held_at_end.total == 15


def test_a_line_that_loses_more_than_it_had_is_refused():
    with pytest.raises(Unsound):
        StockLine(parse("1.0.0"), died=parse("0.1.0")).held_at_end  # noqa: B018
    with pytest.raises(ValueError, match="unknown"):
        StockLine(parse("1.0.9"), sexed=parse("0.0.1")).held_at_end  # noqa: B018


@given(b=counts, c=counts, d=counts, f=counts, g=counts)
def test_each_column_and_the_total_balance_alike(b, c, d, f, g):
    line = StockLine(b + f + g, arrived=c, bred=d, died=f, departed=g)
    assert line.held_at_end == b + c + d
    assert line.held_at_end.total == b.total + c.total + d.total
    assert b + c - c == b


def test_a_death_on_the_thirtieth_day_is_early_and_on_the_next_is_not():
    born = date(2026, 12, 20)
    assert is_early_death(born, date(2027, 1, 10))
    assert is_early_death(born, date(2027, 1, 19))
    assert not is_early_death(born, date(2027, 1, 20))
    assert is_early_death(born, born)
    with pytest.raises(ValueError, match="before"):
        is_early_death(born, date(2026, 12, 19))
