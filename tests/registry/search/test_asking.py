"""Reading what was typed into the search box."""

import pytest

from registry.search.asking import forms_of, key_of, read


@pytest.mark.parametrize(
    ("one", "many"),
    [
        ("gentoo", "gentoos"),
        ("berry", "berries"),
        ("octopus", "octopuses"),
        ("fish", "fishes"),
        ("larva", "larvae"),
        ("box", "boxes"),
    ],
)
def test_one_and_many_find_each_other(one: str, many: str) -> None:
    assert many in forms_of(one)
    assert one in forms_of(many)


def test_only_the_last_word_may_be_a_beginning() -> None:
    asked = read("pebble gent")
    assert [bool(term.beginnings) for term in asked.terms] == [False, True]
    assert asked.terms[1].holds("gentoos")
    assert not asked.terms[0].holds("pebbledash")
    assert asked.terms[0].holds("pebbles")


def test_words_in_quotes_stand_as_they_are_whatever_the_quotes() -> None:
    for typed in ('flow "egg strings"', "flow “egg strings”", "flow «Egg  Strings»"):
        asked = read(typed)
        assert asked.phrases == ("egg strings",)
        assert not any(term.holds("egg-string") or term.holds("stringsome") for term in asked.terms)
    assert read('one "open quote').phrases == ()


def test_a_small_number_is_no_beginning_and_a_long_one_is() -> None:
    assert not read("question 12").terms[1].holds("120")
    assert read("826098").terms[0].holds("826098000123456")


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ("RAY-03", "ray03"),
        ("826 0981 0001 2345", "826098100012345"),
        ("see http://localhost/archive/ark:/99999/fk4ab", "ark99999fk4ab"),
        ("pebbles", ""),
        ("1" * 200, ""),
    ],
)
def test_an_identifier_is_read_without_its_spaces_and_signs(typed: str, key: str) -> None:
    assert key_of(typed) == key


def test_nothing_typed_asks_for_nothing() -> None:
    assert not read(' "" *?! ')
