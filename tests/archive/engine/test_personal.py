"""What tells of persons in a table is pointed at and never repeated."""

import pytest

from archive.engine import personal
from archive.engine.personal import forms_of, look_through, tells_of_a_person

FIELDS = [{"name": "ray", "type": "string"}, {"name": "note", "type": "string"}]
PEOPLE = ("Ines Havelund", "Bo", "Ann-Marie van der Berg")


def told(tmp_path, *notes, people=PEOPLE, fields=FIELDS):
    path = tmp_path / "scans.csv"
    rows = [",".join(one["name"] for one in fields), *(f'R-01,"{note}"' for note in notes)]
    path.write_text("\n".join([*rows, ""]), encoding="utf-8")
    resource = {"name": "scans", "schema": {"fields": fields}, "dialect": {"csv": {}}}
    return list(look_through(path, resource, people))


HELD = [
    ("ask i.havelund@norrholm.example", "an e-mail address"),
    ("Seen by Ines Havelund", "the name of somebody"),
    ("HAVELUND, INES", "the name of somebody"),
    ("ann-marie van der berg came", "the name of somebody"),
    ("call 01632 960983", "a telephone number"),
    ("+44 1632 960983", "a telephone number"),
    # Numbers set aside for drama by the regulator of the United Kingdom, from memory.
    ("020 7946 0958", "a telephone number"),
    ("(020) 7946 0958", "a telephone number"),
]


@pytest.mark.parametrize(("note", "said"), HELD)
def test_each_kind_is_found_where_it_stands_and_is_not_repeated(tmp_path, note, said):
    found = told(tmp_path, "calm", note, note)
    assert [(one.code, one.row, one.field, one.value) for one in found] == [
        ("personal-data", 3, "note", "")
    ]
    assert f"2 cells hold {said}, the first in row 3" in found[0].message
    assert note.lower() not in f"{found[0].message} {found[0].remedy}".lower()
    assert found[0].group == "unusual"


ALIKE = [
    "2026-04-01T09:30:00+0100",
    "2026-04-01 10:15",
    "Bo was there",  # one word is too common
    "havelund",
    "Ines Havelunds tank",
    "0.123 0.456 0.789 0.123",
    "-0123 4567 8901",
    "a@b",
    "R-012 345 678",
    "1e+0123 456 789",
    "10 20 30 40 50",
]


@pytest.mark.parametrize("note", ALIKE)
def test_what_only_looks_like_it_is_left_alone(tmp_path, note):
    assert told(tmp_path, note) == []


@pytest.mark.parametrize("way", ["fast", "slow"])
def test_what_stands_far_down_is_found_alike_with_the_kernel_and_without(
    tmp_path, monkeypatch, way
):
    monkeypatch.setattr(personal, "PIECE_BYTES", 300)
    monkeypatch.setenv("STRANDLINE_ENGINE", way)
    calm = ["calm water at the far wall, 12.5 and 0.25"] * 40
    for note, said in HELD:
        (finding,) = told(tmp_path, *calm, note, *calm)
        assert (said in finding.message, finding.row) == (True, 42), note
    assert told(tmp_path, *calm, *ALIKE, *calm) == []
    people = ("Øystein Ås", "Conor O’Brien", "J. Smith", "Hans van der Berg")
    for note in ("ØYSTEIN ÅS", "øystein ås", "Conor O’Brien", "smith, j.", "Hans van der Berg"):
        # Of two with a name in part alike the one that is there is found, not the other.
        others = ["Jan van der Berg", "Berg, an island"]
        assert len(told(tmp_path, *calm, *others, note, people=people)) == 1, note
    assert told(tmp_path, *calm, *others, people=people) == []


def test_a_heading_that_asks_for_persons_is_pointed_at(tmp_path):
    fields = [{"name": "ray"}, {"name": "Student_ID"}]
    (finding,) = told(tmp_path, "17", fields=fields)
    assert (finding.code, finding.field, finding.row) == ("personal-column", "Student_ID", None)
    for heading in ("first_name", "E-mail", "Telephone", "surname", "date_of_birth", "Initials"):
        assert tells_of_a_person(heading), heading
    for heading in ("name", "observer", "keeper_minutes", "mailbox", "phoneme", "tank_address"):
        assert not tells_of_a_person(heading), heading


def test_what_stands_further_down_than_cells_are_looked_at_is_told_all_the_same(
    tmp_path, monkeypatch
):
    monkeypatch.setattr(personal, "LOOKED_ROWS", 2)
    (finding,) = told(tmp_path, "calm", "calm", "calm", "a.b@norrholm.example")
    assert (finding.code, finding.row, finding.field) == ("personal-data", None, "")
    assert finding.message == "Somewhere beyond row 2 the table holds an e-mail address."
    (finding,) = told(tmp_path, "calm", "calm", "calm", "Ines Havelund")
    assert finding.message == "Somewhere beyond row 2 the table holds the name of somebody."


def test_an_empty_table_and_a_person_without_a_name_are_no_matter(tmp_path):
    path = tmp_path / "none.csv"
    path.touch()
    resource = {"name": "none", "schema": {"fields": []}, "dialect": {}}
    assert list(look_through(path, resource, [""])) == []
    assert forms_of("  ") == ()
