import pytest

from registry.animals.stock import Count, parse
from registry.errors import Unsound


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
