"""Rows that were there in the last draft and are gone are listed, and block nothing."""

import shutil
from pathlib import Path

from archive.engine.findings import Verdict
from archive.engine.run import check

VALID = Path(__file__).resolve().parents[3] / "fixtures" / "packages" / "valid"


def vanished(folder: Path, previous: Path) -> list[str]:
    report = check(folder, previous=previous)
    assert report.verdict is Verdict.VALID
    return [f.value for f in report.findings if f.code == "rows-vanished"]


def draft(tmp_path: Path, table: str, change) -> Path:
    folder = tmp_path / "now"
    shutil.copytree(VALID, folder)
    path = folder / f"{table}.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(change(lines)), encoding="utf-8")
    return folder


def test_the_same_draft_has_lost_nothing_in_whatever_order(tmp_path):
    assert vanished(VALID, VALID) == []
    turned = draft(tmp_path, "hatching", lambda lines: [lines[0], *reversed(lines[1:])])
    assert vanished(turned, VALID) == []


def test_a_row_that_was_taken_out_is_listed_by_its_key(tmp_path):
    shorter = draft(tmp_path, "hatching", lambda lines: lines[:5] + lines[6:])
    assert vanished(shorter, VALID) == ["ES-01, 2026-05-12"]
    assert vanished(VALID, shorter) == []


def test_a_row_corrected_under_its_key_is_not_lost(tmp_path):
    mended = draft(
        tmp_path,
        "hatching",
        lambda lines: [*lines[:1], "ES-01,2026-05-11,S1,OB-2,9,17.5,\n", *lines[2:]],
    )
    assert vanished(mended, VALID) == []


def test_without_a_key_equal_rows_are_counted(tmp_path):
    schema = {"fields": [{"name": "seen", "type": "string"}]}
    now, before = tmp_path / "now", tmp_path / "before"
    for folder, text in ((now, "seen\nray\nray\n"), (before, "seen\nray\nray\nray\ncrab\n")):
        folder.mkdir()
        (folder / "seen.csv").write_text(text, encoding="utf-8")
        (folder / "datapackage.json").write_text(
            '{"resources": [{"name": "seen", "path": "seen.csv", "schema": '
            + str(schema).replace("'", '"')
            + "}]}",
            encoding="utf-8",
        )
    assert vanished(now, before) == ["ray", "crab"]


def test_a_last_draft_that_cannot_be_read_is_passed_over(tmp_path):
    assert vanished(VALID, tmp_path) == []
    assert vanished(VALID, tmp_path / "nowhere") == []
