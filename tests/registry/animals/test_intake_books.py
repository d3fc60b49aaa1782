"""Lists of animals that come as workbooks: read like any other, and never trusted."""

import io
import zipfile
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from registry.animals.intake.keeping import Kept, keep, kept
from registry.animals.intake.weighing import Outcome, weigh
from registry.errors import Refusal, TooLarge, Unsound
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import make_enclosure, make_taxon
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
HEAD = ("code", "taxon", "enclosure", "arrived_on", "chip", "sort", "unknown")
RAY = ("UR-1", "Raja undulata", "T1", date(2024, 3, 1), 985112001234567, None, None)
SHEET = "xl/worksheets/sheet1.xml"


@pytest.fixture(autouse=True)
def _somewhere(settings: Any, tmp_path: Path) -> None:
    settings.UPLOADS = tmp_path / "uploads"


@pytest.fixture
def curator() -> Person:
    person = make_person(Role.CURATOR)
    make_taxon(by=person)
    make_enclosure("T1", by=person)
    return person


def book(*rows: Sequence[Any], hidden: str = "", hide_row: int = 0) -> bytes:
    """Make a workbook; a sheet named `hidden` stands before the rows, and is not shown."""
    made = io.BytesIO()
    with xlsxwriter.Workbook(
        made, {"in_memory": True, "default_date_format": "yyyy-mm-dd"}
    ) as file:
        sheets = [file.add_worksheet(hidden)] if hidden else []
        shown = file.add_worksheet("Animals")
        for sheet in sheets:
            sheet.write_row(0, 0, ("nothing", "of", "use"))
            sheet.hide()
        shown.activate()
        shown.set_first_sheet()
        for number, row in enumerate((HEAD, *rows)):
            shown.write_row(number, 0, row)
        if hide_row:
            shown.set_row(hide_row, None, None, {"hidden": True})
    return made.getvalue()


def with_sheet(whole: bytes, cells: bytes) -> bytes:
    """Give the workbook with other rows on its first sheet, by the zip's own means."""
    made = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(whole)) as old,
        zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            body = (
                b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
                b"<sheetData>" + cells + b"</sheetData></worksheet>"
            )
            new.writestr(name, body if name == SHEET else old.read(name))
    return made.getvalue()


def sent(raw: bytes, by: Person) -> Kept:
    return keep(SimpleUploadedFile("list.xlsx", raw), by)


def test_a_workbook_is_read_as_a_text_would_be(curator: Person) -> None:
    shoal = ("LF-1", "Raja undulata", "T1", date(2024, 3, 2), None, "shoal", 12)
    held = sent(book(RAY, (), shoal, hidden="Notes"), curator)
    sheet = held.read()
    assert sheet.lines[0].cells["arrived_on"] == "2024-03-01"
    assert sheet.lines[0].cells["chip"] == "985112001234567"
    assert [line.row for line in sheet.lines] == [2, 4]
    assert sheet.lines[1].cells["unknown"] == "12"
    trial = weigh(sheet)
    assert trial.count(Outcome.NEW) == 2, trial.faults
    # Kept under the digest of what was sent, and found again by it.
    assert kept(held.sha256, curator, "list.xlsx").read() == sheet


def test_the_rows_that_are_sound_are_looked_at_beside_those_that_are_not(curator: Person) -> None:
    born_later = ("UR-2", "Raja undulata", "T1", date(2124, 3, 1), None, None, None)
    trial = weigh(sent(book(RAY, born_later), curator).read())
    assert [one.outcome for one in trial.rows] == [Outcome.NEW, Outcome.FAULTY]
    assert [(one.row, one.column) for one in trial.faults] == [(3, "arrived_on")]


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        (b'<row r="9"><c r="XFD1048576"><v>1</v></c></row>', "XFD1048576"),
        (b"<row><c><v>1</v></c></row>" * 3_000_000, "times its size"),
        (b"<row><c t='str'><v>" + b"ha" * 50_000 + b"</v></c></row>", "of text"),
        (b"<row><c><v>1</v></c></row>" * 30_000, "20,001 rows"),
    ],
)
def test_a_workbook_made_to_fill_the_memory_is_refused_and_nothing_is_kept(
    cells: bytes, why: str, curator: Person, settings: Any
) -> None:
    with pytest.raises(TooLarge, match=why) as refused:
        sent(with_sheet(book(RAY), cells), curator)
    assert "file" in refused.value.fields
    assert list(Path(settings.UPLOADS).iterdir()) == []


def test_entities_are_refused(curator: Person) -> None:
    whole = with_sheet(book(RAY), b"<row><c><v>&a;</v></c></row>")
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(made, "w") as new:
        for name in old.namelist():
            body = old.read(name)
            start = b'<!DOCTYPE worksheet [<!ENTITY a "ha">]>' if name == SHEET else b""
            new.writestr(name, start + body)
    with pytest.raises(Unsound, match="document type"):
        sent(made.getvalue(), curator)


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"PK\x03\x04 and no zip", "not a sound workbook"),
        (b"\xd0\xcf\x11\xe0 and nothing more", "cannot be read"),
        (book(RAY, hide_row=1), "hidden"),
        (with_sheet(book(RAY), b"<row><c><f>1+1</f></c></row>"), "formulas without a result"),
        (with_sheet(book(RAY), b""), "no row"),
    ],
)
def test_what_would_be_read_wrong_is_refused_with_what_to_do(
    raw: bytes, why: str, curator: Person, settings: Any
) -> None:
    with pytest.raises(Refusal, match=why) as refused:
        sent(raw, curator)
    assert "file" in refused.value.fields
    assert list(Path(settings.UPLOADS).iterdir()) == []


def test_the_page_takes_a_workbook_and_says_so(client: Client, curator: Person) -> None:
    client.force_login(curator)
    file = SimpleUploadedFile("list.xlsx", book(RAY))
    answer = client.post("/animals/import/", {"file": file})
    assert answer.status_code == 302, answer.content.decode()
    page = client.get(answer["Location"]).content.decode()
    assert "a workbook: its first sheet that has rows and is not hidden" in page
    assert "UR-1" in page
    bomb = with_sheet(book(RAY), b'<row><c r="XFD1048576"><v>1</v></c></row>')
    refused = client.post("/animals/import/", {"file": SimpleUploadedFile("list.xlsx", bomb)})
    assert refused.status_code == 422
    assert "XFD1048576" in refused.content.decode()
