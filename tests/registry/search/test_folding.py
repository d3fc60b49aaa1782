"""Folding text."""

import pytest

from registry.search.folding import MOST_IN_A_WORD, MOST_WORDS, fold, stems


@pytest.mark.parametrize(
    ("written", "folded"),
    [
        ("Dr Oluwaseun Brandt-Håkansson", "dr oluwaseun brandt hakansson"),
        ("Øresund, Straße & Œuvre", "oresund strasse oeuvre"),
        ("  tank_5/NEAR*  ", "tank 5 near"),
        ("\x00''\"", ""),
    ],
)
def test_accents_signs_and_capitals_are_folded_away(written: str, folded: str) -> None:
    assert fold(written) == folded


def test_a_plural_is_looked_for_by_its_singular_and_each_word_once() -> None:
    assert stems("Gentoos gentoo glass") == ["gentoo", "glass"]


def test_very_much_is_cut_to_what_an_index_can_take() -> None:
    assert stems("x" * 5000) == ["x" * MOST_IN_A_WORD]
    assert len(stems(" ".join(f"word{n}" for n in range(300)))) == MOST_WORDS
