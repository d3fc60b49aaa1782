"""The chain, by itself."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.ledger.chain import (
    START,
    Link,
    canonical,
    digest_of,
    faults,
    reason_digest,
)


def chain(*texts: str) -> list[Link]:
    links, previous = [], START
    for number, text in enumerate(texts, 1):
        links.append(Link(number, text, previous, digest_of(text, previous)))
        previous = links[-1].digest
    return links


def said(links: list[Link], anchor: tuple[int, str] | None = None) -> list[tuple[int, str]]:
    return [(fault.number, fault.what) for fault in faults(links, anchor=anchor)]


def test_a_whole_chain_has_no_fault_and_an_empty_one_neither() -> None:
    assert said(chain("a", "b", "c")) == []
    assert said([]) == []


def test_the_digest_is_sha_256_over_the_digest_before_and_the_text() -> None:
    # Worked out with sha256sum of the GNU coreutils: printf '%064d\nabc' 0 | sha256sum
    assert digest_of("abc", START) == (
        "ac10ec504bb4ed3d77c3b3d1cf8fc534a2f6658185a64fc00b24a1afce46cec3"
    )


def test_an_altered_text_is_found_where_it_stands() -> None:
    links = chain("a", "b", "c")
    links[1] = replace(links[1], text="B")
    assert said(links) == [(2, "its text was altered")]


def test_an_altered_text_with_its_own_digest_made_anew_breaks_the_next_one() -> None:
    links = chain("a", "b", "c")
    links[1] = replace(links[1], text="B", digest=digest_of("B", links[0].digest))
    assert said(links) == [(3, "it does not follow the entry before it")]


def test_an_entry_taken_out_is_missed() -> None:
    links = chain("a", "b", "c")
    assert (2, "entries 2 to 2 are missing") in said([links[0], links[2]])
    assert (1, "entries 1 to 1 are missing") in said(links[1:])


def test_two_entries_that_changed_places_are_found() -> None:
    first, second, third = chain("a", "b", "c")
    assert said([second, first, third])


def test_a_recomputed_chain_and_a_cut_tail_are_found_only_with_an_anchor() -> None:
    links = chain("a", "b", "c")
    anchor = (3, links[2].digest)
    forged = chain("a", "B", "c")
    assert said(forged) == []
    assert said(forged, anchor) == [(3, "it differs from the digest kept elsewhere")]
    assert said(links[:2]) == []
    assert said(links[:2], anchor) == [(3, "the entry whose digest is kept elsewhere is missing")]
    assert said(links, anchor) == []


@given(st.lists(st.text(), min_size=1, max_size=8), st.data())
def test_whichever_text_is_altered_the_chain_says_so(texts: list[str], data: st.DataObject) -> None:
    links = chain(*texts)
    at = data.draw(st.integers(0, len(links) - 1))
    other = data.draw(st.text().filter(lambda text: text != texts[at]))
    links[at] = replace(links[at], text=other)
    assert [number for number, _ in said(links)] == [at + 1]


@given(st.dictionaries(st.text(), st.integers() | st.text() | st.none() | st.booleans()))
def test_the_canonical_text_does_not_know_the_order_of_its_facts(facts: dict[str, object]) -> None:
    assert canonical(facts) == canonical(dict(reversed(facts.items())))


def test_a_number_that_json_cannot_say_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON"):
        canonical({"mass_g": float("nan")})
    assert canonical({"b": 1, "a": "é"}) == '{"a":"é","b":1}'


def test_a_reason_is_hashed_with_its_salt_and_no_reason_not_at_all() -> None:
    assert reason_digest("", "salt") == ""
    assert reason_digest("ill", "a") != reason_digest("ill", "b")
