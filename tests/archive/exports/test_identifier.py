import itertools

import pytest

from archive.exports.identifier import (
    BETANUMERIC,
    check_character,
    is_sound,
    mint,
    parse,
    qualify,
)
from registry.errors import Unsound


def test_a_new_identifier_is_sound_and_has_the_shape_that_was_promised():
    minted = mint()
    ark = parse(minted)
    assert minted == str(ark) == ark.base
    assert ark.naan == "99999"
    assert ark.name.startswith("s1")
    assert len(ark.name) == 2 + 10 + 1
    assert set(ark.name) <= set(BETANUMERIC)
    assert mint(naan="12148", shoulder="fk4").startswith("ark:12148/fk4")


def test_identifiers_are_not_drawn_twice_and_use_the_whole_alphabet():
    names = [parse(mint()).name for _ in range(2000)]
    assert len(set(names)) == 2000
    for place in range(2, 12):
        assert {name[place] for name in names} == set(BETANUMERIC)


def test_every_single_slip_and_every_swap_of_neighbours_is_found():
    naan, name = "99999", parse(mint()).name
    slips = [
        name[:place] + other + name[place + 1 :]
        for place, other in itertools.product(range(len(name)), BETANUMERIC)
        if other != name[place]
    ]
    swaps = [
        name[:place] + name[place + 1] + name[place] + name[place + 2 :]
        for place in range(len(name) - 1)
        if name[place] != name[place + 1]
    ]
    assert len(slips) == 13 * 28
    assert is_sound(f"ark:{naan}/{name}")
    assert not [slip for slip in slips + swaps if is_sound(f"ark:{naan}/{slip}")]


@pytest.mark.parametrize(
    "written",
    [
        "ark:13030/xf93gt2q",
        "ark:/13030/xf93gt2q",
        " ark:13030/xf93-gt2q ",
        "ark:13030/xf93\N{EN DASH}gt2q",
        "ARK:13030/XF93GT2Q",
        "https://archive.example.org/ark:13030/xf93gt2q",
    ],
)
def test_an_identifier_is_read_as_people_write_it(written):
    assert str(parse(written)) == "ark:13030/xf93gt2q"


@pytest.mark.parametrize(
    "written", ["", "xf93gt2q", "ark:13030/xf93gt2z", "ark:13030/", "doi:10.1/x", "ark:13030/a/b"]
)
def test_what_is_no_identifier_is_refused_in_words(written):
    with pytest.raises(Unsound) as refused:
        parse(written)
    assert refused.value.fields["identifier"]
    assert not is_sound(written)


def test_a_version_is_named_behind_the_dataset():
    first = qualify("ark:13030/xf93gt2q", 1)
    assert first == "ark:13030/xf93gt2q.v1"
    assert qualify(first, "2.0.1") == "ark:13030/xf93gt2q.v2.0.1"
    assert parse(first).base == "ark:13030/xf93gt2q"
    assert parse(first).version == "1"
    for wrong in ("", "v1", "1.", "1.2.3.4", "2026 spring"):
        with pytest.raises(ValueError, match="version number"):
            qualify(first, wrong)


def test_a_shoulder_or_a_number_that_cannot_be_is_refused():
    for wrong in ("", "s", "1s", "a1", "S1", "ray1"):
        with pytest.raises(ValueError, match="shoulder"):
            mint(shoulder=wrong)
    with pytest.raises(ValueError, match="authority"):
        mint(naan="999")


def test_characters_outside_the_alphabet_weigh_nothing_but_hold_their_place():
    assert check_character("13030/xf93gt2") != check_character("13030xf93gt2")
