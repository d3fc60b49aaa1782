import pytest

from registry.animals.chips import (
    COUNTRIES,
    LARGEST_NATIONAL,
    Chip,
    OlderCode,
    decode,
    read_code,
    recognise,
)
from registry.errors import Unsound


# Computed from the bit table of ISO 11784 as the International Committee for Animal Recording
# prints it: bit 1 animal, 17-26 country or manufacturer, 27-64 national identification.
@pytest.mark.parametrize(
    ("bits", "code", "prefix", "national"),
    [
        ("8000F65A13CB3687", "985112001234567", 985, 112001234567),
        ("8000CEBFFFFFFFFF", "826274877906943", 826, 274877906943),
    ],
)
def test_the_bits_and_the_code_are_one(bits, code, prefix, national):
    chip = decode(bits)
    assert (chip.code, chip.prefix, chip.national) == (code, prefix, national)
    assert read_code(code) == chip
    assert chip.bits == bits
    assert decode(bits.lower()) == chip
    assert not chip.has_data_block
    assert decode(f"8001{bits[4:]}").has_data_block


def test_the_national_number_has_38_bits():
    assert LARGEST_NATIONAL == 274_877_906_943
    assert read_code("826274877906943").national == LARGEST_NATIONAL
    with pytest.raises(Unsound) as refused:
        read_code("826274877906944")
    assert "274877906943" in refused.value.fields["chip"]


def test_a_short_code_keeps_its_zeros():
    assert read_code("040000000000001").code == "040000000000001"
    assert str(read_code("985 112 001234567")) == "985112001234567"


@pytest.mark.parametrize("prefix", ["826", "040", "900", "985", "998"])
def test_a_country_and_a_manufacturer_are_taken(prefix):
    assert read_code(prefix + "000000000001").code.startswith(prefix)


@pytest.mark.parametrize("prefix", ["000", "001", "825", "895", "899"])
def test_what_is_neither_is_refused(prefix):
    with pytest.raises(Unsound) as refused:
        read_code(prefix + "000000000001")
    assert prefix in refused.value.fields["chip"]


def test_a_test_chip_is_refused_unless_it_is_allowed():
    with pytest.raises(Unsound) as refused:
        read_code("999000000000001")
    assert "trying readers" in refused.value.why
    assert read_code("999000000000001", allow_test=True).prefix == 999
    bits = Chip(999, 1).bits
    with pytest.raises(Unsound):
        decode(bits)
    assert decode(bits, allow_test=True).national == 1


@pytest.mark.parametrize(
    "text", ["", "98511200123456", "9851120012345678", "98511200123456a", "٩" * 15]
)
def test_what_is_not_fifteen_digits_is_refused(text):
    with pytest.raises(Unsound):
        read_code(text)


@pytest.mark.parametrize(
    "bits",
    [
        "",
        "8000F65A13CB368",
        "8000F65A13CB36877",
        "0000F65A13CB3687",
        "g000F65A13CB3687",
        "8000FFFFFFFFFFFF",
    ],
)
def test_bits_that_mark_no_animal_are_refused(bits):
    with pytest.raises(Unsound):
        decode(bits)


@pytest.mark.parametrize(
    ("text", "code"), [("123456789", "123456789"), ("41 0a 12 34 56", "410A123456")]
)
def test_an_older_code_is_kept_and_not_validated(text, code):
    assert recognise(text) == OlderCode(code)
    assert str(recognise(text)) == code


def test_either_kind_is_recognised_and_nothing_else():
    assert recognise("826-274877906943") == Chip(826, LARGEST_NATIONAL)
    for text in ("12345678", "12345678901", "826274877906944", "ninechar!"):
        with pytest.raises(Unsound):
            recognise(text)


def test_the_list_of_countries_is_whole():
    # ISO 3166-1 has 249 officially assigned codes, the United Kingdom's is 826.
    assert len(COUNTRIES) == 249
    assert {826, 372, 250, 276, 840} <= COUNTRIES
