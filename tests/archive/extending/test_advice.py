"""What may change without breaking: each piece of advice holds when it is followed."""

import copy

from archive.extending.advice import may_add_column, may_change
from tests.worlds.archive import descriptor


def test_what_may_change_is_said_with_the_columns_that_it_is_about():
    told = may_change(descriptor())
    assert told == [
        "Widen the limits of “Depth”.",
        "Let “Ray” be left empty.",
        "Say the unit of “Scan”, if the old values are in it.",
        "Add a table of its own.",
        "Say titles and descriptions better, where they mean the same.",
    ]


def test_codes_may_be_added_to_an_ethogram_once_it_is_published():
    published = descriptor()
    field = published["resources"][0]["schema"]["fields"][3]
    field["categories"] = [entry["code"] for entry in field["x:ethogram"]]
    before = copy.deepcopy(published)
    assert "Add codes to the list of “Posture”." in may_change(published)
    assert published == before


def test_a_column_may_be_added_only_where_tables_may_do_without_it():
    whole = descriptor()
    assert not may_add_column(whole)
    whole["resources"][0]["schema"]["fieldsMatch"] = "superset"
    assert may_add_column(whole)
    assert "Add a column that may be left out; old tables do without it." in may_change(whole)
