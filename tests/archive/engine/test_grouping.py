"""Findings put together: one entry for each kind and column, the rows in short."""

from pathlib import Path

from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.grouping import EXAMPLES, RUNS, grouped, rows_in_short
from archive.engine.run import check
from tests.archive.spoiled import DESCRIPTOR, sound


def wrong(row: int, field: str = "depth") -> Finding:
    return found("type-error", "Not a number.", table="checks", row=row, field=field, value="x")


def test_findings_of_one_kind_and_column_are_one_entry_with_the_rows_in_short() -> None:
    rows = [4, 9, *range(12, 41), *range(50, 80, 2)]
    entries = grouped([wrong(row) for row in rows] + [wrong(3, "warmth")])
    assert [(one.field, one.count) for one in entries] == [("depth", len(rows)), ("warmth", 1)]
    first = entries[0]
    assert len(first.examples) == EXAMPLES
    assert first.runs[:3] == [[4, 4], [9, 9], [12, 40]]
    assert len(first.runs) == RUNS
    told = sum(last - start + 1 for start, last in first.runs)
    said = rows_in_short(first.runs, first.rows - first.told_rows)
    assert said.startswith("4, 9, 12–40, 50, 52")
    assert said.endswith(f" and {len(rows) - told} more")


def test_an_empty_cell_of_the_key_that_must_be_filled_is_one_thing_to_put_right() -> None:
    def empty(code: str, row: int) -> Finding:
        return found(code, "It is empty.", table="checks", row=row, field="animal")

    (entry,) = grouped(
        [empty(code, row) for row in (4, 9) for code in ("constraint-error", "null-in-key")]
    )
    assert (entry.code, entry.count, entry.folded) == ("constraint-error", 2, 2)
    assert "fill it in" in entry.remedy
    apart = grouped([empty("constraint-error", 4), empty("null-in-key", 9)])
    assert [one.code for one in apart] == ["constraint-error", "null-in-key"]


def test_two_findings_on_one_row_count_the_row_once() -> None:
    (entry,) = grouped([wrong(4), wrong(4), wrong(5)])
    assert (entry.count, entry.rows, entry.runs) == (3, 2, [[4, 5]])


def test_a_missing_column_is_one_entry_and_its_cells_are_folded_into_it(tmp_path: Path) -> None:
    package = sound()
    for cells in package.checks:
        del cells[-1]
    for name, content in package.files().items():
        (tmp_path / name).write_bytes(content)
    findings = list(check(tmp_path, expected=DESCRIPTOR).findings)
    entries = grouped(findings)
    assert [(one.code, one.field, one.count) for one in entries] == [("missing-label", "note", 1)]
    assert entries[0].folded == len(findings) - 1


def test_a_surplus_column_is_one_entry_and_its_cells_are_folded_into_it(tmp_path: Path) -> None:
    package = sound()
    for cells in package.checks:
        cells.append("x")
    for name, content in package.files().items():
        (tmp_path / name).write_bytes(content)
    findings = list(check(tmp_path, expected=DESCRIPTOR).findings)
    entries = grouped(findings)
    assert [(one.code, one.count) for one in entries] == [("extra-label", 1)]
    assert entries[0].folded == len(findings) - 1


def test_what_keeps_a_table_from_being_read_comes_first_then_the_most_frequent() -> None:
    missing = found("missing-label", "There is none.", table="checks", field="note")
    entries = grouped([wrong(2), wrong(3), wrong(4, "warmth"), missing])
    assert [one.code for one in entries] == ["missing-label", "type-error", "type-error"]
    assert [one.count for one in entries[1:]] == [2, 1]


def test_a_repeated_key_names_both_rows(tmp_path: Path) -> None:
    package = sound()
    package.put(9, "check", "3")
    for name, content in package.files().items():
        (tmp_path / name).write_bytes(content)
    (entry,) = grouped(check(tmp_path, expected=DESCRIPTOR).findings)
    assert entry.runs == [[9, 9]]
    assert "as row 4" in entry.examples[0].message
