"""The yearly return: every entry is in one row, in the year in which it ended."""

import doctest
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.oversight import yearly
from registry.oversight.yearly import Procedure, categories_of, yearly_return

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
    assert doctest.testmod(yearly).failed == 0


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
    assert categories_of(2026).category(name, of_class) == category


def test_a_year_before_every_list_is_not_guessed() -> None:
    with pytest.raises(LookupError, match="2019"):
        categories_of(2019)
