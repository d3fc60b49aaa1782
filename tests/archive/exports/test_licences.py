import pytest

from archive.exports.licences import LICENCES, licence_of, notice
from registry.errors import Unsound


def test_the_list_is_closed():
    assert list(LICENCES) == [
        "CC-BY-4.0",
        "CC0-1.0",
        "CC-BY-NC-4.0",
        "OGL-UK-3.0",
        "ODbL-1.0",
        "PDDL-1.0",
    ]
    assert licence_of("CC0-1.0").is_open
    assert not licence_of("CC-BY-NC-4.0").is_open
    with pytest.raises(Unsound) as refused:
        licence_of("cc-by-4.0")
    assert "CC-BY-4.0" in refused.value.next


def test_a_notice_names_the_licence_its_text_and_the_citation():
    for licence in LICENCES.values():
        told = notice(licence, "Patel, A. (2026).")
        assert licence.title in told
        assert licence.path in told
        assert "Patel, A. (2026)." in told
