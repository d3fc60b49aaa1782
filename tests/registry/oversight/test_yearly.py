"""The yearly return: every entry is in one row, in the year in which it ended."""

import doctest
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.oversight.counting import Subject
from registry.oversight.yearly import (
    Category,
    Lot,
    Procedure,
    differences,
    editions,
    entries,
    lists,
    procedures_of,
    species_of,
    sums,
    yearly_return,
)
from tests.worlds.projects import vocabulary

ONE = Procedure("Other fish", "animal welfare", "wild", 1, False, date(2025, 12, 31))

procedures = st.builds(
    Procedure,
    species=st.sampled_from(["Other fish", "Cephalopods"]),
    purpose=st.sampled_from(["animal welfare", "animal nutrition"]),
    origin=st.sampled_from(["wild", "bred"]),
    severity=st.sampled_from([None, 0, 1, 2, 3, 9]),
    is_reuse=st.booleans(),
    ended_on=st.none() | st.dates(date(2024, 1, 1), date(2026, 12, 31)),
    animals=st.integers(1, 50),
    is_late_embryo=st.booleans(),
)


def test_the_examples_in_the_docstrings_hold() -> None:
    for module in (editions, entries, lists, sums):
        assert doctest.testmod(module).failed == 0


@given(st.lists(procedures, max_size=40))
def test_the_rows_of_a_return_add_up_to_its_entries(entries: list[Procedure]) -> None:
    counted = yearly_return(iter(entries), 2025)
    apart = counted.embryos.total() + counted.elsewhere
    assert counted.procedures + apart == sum(one.animals for one in entries)
    assert counted.animals + counted.reuses == counted.procedures
    assert all(sum(counted.by(column).values()) == counted.procedures for column in range(5))


def test_a_procedure_counts_in_the_year_in_which_it_ended() -> None:
    entries = [ONE, replace(ONE, ended_on=date(2026, 1, 1)), replace(ONE, ended_on=None)]
    assert yearly_return(entries, 2025).procedures == 1
    assert yearly_return(entries, 2025).elsewhere == 2


def test_late_embryos_are_kept_apart_and_what_nobody_classified_is_told() -> None:
    counted = yearly_return([replace(ONE, is_late_embryo=True), replace(ONE, severity=None)], 2025)
    assert (counted.procedures, counted.embryos.total(), counted.unclassified) == (1, 1, 1)


@pytest.mark.parametrize("wrong", [{"animals": 0}, {"severity": 4}])
def test_a_procedure_that_cannot_be_is_refused(wrong: dict[str, int]) -> None:
    assert yearly_return([ONE], 2025).procedures == 1
    with pytest.raises(ValueError, match="known class"):
        yearly_return([replace(ONE, **wrong)], 2025)  # type: ignore[arg-type]  # numbers alone


def held() -> list[Category]:
    """Give the list of species as the reference data hold it."""
    rows = [row for row in vocabulary("return_categories") if row["sort"] == "species"]
    return [Category(**{key: row[key] for key in row if key != "sort"}) for row in rows]


@pytest.mark.parametrize(
    ("name", "of_class", "category"),
    [
        ("Danio rerio", "bony_fish", "Zebra fish"),
        ("Hippocampus hippocampus", "bony_fish", "Other fish"),
        ("Raja undulata", "cartilaginous_fish", "Other fish"),
        ("Pygoscelis papua", "bird", "Other birds"),
        ("Halichoerus grypus", "mammal", "Other carnivores"),
        ("Sepia officinalis", "cephalopod", "Cephalopods"),
        ("Carcinus maenas", "decapod", ""),
    ],
)
def test_each_kind_falls_into_its_category(name: str, of_class: str, category: str) -> None:
    names = {one.code: one.name for one in held()}
    assert names.get(species_of(held(), 2026).category(name, of_class), "") == category


def test_a_year_before_every_list_is_not_guessed_and_a_list_ends_with_its_last_year() -> None:
    with pytest.raises(LookupError, match="2019"):
        species_of(held(), 2019)
    ended = [replace(one, until_year=2025) for one in held()]
    assert species_of(ended, 2025).category("Raja undulata", "cartilaginous_fish")
    with pytest.raises(LookupError, match="2026"):
        species_of(ended, 2026)


# --------------------------------------------------------------------- from uses to procedures

RAY = Subject("animal", 1)
LOT = Lot(
    RAY, 4, date(2025, 3, 1), date(2025, 3, 9), date(2025, 3, 10), "other-fish", "welfare", "eu", 1
)


def then(**more: object) -> Lot:
    """Give what the same ray went through in another project, after the first had ended."""
    later = {
        "project": 9,
        "first_on": date(2025, 6, 1),
        "last_on": date(2025, 6, 2),
        "ended_on": date(2025, 6, 3),
    }
    return replace(LOT, **{**later, **more})  # type: ignore[arg-type]  # why: names and values


def test_another_programme_is_a_re_use_a_procedure_more_and_no_animal_more() -> None:
    counted = yearly_return(procedures_of([LOT, then()]), 2025)
    assert (counted.procedures, counted.animals, counted.reuses) == (2, 1, 1)


def test_what_continues_a_use_is_one_procedure_with_it_by_the_highest_class() -> None:
    (one,) = procedures_of([LOT, then(is_continued=True, severity=2)])
    assert (one.ended_on, one.severity, one.is_reuse) == (date(2025, 6, 3), 2, False)
    again = then(project=4, severity=0)
    (one,) = procedures_of([LOT, again])
    assert (one.ended_on, one.severity) == (date(2025, 6, 3), 1)


def test_two_programmes_at_once_are_two_first_uses_and_what_lasts_is_not_reported() -> None:
    at_once = then(first_on=date(2025, 3, 5))
    counted = yearly_return(procedures_of([LOT, at_once]), 2025)
    assert (counted.procedures, counted.reuses) == (2, 0)
    lasting = then(project=4, ended_on=None)
    assert yearly_return(procedures_of([LOT, lasting]), 2025).elsewhere == 1


lots = st.builds(
    Lot,
    subject=st.builds(Subject, st.sampled_from(["animal", "group"]), st.integers(1, 3)),
    project=st.integers(1, 4),
    first_on=st.dates(date(2025, 1, 1), date(2025, 6, 1)),
    last_on=st.dates(date(2025, 6, 2), date(2025, 9, 1)),
    ended_on=st.dates(date(2025, 9, 2), date(2025, 12, 31)),
    species=st.just("other-fish"),
    purpose=st.just("welfare"),
    origin=st.just("eu"),
    severity=st.sampled_from([0, 1, 2, 3, 9]),
    stage=st.sampled_from(["adult", "embryo"]),
    most=st.integers(1, 9),
    enrolled=st.integers(0, 12),
    is_continued=st.booleans(),
)


@given(st.lists(lots, max_size=12))
def test_numbers_used_never_exceed_what_is_reported(drawn: list[Lot]) -> None:
    drawn = [replace(one, total=one.most * 3) for one in drawn]
    drawn.sort(key=lambda one: one.subject)
    counted = yearly_return(procedures_of(drawn), 2025)
    reported = counted.procedures + counted.embryos.total()
    at_once = sum(one.most for one in drawn if one.subject.is_group)
    told_apart = len({one.subject for one in drawn if not one.subject.is_group})
    assert at_once + told_apart <= reported
    assert reported <= sum(one.animals for one in drawn)


def test_what_a_later_edition_gives_differently_is_told_row_by_row() -> None:
    row, other = ("fish", "w", "eu", 1, False), ("fish", "w", "eu", 2, False)
    told = differences({row: 3}, {row: 2, other: 1})
    assert [(one.row, one.before, one.after) for one in told] == [(row, 3, 2), (other, 0, 1)]
