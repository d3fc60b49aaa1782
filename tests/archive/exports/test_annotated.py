"""The copy of a table with its findings beside the cells."""

import csv
import io
import zipfile
from pathlib import Path

import pytest
from openpyxl import load_workbook

from archive.engine.codes import found
from archive.exports import annotated
from archive.exports.annotated import Annotated, annotate, as_csv, write_workbook


def tables(room: Path, *lines: str, name: str = "checks") -> list[Annotated]:
    path = room / f"{name}.csv"
    path.write_text("\n".join([*lines, ""]), encoding="utf-8")
    return [Annotated(name, path, {})]


def findings() -> list[object]:
    return [
        found("type-error", "“x” is no number.", table="checks", row=3, field="depth", value="x"),
        found("primary-key", "Row 3 is as row 2.", table="checks", row=3, field="a, depth"),
        found("missing-label", "There is no column “note”.", table="checks", field="note"),
        found("type-error", "Of another table.", table="other", row=3, field="depth"),
    ]


def test_the_csv_has_all_rows_as_they_were_sent_and_what_was_found_beside_them(
    tmp_path: Path,
) -> None:
    (table,) = annotate(tables(tmp_path, "a,depth", "1,2.5", "=1+1,x", "3"), findings())
    rows = list(csv.reader(io.StringIO(b"".join(as_csv(table)).decode("utf-8-sig"))))
    assert [row[:2] for row in rows] == [["a", "depth"], ["1", "2.5"], ["'=1+1", "x"], ["3", ""]]
    assert rows[0][2].startswith("finding: There is no column “note”.")
    assert rows[1][2] == ""
    assert "no number" in rows[2][2]
    assert "as row 2" in rows[2][2]
    assert "What to do:" in rows[2][2]
    assert "another table" not in str(rows)


def test_the_workbook_fills_the_faulty_cells_and_reads_nothing_as_a_formula(tmp_path: Path) -> None:
    given = annotate(tables(tmp_path, "a,depth", "1,2.5", "=1+1,x"), findings())
    write_workbook(given, tmp_path / "out.xlsx")
    page = load_workbook(tmp_path / "out.xlsx")["checks"]
    rows = [[cell.value for cell in row] for row in page.iter_rows()]
    assert [row[:2] for row in rows] == [["a", "depth"], ["1", "2.5"], ["=1+1", "x"]]
    assert page["A3"].data_type == "s"
    assert page["B3"].fill.fgColor.rgb == page["A3"].fill.fgColor.rgb == "FFF3D3E3"
    assert page["B2"].fill.fill_type is None
    assert "no number" in page["B3"].comment.text
    assert "no number" in page["C3"].value
    assert page["C3"].value.count("\n") == 1
    assert page["C3"].alignment.wrap_text
    assert page.auto_filter.ref == "A1:C3"


def test_the_workbook_says_where_it_stops(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(annotated, "MOST_ROWS", 3)
    given = tables(tmp_path, "a", *map(str, range(10)))
    write_workbook(given, tmp_path / "out.xlsx")
    page = load_workbook(tmp_path / "out.xlsx")["checks"]
    assert [row[0].value for row in page.iter_rows()][:4] == ["a", "0", "1", "2"]
    assert "not shown" in str(page.cell(5, 1).value)
    assert page.max_row == 5


def test_findings_beyond_the_most_are_left_to_the_report_and_the_copy_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(annotated, "MOST_FINDINGS", 1)
    (table,) = annotate(tables(tmp_path, "a,depth", "1,2", "3,x"), findings())
    text = b"".join(as_csv(table)).decode("utf-8-sig")
    assert "the first 1 only" in text
    assert "no number" in text
    assert "as row 2" not in text


def test_tables_of_odd_and_alike_names_each_have_a_sheet(tmp_path: Path) -> None:
    given = []
    for number, name in enumerate(["a" * 40 + "1", "a" * 40 + "2", "x[1]", "X-1-"]):
        (table,) = tables(tmp_path, "a", str(number), name=f"t{number}")
        table.name = name
        given.append(table)
    write_workbook(given, tmp_path / "out.xlsx")
    assert len(load_workbook(tmp_path / "out.xlsx").sheetnames) == 4
    with zipfile.ZipFile(tmp_path / "out.xlsx") as opened:
        assert opened.testzip() is None


def test_a_table_that_cannot_be_read_to_its_end_says_so(tmp_path: Path) -> None:
    (table,) = tables(tmp_path, "a,b", f'1,"{"x" * 4_000_000}"')
    assert "cannot be read" in b"".join(as_csv(table)).decode("utf-8-sig")
