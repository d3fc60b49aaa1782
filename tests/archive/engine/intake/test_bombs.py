"""Files made to fill the memory or to run for ever: refused in words, in bounded memory."""

import io
import resource
import time
import zipfile
from pathlib import Path

import pytest

from archive.engine.intake import propose
from archive.engine.limits import Limits
from registry.errors import Refusal, TooLarge, Unsound
from registry.guarded.book import Book
from registry.guarded.scan import scan
from tests.archive.engine.intake.making import (
    PLAIN,
    book,
    cells,
    laid,
    ods,
    ods_row,
    packed,
    table,
    with_part,
)

SHEET = "xl/worksheets/sheet1.xml"
HEAD = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
FOOT = b"</sheetData></worksheet>"
SOUND = book(cells([["ray", "depth"], ["R-01", 1.5]]))


def far(reference: bytes) -> bytes:
    cell = b'<row><c r="A1"><v>1</v></c><c r="' + reference + b'"><v>1</v></c></row>'
    return with_part(SOUND, SHEET, HEAD + cell + FOOT)


def entities() -> bytes:
    nested = b'<!DOCTYPE worksheet [<!ENTITY a0 "ha">' + b"".join(
        b'<!ENTITY a%d "&a%d;&a%d;">' % (n, n - 1, n - 1) for n in range(1, 40)
    )
    return with_part(SOUND, SHEET, nested + b"]>" + HEAD + b"<row><c><v>&a39;</v></c></row>" + FOOT)


def outside() -> bytes:
    doc = b'<!DOCTYPE worksheet [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
    return with_part(SOUND, SHEET, doc + HEAD + b"<row><c><v>&x;</v></c></row>" + FOOT)


def shared() -> bytes:
    long = b"<sst><si><t>" + b"a b c d e f g " * 200_000 + b"</t></si></sst>"
    return with_part(SOUND, "xl/sharedStrings.xml", long)


def mark() -> bytes:
    noise = b"".join(b"%d " % (n * 2_654_435_761 % 2**32) for n in range(400_000))
    return with_part(SOUND, SHEET, HEAD + b'<row spans="' + noise + b'"/>' + FOOT)


def deep() -> bytes:
    return with_part(SOUND, SHEET, HEAD + b"<row>" * 100 + b"</row>" * 100 + FOOT)


def folded() -> bytes:
    return with_part(SOUND, SHEET, HEAD + b"<row></row>" * 3_000_000 + FOOT)


def repeated() -> bytes:
    wide = ods_row("x").replace(
        "<table:table-cell ", '<table:table-cell table:number-columns-repeated="16384" '
    )
    return ods(
        wide.replace("<table:table-row", '<table:table-row table:number-rows-repeated="9999"')
    )


def parts() -> bytes:
    return packed({"xl/workbook.xml": b"<workbook/>"} | {f"p{n}.xml": b"" for n in range(1000)})


def twins() -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/Workbook.xml", "<workbook/>")
    return made.getvalue()


BOMBS = [
    ("far cell", far(b"XFD1048576"), TooLarge, "XFD1048576"),
    ("cell beyond any sheet", far(b"ZZZZ999999999"), TooLarge, "rows and"),
    ("many columns and many rows", far(b"SF900000"), TooLarge, "20,000,000 cells"),
    ("nested entities", entities(), Unsound, "document type"),
    ("a file of this machine", outside(), Unsound, "document type"),
    ("endless shared text", shared(), TooLarge, ""),
    ("a mark that never ends", mark(), TooLarge, "never ends"),
    ("nested deep", deep(), Unsound, "64 deep"),
    ("unfolds without measure", folded(), TooLarge, "100 times"),
    ("repeated cells", repeated(), TooLarge, "columns are read at most"),
    ("a thousand parts", parts(), TooLarge, "1,001 parts"),
    ("two parts of one name", twins(), Unsound, "Two parts"),
    ("cut short", SOUND[: len(SOUND) // 2], Unsound, "not a sound"),
    ("a number that is none", with_part(SOUND, SHEET, HEAD + b'<row r="1e9"/>' + FOOT), Unsound,
     "whole number"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "content", "kind", "said"), BOMBS, ids=[one[0] for one in BOMBS])
def test_a_bomb_is_refused_in_words_and_in_bounded_memory(
    name: str, content: bytes, kind: type[Refusal], said: str, tmp_path: Path
) -> None:
    path = laid(tmp_path, "bomb.xlsx", content)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.monotonic()
    with pytest.raises(kind) as caught:
        scan(path, Limits())
    # Kilobytes here, on Linux.
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 60_000
    assert time.monotonic() - began < 20
    assert said in caught.value.why
    assert caught.value.next


def test_cells_that_are_only_painted_are_not_in_use(tmp_path: Path) -> None:
    painted = (
        HEAD
        + b'<row r="1"><c r="A1"><v>1</v></c><c r="XFD1"/></row><row r="1048576" s="1">'
        + b'<c r="XFD1048576" s="1"/></row>'
        + FOOT
    )
    path = laid(tmp_path, "scans.xlsx", with_part(SOUND, SHEET, painted))
    facts = scan(path, Limits())
    assert (facts.sheets[0].last_row, facts.sheets[0].last_column) == (1, 1)
    # And the reader makes no room for them either.
    assert list(Book(path, Limits()).rows("Scans")) == [(1, [1.0])]


def test_the_far_cell_is_a_file_of_a_few_kilobytes() -> None:
    assert len(far(b"XFD1048576")) < 8_000


@pytest.mark.parametrize("content", [far(b"XFD1048576"), entities()], ids=["far", "entities"])
def test_the_child_hands_the_refusal_to_whoever_asked(content: bytes, tmp_path: Path) -> None:
    path = laid(tmp_path, "bomb.xlsx", content)
    with pytest.raises(Refusal) as caught:
        propose(path, "bomb.xlsx", table())
    assert caught.value.what == "The workbook was not opened."
    assert caught.value.next


def test_a_text_that_is_one_endless_cell_is_refused(tmp_path: Path) -> None:
    path = laid(tmp_path, "scans.csv", PLAIN.encode() + b'"' + b"x" * 300_000)
    with pytest.raises(Refusal) as caught:
        propose(path, "scans.csv", table())
    assert "128 kB" in caught.value.why


def test_a_text_of_a_million_columns_is_refused(tmp_path: Path) -> None:
    path = laid(tmp_path, "scans.csv", b"," * 1_000_000 + b"\n")
    with pytest.raises(TooLarge) as caught:
        propose(path, "scans.csv", table())
    assert "columns" in caught.value.why


def test_a_child_that_needs_too_much_memory_is_stopped_and_it_is_said(tmp_path: Path) -> None:
    rows = [["ray", "depth"], *[[f"R-{n}", float(n)] for n in range(250_000)]]
    path = laid(tmp_path, "scans.xlsx", book(cells(rows)))
    small = Limits(memory_bytes=75 * 1024**2)
    with pytest.raises(TooLarge) as caught:
        propose(path, "scans.xlsx", table(), limits=small)
    assert "memory" in caught.value.why


def test_a_child_that_takes_too_long_is_stopped_and_it_is_said(tmp_path: Path) -> None:
    path = laid(tmp_path, "scans.csv", PLAIN.encode() * 150_000)
    with pytest.raises(TooLarge) as caught:
        propose(path, "scans.csv", table(), limits=Limits(wall_s=1))
    assert "1 second" in caught.value.why


def test_a_workbook_over_its_limit_is_not_looked_into(tmp_path: Path) -> None:
    path = laid(tmp_path, "scans.xlsx", SOUND)
    with pytest.raises(TooLarge) as caught:
        scan(path, Limits(workbook_bytes=1000))
    assert "1 kB" in caught.value.why
