import pytest

from registry.errors import Unsound
from registry.people.orcid import address, check_character, is_sound, normalise


# Valid and invalid ones: ORCID's own example; a public institute's documentation; the example
# printed in Darwin Core (recordedByID), whose check character is wrong.
@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("0000-0002-1825-0097", "0000-0002-1825-0097"),
        ("https://orcid.org/0000-0002-1694-233X", "0000-0002-1694-233X"),
        ("http://www.orcid.org/0000-0002-1694-233x/", "0000-0002-1694-233X"),
        ("orcid.org/0000000218250097", "0000-0002-1825-0097"),
        ("  0000-0002-1825-0097\n", "0000-0002-1825-0097"),
    ],
)
def test_an_orcid_is_read_as_people_write_it(written, kept):
    assert normalise(written) == kept
    assert address(written) == f"https://orcid.org/{kept}"
    assert is_sound(written)


@pytest.mark.parametrize(
    ("written", "complaint"),
    [
        ("0000-0002-1825-0098", "slip"),
        ("0000-0002-1694-2330", "slip"),
        ("0000-0002-1825-009", "written"),
        ("0000-0002-1825-00977", "written"),
        ("X000-0002-1825-0097", "written"),
        ("https://example.org/0000-0002-1825-0097", "written"),
        ("", "written"),
        ("\N{ARABIC-INDIC DIGIT ZERO}000-0002-1825-0097", "written"),
        ("0000-0000-0000-0001", "gives out"),
    ],
)
def test_what_is_no_orcid_is_refused_in_words(written, complaint):
    with pytest.raises(Unsound) as refused:
        normalise(written)
    assert complaint in refused.value.fields["orcid"]
    assert not is_sound(written)


def test_every_single_slip_is_found():
    sound = "000000021825009"
    assert check_character(sound) == "7"
    for place in range(15):
        for other in "0123456789":
            if other != sound[place]:
                assert check_character(sound[:place] + other + sound[place + 1 :]) != "7"
