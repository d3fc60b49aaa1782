"""Exact places are pointed at until the dictionary says how far they were rounded."""

from archive.engine.exact_places import exact_places, generalisations


def told(tmp_path, text, fields):
    path = tmp_path / "finds.csv"
    path.write_text(text, encoding="utf-8")
    resource = {"name": "finds", "schema": {"fields": fields}, "dialect": {"csv": {}}}
    return [(one.code, one.row, one.field) for one in exact_places(path, resource)]


def test_degrees_finer_than_a_hundredth_are_pointed_at_once_a_column(tmp_path):
    fields = [{"name": "lat"}, {"name": "Longitude"}, {"name": "where", "type": "geopoint"}]
    text = (
        'lat,Longitude,where\n55.12,1.5,"1.25, 55.1"\n55.123,-1.50001,"1.2, 55.1234"\n55.12345,,\n'
    )
    assert told(tmp_path, text, fields) == [
        ("exact-place", 3, "Longitude"),
        ("exact-place", 3, "lat"),
        ("exact-place", 3, "where"),
    ]
    rounded = [{**one, "x:generalised": "rounded to 0.1 degree"} for one in fields]
    assert told(tmp_path, text, rounded) == []
    others = [{"name": "latency"}, {"name": "along"}, {"name": "plate"}]
    assert told(tmp_path, "latency,along,plate\n1.2345,1.2345,1.2345\n", others) == []


def test_what_the_dictionary_says_of_rounding_is_said_of_the_whole():
    fields = [{"name": "lat", "x:generalised": "rounded to 0.1 degree"}, {"name": "lon"}]
    resources = [
        {"name": "finds", "schema": {"fields": fields}},
        {"name": "notes", "path": "a.txt"},
    ]
    assert generalisations(resources) == "finds, lat: rounded to 0.1 degree"
    assert generalisations(resources[1:]) == ""
