"""The report of a check as its page shows it: few entries, their causes, their rows."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from archive.engine.codes import found
from archive.engine.findings import Group
from archive.engine.gathering import Rows
from archive.engine.limits import Limits
from archive.engine.looking_back import look_back
from archive.engine.run import check
from archive.reported import groups_of, places_of, rows_must, suspicions_of, together
from tests.archive.spoiled import DESCRIPTOR, SPOILED

SEEN = date(2026, 11, 24)


def reported(name: str, room: Path) -> dict[str, Any]:
    """Give the summary of a spoiled package of this name."""
    (case,) = [one for one in SPOILED if one.name == name]
    for file, content in case.files().items():
        (room / file).write_bytes(content)
    report = check(room, expected=DESCRIPTOR)
    return look_back(
        room, report, expected=DESCRIPTOR, facts=None, today=SEEN, limits=Limits()
    ).summary


def must(summary: dict[str, Any]) -> list[dict[str, Any]]:
    return [
        one for group in groups_of(summary) if group["kind"] == "must" for one in group["findings"]
    ]


@pytest.mark.parametrize(
    ("name", "column", "kind"),
    [
        ("decimal comma in depth", "depth", "decimal-comma"),
        ("animals with a space after", "animal", "codes-alike"),
        ("saved in utf-16", "", "other-encoding"),
        ("headings with capitals", "", "headings-alike"),
    ],
)
def test_a_finding_names_the_cause_that_is_suspected_and_its_remedy(
    tmp_path: Path, name: str, column: str, kind: str
) -> None:
    summary = reported(name, tmp_path)
    (shown,) = [one for one in must(summary) if one["title"].endswith(column)][:1]
    assert shown["cause"]["kind"] == kind
    assert shown["todo"] == shown["cause"]["remedy"]


def test_a_finding_of_another_column_or_row_has_no_cause(tmp_path: Path) -> None:
    summary = reported("decimal comma in depth", tmp_path)
    for entry in summary["entries"]:
        entry["field"] = entry["examples"][0]["field"] = "warmth"
        entry["examples"] = entry["examples"][:1]
    (shown,) = must(summary)
    assert shown["cause"] is None
    assert shown["todo"].startswith("Correct these rows of column")


def test_many_headings_are_one_entry_with_each_of_them_in_its_rows(tmp_path: Path) -> None:
    summary = reported("headings with capitals", tmp_path)
    (shown,) = must(summary)
    assert shown["has_columns"]
    assert len(shown["rows"]) == 12
    assert "12 columns of checks.csv" in shown["says"]


def test_an_example_says_what_is_wrong_and_not_again_where(tmp_path: Path) -> None:
    (shown,) = must(reported("decimal comma in depth", tmp_path))
    assert {row["say"] for row in shown["rows"]} == {"is not a number."}
    assert [row["row"] for row in shown["rows"]] == [2, 3, 4, 5, 6]
    (tank,) = must(reported("a tank that is not there", tmp_path))
    assert tank["rows"][0]["say"].startswith("is not in table “tanks”")
    assert "row 5" in tank["says"]


def test_the_rows_with_a_fault_are_counted_once_each() -> None:
    rows = Rows()
    for row in (2, 2, 3, 900_000, None, 1):
        rows.take(found("type-error", "No.", table="checks", row=row, field="depth", value="x"))
    rows.take(found("type-error", "No.", table="other", row=2, field="depth", value="x"))
    assert rows.counts() == {Group.TABLE.value: 4}


def test_the_report_says_how_many_rows_have_a_fault(tmp_path: Path) -> None:
    assert rows_must(reported("one decimal comma in depth", tmp_path)) == "1 row of 21 has a fault."
    assert rows_must({"rows_found": {}}) == ""


def test_what_is_wrong_in_the_heading_alone_is_not_drawn_among_the_rows(tmp_path: Path) -> None:
    assert places_of(reported("a column is missing", tmp_path)) is None
    assert places_of(reported("one decimal comma in depth", tmp_path)) is not None


def test_several_corrections_go_together_but_files_are_swapped_alone() -> None:
    one = {"number": 1, "is_mendable": True, "correction": {"kind": "trim"}}
    other = {"number": 3, "is_mendable": True, "correction": {"kind": "pad_zeros"}}
    none = {"number": 2, "is_mendable": False, "correction": None}
    swap = {"number": 4, "is_mendable": True, "correction": {"kind": "swap_files"}}
    assert together([one, none, other]) == [1, 3]
    assert together([one, none]) == []
    assert together([one, other, swap]) == []


def test_no_finding_is_said_to_follow_from_nothing(tmp_path: Path) -> None:
    assert suspicions_of({}) == []
    assert groups_of({})[0]["findings"] == []
