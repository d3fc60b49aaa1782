"""The sums of a return held against published totals.

Sources, each read in a copy or a summary: Great Britain 2016 by species (Voice for Ethical Research
at Oxford, 2018); 2023, first uses and procedures, and Northern Ireland (Understanding Animal
Research); the revision of 2023 (gov.uk, 11 September 2024 and 23 October 2025); Northern Ireland
2013 and 2014, Great Britain 2015 (Speaking of Research, 2014 and 2016); Ireland 2018 (its
competent authority's report); first uses in the EU 2021 and 2022 (a summary of 29 July 2024).
"""

from collections.abc import Iterator
from datetime import date

import pytest

from registry.oversight.yearly import Edition, Procedure, agrees, edition_on, yearly_return

pytestmark = pytest.mark.outside

GB_2016 = {
    "mice": 2_866_435,
    "fish": 535_819,
    "rats": 249_389,
    "domestic fowl": 139_860,
    "sheep": 48_095,
    "guinea pigs": 26_186,
    "horses": 8_948,
    "rabbits": 15_431,
    "dogs": 4_932,
    "primates": 3_569,
    "other": 38_059,
}


def done(species: str, animals: int, *, year: int, is_reuse: bool = False) -> Procedure:
    """Give so many procedures at once, as a counted group has them."""
    day = date(year, 6, 30)
    return Procedure(species, "basic research", "bred", 1, is_reuse, day, animals)


def test_the_species_of_2016_add_up_to_the_published_total() -> None:
    counted = yearly_return((done(*pair, year=2016) for pair in GB_2016.items()), 2016)
    assert counted.procedures == 3_936_723
    assert agrees(counted.procedures, 3.94e6, 10_000)
    assert counted.by(0) == dict(sorted(GB_2016.items()))


def test_re_uses_of_2023_are_what_procedures_exceed_animals_by() -> None:
    def entries() -> Iterator[Procedure]:
        yield done("all", 2_605_528, year=2023)
        yield done("all", 76_158, year=2023, is_reuse=True)

    counted = yearly_return(entries(), 2023)
    assert (counted.procedures, counted.animals) == (2_681_686, 2_605_528)
    assert round(100 * counted.reuses / counted.procedures, 2) == 2.84


def test_a_published_year_is_revised_and_the_first_figure_stays_readable() -> None:
    first = Edition(2023, date(2024, 9, 11), 2_680_000, 2_605_528)
    second = Edition(2023, date(2025, 10, 23), 2_670_000, 2_605_528)
    held = [second, first, Edition(2024, date(2025, 10, 23), 2_640_000, 2_600_000)]
    assert edition_on(held, 2023, date(2024, 9, 10)) is None
    assert edition_on(held, 2023, date(2025, 1, 1)) == first
    assert edition_on(held, 2023, date(2025, 10, 23)) == second
    assert agrees(2_681_686, first.procedures, 10_000)
    assert not agrees(2_681_686, second.procedures, 10_000)


@pytest.mark.parametrize(
    ("part", "rest", "published", "unit"),
    [
        pytest.param(25_345, 2_681_686, 0.9, 0.1, id="Northern Ireland 2023"),
        pytest.param(29_221, 3_056_243, 0.95, 0.01, id="Northern Ireland 2021"),
        pytest.param(17_854, 199_800 - 17_854, 9, 1, id="other fish, Ireland 2018"),
    ],
)
def test_published_shares_come_out_within_their_rounding(
    part: int, rest: int, published: float, unit: float
) -> None:
    counted = yearly_return([done("part", part, year=2023), done("rest", rest, year=2023)], 2023)
    assert agrees(100 * part / counted.procedures, published, unit)


def test_procedures_and_animals_of_northern_ireland_are_not_mixed_up() -> None:
    """The page on 2014 says "3 fewer animals": there were 3 fewer procedures, and more animals."""
    first = Edition(2013, date(2014, 7, 1), procedures=19_860, animals=18_638)
    second = Edition(2014, date(2015, 7, 1), procedures=19_857, animals=18_889)
    assert second.procedures - first.procedures == -3
    assert second.animals - first.animals == 251
    with pytest.raises(ValueError, match="swapped"):
        Edition(2014, date(2015, 7, 1), procedures=18_889, animals=19_857)


def test_purposes_of_2015_leave_a_rest_and_no_more_than_a_whole() -> None:
    shares = {"basic": 498, "applied": 266, "bred": 134, "regulatory": 97, "other": 5}
    entries = [
        Procedure("all", purpose, "bred", 1, False, date(2015, 6, 30), tenths)
        for purpose, tenths in shares.items()
    ]
    counted = yearly_return(entries, 2015)
    assert counted.by(1) == dict(sorted(shares.items()))
    assert agrees(counted.procedures / 10, 100, 0.1)


def test_a_fall_reckoned_from_rounded_figures_misses_the_published_one_within_tolerance() -> None:
    fall = 100 * (9.41 - 8.39) / 9.41
    assert round(fall, 1) == 10.8
    assert not agrees(fall, 10.9, 0.1)
    # Both years were rounded to 10,000: that moves the fall by up to a tenth of a point.
    assert agrees(fall, 10.9, 0.1 + 2 * 100 * 0.005 / 9.41)
