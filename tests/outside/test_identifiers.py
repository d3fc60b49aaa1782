"""Our identifiers against published check characters and another's library.

Sources: the worked example of the Noid documentation (metacpan.org/dist/Noid/view/noid, section
NOID CHECK DIGIT ALGORITHM) and that of n2t.net/e/noid.html; the package idutils for ORCID and ARK.
"""

import random

import idutils
import pytest

from archive.exports.identifier import check_character, mint, qualify
from registry.people import orcid

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(
    ("name", "check"),
    [("13030/xf93gt2", "q"), ("13030/tf5p30086", "k")],
)
def test_the_check_character_is_that_of_the_published_examples(name, check):
    assert check_character(name) == check


def test_what_we_mint_is_an_ark_to_others():
    for _ in range(50):
        minted = mint()
        assert idutils.is_ark(minted)
        assert idutils.is_ark(qualify(minted, "1.0.0"))


@pytest.mark.parametrize(
    ("written", "sound"),
    [
        ("0000-0002-1825-0097", True),
        ("0000-0002-1694-233X", True),
        ("https://orcid.org/0000-0002-1825-0097", True),
        ("0000-0002-1825-0098", False),  # printed in Darwin Core as an example
    ],
)
def test_both_agree_on_the_orcids_that_are_published(written, sound):
    assert bool(idutils.is_orcid(written)) == orcid.is_sound(written) == sound


def test_both_agree_on_drawn_orcids():
    draw = random.Random(20260501)
    sound = 0
    for _ in range(4000):
        # Half from one of the blocks that are given out, near and far from their edges.
        first = draw.choice((14_999_990, 15_000_000, 25_000_000, 34_999_990, 900_000_000_000, 0))
        digits = f"{first + draw.randrange(20):015d}"
        right = orcid.check_character(digits)
        check = draw.choice((right, draw.choice("0123456789X")))
        raw = digits + check
        written = "-".join(raw[at : at + 4] for at in range(0, 16, 4))
        assert orcid.is_sound(written) == bool(idutils.is_orcid(written)), written
        if orcid.is_sound(written):
            sound += 1
            assert orcid.normalise(written) == idutils.normalize_orcid(written)
    assert 1000 < sound < 3000
