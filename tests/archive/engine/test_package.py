"""The command checks a package on disk, of whatever shape, without a database."""

import json
import os
import shutil
import subprocess
import sys
import zipfile
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from openpyxl import load_workbook

from archive.engine.findings import Verdict
from archive.engine.package import EXIT_CODES, as_json, as_text, check_path
from archive.engine.run import check
from archive.engine.watch import ROOT
from tests.archive.spoiled import SPOILED

PACKAGES = ROOT / "fixtures" / "packages"


@pytest.fixture(autouse=True)
def _here(monkeypatch):
    """Check in this process; that the child says the same is held elsewhere."""
    monkeypatch.setattr("archive.engine.package.check_in_child", check)


def test_a_folder_a_descriptor_and_a_zip_of_it_are_judged_alike(tmp_path):
    folder = PACKAGES / "type-error"
    path = tmp_path / "eggs.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for file in folder.iterdir():
            archive.write(file, f"my-eggs/{file.name}")
    shapes = [as_json(check_path(one)) for one in (folder, folder / "datapackage.json", path)]
    assert shapes[0] == shapes[1] == shapes[2]
    assert shapes[0]["verdict"] == "invalid"
    (finding,) = shapes[0]["findings"]
    assert (finding["code"], finding["table"], finding["row"]) == ("type-error", "egg_strings", 3)
    assert (finding["field"], finding["value"]) == ("eggs", "about 130")
    assert finding["message"]
    assert finding["remedy"]
    assert [table["rows"] for table in shapes[0]["tables"]] == [4, 12]


@pytest.mark.parametrize("kind", ["nothing", "empty folder", "no zip", "evil zip", "text"])
def test_what_cannot_be_read_is_not_checked_and_says_why(tmp_path, kind):
    path = tmp_path / "package"
    if kind == "empty folder":
        path.mkdir()
    elif kind == "no zip":
        path.write_bytes(b"PK\x03\x04 cut short")
    elif kind == "evil zip":
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("../evil.csv", "x")
    elif kind == "text":
        path.write_text("id\n1\n", encoding="utf-8")
    report = check_path(path)
    assert report.verdict is Verdict.NOT_CHECKED
    assert EXIT_CODES[report.verdict] == 2
    assert [finding.code for finding in report.findings] == ["descriptor-unreadable"]
    assert report.reason
    assert "not checked" in as_text(report)


@pytest.mark.parametrize(
    ("name", "code", "verdict"),
    [
        ("valid", 0, "valid"),
        ("foreign-key", 1, "invalid"),
        ("descriptor-unreadable", 2, "not checked"),
        ("not-checked", 2, "not checked"),
    ],
)
def test_the_command_s_exit_code_is_the_verdict(tmp_path, name, code, verdict):
    folder, out = tmp_path / name, StringIO()
    shutil.copytree(PACKAGES / name, folder)
    # Without its mark, pytest-django lets a test ask no database.
    with pytest.raises(SystemExit) as ended:
        call_command("check_package", str(folder), "--json", stdout=out)
    assert ended.value.code == code
    shape = json.loads(out.getvalue())
    assert set(shape) == {"verdict", "findings", "entries", "tables", "suspicions"}
    assert shape["verdict"] == verdict


def test_the_command_needs_no_database(tmp_path):
    surroundings = os.environ | {
        # A place where no database can be: had the command asked for one, it would fail.
        "STRANDLINE_DATABASE": f"sqlite:///{tmp_path}/nowhere/at/all.sqlite3",
        "STRANDLINE_DATABASE_URL": f"sqlite:///{tmp_path}/nowhere/at/all.sqlite3",
    }
    done = subprocess.run(
        [sys.executable, "manage.py", "check_package", str(PACKAGES / "foreign-key"), "--json"],
        check=False,
        cwd=ROOT,
        env=surroundings,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1, done.stderr
    assert json.loads(done.stdout)["verdict"] == "invalid"


def test_the_command_writes_the_findings_and_an_annotated_copy_and_writes_over_nothing(
    tmp_path: Path,
) -> None:
    room = tmp_path / "package"
    room.mkdir()
    (case,) = [one for one in SPOILED if one.name == "decimal comma in depth"]
    for name, content in case.files().items():
        (room / name).write_bytes(content)
    table, book = tmp_path / "findings.csv", tmp_path / "beside.xlsx"
    asked = [str(room), "--csv", str(table), "--annotated", str(book)]
    out = StringIO()
    with pytest.raises(SystemExit) as left:
        call_command("check_package", *asked, stdout=out)
    assert left.value.code == 1
    assert "[suspected: decimal-comma] checks, depth" in out.getvalue()
    assert "A safe correction exists: 18 cells would change." in out.getvalue()
    assert "Must be put right: 1 thing, 18 findings" in out.getvalue()
    assert "[type-error] checks, depth: 18 times, rows 2–19" in out.getvalue()
    assert out.getvalue().count("is not a number.") == 3
    assert "… and 15 more." in out.getvalue()
    assert "depth: number, 0 % sound, 0 different" in out.getvalue()
    assert "eggs: integer, 100 % sound, 18 different, 1250 to 5500" in out.getvalue()
    assert table.read_text(encoding="utf-8").count("type-error") == 18
    assert load_workbook(book).sheetnames == ["tanks", "checks"]
    before = table.read_bytes(), book.read_bytes()
    with pytest.raises(CommandError, match="is there already"):
        call_command("check_package", *asked)
    assert (table.read_bytes(), book.read_bytes()) == before


@pytest.mark.parametrize(
    "name",
    ["decimal comma in depth", "the two tables swapped", "titles and a blank row above"],
)
def test_the_command_writes_a_mended_copy_that_is_sound_and_leaves_the_package(
    tmp_path: Path, name: str
) -> None:
    room, mended = tmp_path / "package", tmp_path / "mended"
    room.mkdir()
    (case,) = [one for one in SPOILED if one.name == name]
    package = case.package()
    for resource in package.descriptor["resources"]:
        resource["bytes"] = len(package.files()[resource["path"]])
    for file, content in package.files().items():
        (room / file).write_bytes(content)
    before = {path.name: path.read_bytes() for path in room.iterdir()}
    with pytest.raises(SystemExit):
        call_command("check_package", str(room), "--mend", str(mended), stdout=StringIO())
    assert {path.name: path.read_bytes() for path in room.iterdir()} == before
    assert check_path(mended).verdict is Verdict.VALID
    with pytest.raises(CommandError, match="is there already"):
        call_command("check_package", str(room), "--mend", str(mended))


def test_where_nothing_can_be_mended_no_copy_is_written(tmp_path: Path) -> None:
    asked = [str(PACKAGES / "foreign-key"), "--mend", str(tmp_path / "mended")]
    with pytest.raises(SystemExit):
        call_command("check_package", *asked, stdout=StringIO())
    assert not (tmp_path / "mended").exists()
