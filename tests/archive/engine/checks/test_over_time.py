"""Rows held against each other: what is told, row by row, and what is rightly passed."""

import random
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from archive.engine.checks.moments import when_of
from archive.engine.counted import moment_of
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Group
from archive.engine.run import check_table

ETHOGRAM = [
    {"code": "REST", "name": "resting", "kind": "state", "exclusive": "activity"},
    {"code": "SWIM", "name": "swimming", "kind": "state", "exclusive": "activity"},
    {"code": "JET", "name": "jetting", "kind": "event", "exclusive": "activity"},
    {"code": "DARK", "name": "dark skin", "kind": "state", "exclusive": "skin"},
    {"code": "LOOK", "name": "looking up", "kind": "state"},
]
START = datetime(2026, 5, 11, 9)  # noqa: DTZ001 - the data's own clock


def schema(*, has_ends: bool = False) -> dict[str, Any]:
    ends = [{"name": "until", "type": "datetime", "x:role": "time"}] if has_ends else []
    return {
        "fields": [
            {"name": "session", "type": "string", "x:role": "session"},
            {"name": "at", "type": "datetime", "x:role": "time"},
            *ends,
            {"name": "animal", "type": "string", "x:role": "animal"},
            {"name": "observer", "type": "string", "x:role": "observer"},
            {"name": "behaviour", "type": "string", "x:ethogram": ETHOGRAM},
        ]
    }


def clock(seconds: float) -> str:
    return (START + timedelta(seconds=seconds)).isoformat()


@pytest.fixture(params=["fast", "slow"])
def judge(request, monkeypatch, tmp_path):
    """Check rows against a schema, and give what is told as (code, row, message)."""
    monkeypatch.setenv("STRANDLINE_ENGINE", request.param)

    def judge(shape: dict[str, Any], rows: list[list[str]], every_s: int | None = None) -> Any:
        names = [field["name"] for field in shape["fields"]]
        path = tmp_path / "seen.csv"
        path.write_text("\n".join(map(",".join, [names, *rows])) + "\n", encoding="utf-8")
        report = check_table(path, shape, facts=RegisterFacts(every_s=every_s))
        assert all(table.note == "" for table in report.tables)
        assert all(finding.group is Group.UNUSUAL for finding in report.findings)
        return [(one.code, one.row, one.message) for one in report.findings]

    return judge


def test_two_behaviours_of_one_set_at_one_moment_are_told_and_of_two_sets_are_not(judge):
    rows = [
        ["S1", clock(0), "CE-01", "O1", "REST"],
        ["S1", clock(0), "CE-01", "O1", "DARK"],  # another set
        ["S1", clock(0), "CE-01", "O1", "LOOK"],  # in none
        ["S1", clock(0), "CE-02", "O1", "SWIM"],  # another animal
        ["S1", clock(0), "CE-01", "O2", "SWIM"],  # another observer
        ["S1", clock(60), "CE-01", "O1", "SWIM"],  # another moment
        ["S1", "", "CE-01", "O1", "SWIM"],
        ["S1", clock(0), "", "", "SWIM"],
        ["S1", clock(0), "", "", "REST"],  # of nobody
        ["S1", clock(0), "CE-01", "O1", "REST"],  # the same again
        ["S1", clock(0), "CE-01", "O1", "JET"],
    ]
    message = (
        "“REST” in row 11, column “behaviour”, and “JET” in row 12 exclude one another, and both"
        " are noted at the same moment."
    )
    assert judge(schema(), rows) == [("exclusive-states", 12, message)]


def test_states_that_overlap_are_told_and_those_that_touch_are_not(judge):
    rows = [
        ["S1", clock(0), clock(100), "CE-01", "O1", "REST"],
        ["S1", clock(100), clock(200), "CE-01", "O1", "SWIM"],  # touches
        ["S1", clock(10), clock(20), "CE-02", "O1", "SWIM"],
        ["S1", clock(110), clock(120), "CE-01", "O1", "REST"],  # inside the second
        ["S1", clock(150), clock(160), "CE-01", "O1", "REST"],  # inside it, too
        ["S1", clock(130), clock(140), "CE-01", "O1", "JET"],  # an event takes no time
        ["S1", clock(130), clock(140), "CE-01", "O1", "DARK"],
        ["S1", clock(140), clock(130), "CE-01", "O1", "REST"],  # ends before it begins
    ]
    told = judge(schema(has_ends=True), rows)
    assert [(code, row) for code, row, _ in told] == [
        ("exclusive-states", 5),
        ("exclusive-states", 6),
    ]
    assert all("“SWIM” in row 3" in message for *_, message in told)
    assert "the second begins before the first ends" in told[0][2]


def test_overlaps_are_those_that_comparing_every_pair_finds(judge):
    draw = random.Random(41)
    spans = [
        (draw.randrange(400), draw.randrange(1, 30), f"CE-{draw.randrange(9)}") for _ in range(90)
    ]
    rows = [["S1", clock(a), clock(a + n), who, "O1", "REST"] for a, n, who in spans]
    order = sorted(range(90), key=lambda at: spans[at][0])
    expected = set()
    for place, at in enumerate(order):
        for earlier in order[:place]:
            (a, n, who), (b, _, other) = spans[earlier], spans[at]
            if who == other and b < a + n:
                expected.add(at + 2)
    told = {row for _, row, _ in judge(schema(has_ends=True), rows)}
    assert 5 < len(expected) < 50
    assert told == expected


def test_scans_off_the_planned_interval_are_told_by_session(judge):
    rows = [
        [session, clock(seconds), animal, "O1", "REST"]
        for session, moments in (
            ("S1", (0, 60, 120, 180)),
            ("S2", (0, 60, 135, 195)),
            ("S3", (0, 60, 240, 300)),
            ("S4", (0, 62, 121, 179)),  # within a tenth
            ("", (0, 7, 19)),
        )
        for seconds in moments
        for animal in ("CE-01", "CE-02")
    ]
    told = judge(schema(), rows, every_s=60)
    assert [(code, row) for code, row, _ in told] == [
        ("uneven-interval", 14),
        ("uneven-interval", None),
    ]
    assert told[0][2] == (
        "Session “S2”: the plan says 60 s from scan to scan. 2 of 6 gaps are no multiple of it; the"
        " first, before row 14, is 75 s."
    )
    assert told[1][2] == (
        "Session “S3”: the plan says 60 s from scan to scan. 2 scans are missing."
    )
    assert judge(schema(), rows) == []


def test_a_scan_that_one_animal_missed_is_no_scan_that_is_missing(judge):
    rows = [
        ["S1", clock(60 * scan), animal, "O1", "REST"]
        for scan in range(5)
        for animal in ("CE-01", "CE-02")
        if (scan, animal) != (2, "CE-01")
    ]
    assert judge(schema(), rows, every_s=60) == []


def test_no_more_than_fifty_are_listed_and_the_last_says_how_many_there_are(judge):
    rows = [
        ["S1", clock(60 * scan), "CE-01", "O1", code]
        for scan in range(70)
        for code in ("REST", "SWIM")
    ]
    told = judge(schema(), rows)
    assert len(told) == 50
    assert told[-1][2].endswith("20 more like it are not listed.")


@pytest.mark.parametrize(
    ("kinds", "starts", "ends"),
    [
        ([("a", "datetime")], (("a", 1),), ()),
        ([("a", "datetime"), ("b", "datetime")], (("a", 1),), (("b", 1),)),
        ([("d", "date"), ("t", "time")], (("d", 86_400), ("t", 1)), ()),
        (
            [("d", "date"), ("t", "time"), ("u", "time")],
            (("d", 86_400), ("t", 1)),
            (("d", 86_400), ("u", 1)),
        ),
    ],
)
def test_a_moment_stands_in_one_column_or_in_a_day_and_a_time(kinds, starts, ends):
    fields = [{"name": name, "type": kind, "x:role": "time"} for name, kind in kinds]
    when = when_of({"fields": fields})
    assert when is not None
    assert (when.starts, when.ends) == (starts, ends)
    assert when_of({"fields": [{"name": "d", "type": "date", "x:role": "time"}]}) is None


def test_a_state_past_midnight_ends_on_the_next_day(judge):
    shape = {
        "fields": [
            {"name": "day", "type": "date", "x:role": "time"},
            {"name": "from", "type": "time", "x:role": "time"},
            {"name": "to", "type": "time", "x:role": "time"},
            {"name": "animal", "type": "string", "x:role": "animal"},
            {"name": "behaviour", "type": "string", "x:ethogram": ETHOGRAM},
        ]
    }
    rows = [
        ["2026-05-11", "23:50:00", "00:10:00", "CE-01", "REST"],
        ["2026-05-12", "00:05:00", "00:20:00", "CE-01", "SWIM"],
        ["2026-05-12", "00:20:00", "00:30:00", "CE-01", "REST"],
    ]
    assert [(code, row) for code, row, _ in judge(shape, rows)] == [("exclusive-states", 3)]


def test_a_moment_with_a_zone_counts_from_greenwich():
    assert moment_of(datetime(1970, 1, 1, 1, tzinfo=UTC)) == 3_600.0
    assert moment_of(datetime(1970, 1, 1, 1)) == 3_600.0  # noqa: DTZ001
    assert moment_of("1970-01-01") != moment_of("1970-01-01")  # NaN
