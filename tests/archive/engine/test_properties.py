"""Random tables with faults put in on purpose: each is found on its own row, and no other is."""

import csv
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from archive.engine.findings import Verdict
from archive.engine.run import check_table

SCHEMA = {
    "fields": [
        {"name": "id", "type": "integer"},
        {"name": "day", "type": "date"},
        {"name": "water", "type": "string", "categories": ["aerated", "still"]},
        {"name": "eggs", "type": "integer", "constraints": {"minimum": 0, "maximum": 500}},
        {"name": "note", "type": "string"},
    ],
    "primaryKey": ["id", "day"],
    "uniqueKeys": [["eggs", "water"]],
}
notes = st.text(st.characters(codec="utf-8", exclude_characters="\0\r\n\v\f\x1c\x1d\x1e\x85\u2028\u2029"), max_size=8)  # noqa: E501  # fmt: skip

# What is done to a row, and the finding that must follow.
FAULTS = {
    "kind": (lambda row: row.__setitem__(3, "many"), ("type-error", "eggs")),
    "bound": (lambda row: row.__setitem__(3, "501"), ("constraint-error", "eggs")),
    "day": (lambda row: row.__setitem__(1, "2026-02-30"), ("type-error", "day")),
    "code": (lambda row: row.__setitem__(2, "bubbly"), ("category-error", "water")),
    "half a key": (lambda row: row.__setitem__(1, ""), ("null-in-key", "day")),
    "surplus": (lambda row: row.append("x"), ("extra-cell", "")),
    "short": (lambda row: row.pop(), ("missing-cell", "note")),
}


@given(
    st.lists(st.tuples(notes, st.one_of(st.none(), st.sampled_from(sorted(FAULTS)))), max_size=12),
    st.sampled_from([",", "\t", ";"]),
    st.sampled_from(["\n", "\r\n"]),
)
@settings(max_examples=60)
def test_each_fault_is_found_on_its_row_and_a_row_without_one_is_left_alone(
    wanted, delimiter, newline
):
    expected = set()
    rows = [[field["name"] for field in SCHEMA["fields"]]]
    for number, (note, fault) in enumerate(wanted):
        row = [str(number), "2026-05-11", "still", str(number), note]
        if fault is not None:
            FAULTS[fault][0](row)
            code, field = FAULTS[fault][1]
            expected.add((code, number + 2, field))
        rows.append(row)
    with tempfile.TemporaryDirectory() as room:
        path = Path(room) / "eggs.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, delimiter=delimiter, lineterminator=newline).writerows(rows)
        report = check_table(path, SCHEMA, dialect={"delimiter": delimiter})
    told = {(f.code, f.row, f.field) for f in report.findings if f.group == "table"}
    # Two rows with 501 eggs in still water are alike as well.
    told = {one for one in told if one[0] != "unique-keys"}
    assert told == expected
    assert report.verdict is (Verdict.INVALID if expected else Verdict.VALID)
    assert report.tables[0].rows == len(wanted)
