import pytest

from archive.storage.layout import place_of


# OCFL Community Extension 0003, section "Mappings" of example 1 and its own test cases.
@pytest.mark.parametrize(
    ("object_id", "place"),
    [
        ("object-01", "3c0/ff4/240/object-01"),
        ("..hor/rib:le-$id", "487/326/d8c/%2e%2ehor%2frib%3ale-%24id"),
        ("..Hor/rib:lè-$id", "373/529/21a/%2e%2eHor%2frib%3al%c3%a8-%24id"),
        (
            "abcdefghij" * 10 + "a",
            "5cc/73e/648/"
            + "abcdefghij" * 10
            + "-5cc73e648fbcff136510e330871180922ddacf193b68fdeff855683a01464220",
        ),
        (
            "abcdefghij" * 26,
            "55b/432/806/"
            + "abcdefghij" * 10
            + "-55b432806f4e270da0cf23815ed338742179002153cd8d896f23b3e2d8a14359",
        ),
    ],
)
def test_an_object_lies_where_the_extension_says(object_id, place):
    assert str(place_of(object_id)) == place
