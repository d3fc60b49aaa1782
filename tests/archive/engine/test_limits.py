import pytest

from archive.engine.limits import Limits


def test_the_limits_are_those_that_people_are_told_before_upload():
    words = dict(Limits().words())
    assert words["A table (CSV or TSV)"] == "1 GB and 10,000,000 rows"
    assert words["A package"] == "2 GB and 200 files"
    assert words["One cell"] == "128 kB"
    assert words["The descriptor (datapackage.json)"] == "1 MB, nested 8 levels deep"


def test_limits_survive_json_and_a_name_that_is_none_is_refused():
    limits = Limits(table_rows=5)
    assert Limits.from_dict(limits.as_dict()) == limits
    with pytest.raises(ValueError, match="No such limit: rows"):
        Limits.from_dict({"rows": 5})
