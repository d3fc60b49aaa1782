"""Marking the words that were looked for."""

from registry.search.asking import read
from registry.search.marking import WORDS_SHOWN, excerpt, marked


def test_found_words_are_marked_as_they_are_written() -> None:
    assert marked("Brandt-Håkansson’s gentoos", read("hakansson gentoo")) == (
        "Brandt-<mark>Håkansson</mark>’s <mark>gentoos</mark>"
    )


def test_nothing_typed_is_taken_for_markup() -> None:
    said = marked("<b>flow</b> & more", read("flow"))
    assert said == "&lt;b&gt;<mark>flow</mark>&lt;/b&gt; &amp; more"
    assert "<script>" not in excerpt("<script>flow</script>", read("script"))


def test_letters_of_two_parts_are_marked_too() -> None:
    assert marked("a cafe\u0301 here", read("café")) == "a <mark>café</mark> here"


def test_an_excerpt_begins_shortly_before_the_first_found_word() -> None:
    text = f"{' '.join(['before'] * 100)}\nthe blower {' '.join(['after'] * 60)}"
    said = excerpt(text, read("blower"))
    assert said.startswith("… ")
    assert said.endswith(" …")
    assert "<mark>blower</mark>" in said
    assert len(said.split()) == WORDS_SHOWN + 2


def test_an_excerpt_without_a_found_word_is_the_beginning() -> None:
    assert excerpt("one two\nthree", read("title")) == "one two · three"
