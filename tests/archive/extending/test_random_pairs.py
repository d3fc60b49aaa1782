"""Random dictionaries: "compatible" is never said where a table that was valid fails."""

from tests.worlds.schema_pairs import judge

SEED, PAIRS = 20260301, 200


def test_no_table_that_was_valid_fails_under_a_dictionary_that_is_called_compatible():
    counted, wrong = judge(range(SEED, SEED + PAIRS), tables=1)
    assert not wrong, wrong
    # frictionless 5.21 is the judge; enough was judged for this to be able to fail.
    assert counted["compatible"] > PAIRS / 3, counted
    assert counted["tables"] > PAIRS / 3, counted
    assert counted["rows"] > counted["tables"], counted
