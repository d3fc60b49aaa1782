"""Each byte is looked at: wherever a fault stands, it is found, and told with its line."""

import csv
import hashlib

import pytest

from archive.engine import reading
from archive.engine.descriptor import pin_layout
from archive.engine.limits import Limits
from archive.engine.reading import Scan, scan_table

LAYOUT = pin_layout({}, "csv")["csv"]


def scan(path, content: bytes, limits: Limits | None = None, **layout: object) -> Scan:
    file = path / "eggs.csv"
    file.write_bytes(content)
    return scan_table(file, "eggs", LAYOUT | layout, limits or Limits())


def only(scan: Scan) -> tuple[str, int | None]:
    (finding,) = scan.findings
    return finding.code, finding.row


def test_a_sound_file_is_counted_and_hashed_with_or_without_a_mark_at_its_head(tmp_path):
    content = 'string,note\nES-01,"blå,\nmjuk"\nES-02,\n'.encode()
    told = scan(tmp_path, b"\xef\xbb\xbf" + content)
    assert (told.records, told.lines, told.findings) == (3, 4, [])
    assert told.labels == ["string", "note"]
    assert told.sha256 == hashlib.sha256(b"\xef\xbb\xbf" + content).hexdigest()
    assert scan(tmp_path, content).records == 3


@pytest.mark.parametrize("block", [1, 2, 3, 5, 7, 64])
def test_a_letter_across_two_blocks_is_no_fault_and_a_wrong_byte_is_told_with_its_line(
    tmp_path, monkeypatch, block
):
    monkeypatch.setattr(reading, "BLOCK_BYTES", block)
    good = "a,b\n1,blå 🐙\n2,gul\n".encode()
    assert scan(tmp_path, good).findings == []
    assert only(scan(tmp_path, good.replace("å".encode(), b"\xe5"))) == ("encoding-error", 2)
    assert only(scan(tmp_path, good.replace(b"gul", b"g\xf0"))) == ("encoding-error", 3)
    assert only(scan(tmp_path, good.replace(b"gul", b"g\0l"))) == ("nul-character", 3)


def test_a_file_cut_in_the_middle_of_a_letter_is_not_read(tmp_path):
    told = scan(tmp_path, "a,b\n1,blå".encode()[:-1])
    assert only(told) == ("encoding-error", 2)
    assert not told.is_readable


def test_a_wrong_byte_far_behind_the_first_hundred_kilobytes_is_found(tmp_path):
    rows = b"".join(b"%d,still\n" % number for number in range(40_000))
    told = scan(tmp_path, b"string,water\n" + rows + b"1,\xff\n")
    assert only(told) == ("encoding-error", 40_002)


def test_an_unclosed_quotation_mark_is_told_where_it_opens(tmp_path):
    told = scan(tmp_path, b'a,b\n1,x\n2,"pale\n3,y\n4,z\n')
    assert only(told) == ("unclosed-quote", 3)
    assert not told.is_readable
    assert "3 lines" in told.findings[0].message


def test_text_after_a_closing_quotation_mark_is_told_but_the_file_is_read_on(tmp_path):
    told = scan(tmp_path, b'a,b\n1,"x" y\n2,z\n')
    assert only(told) == ("stray-quote", 2)
    assert told.is_readable
    assert told.records == 3


def test_a_doubled_quotation_mark_and_an_escaped_one_are_sound(tmp_path):
    assert scan(tmp_path, b'a,b\n1,"say ""blue"""\n').findings == []
    escaped = scan(tmp_path, b'a,b\n1,"say \\"blue\\""\n', escapeChar="\\", doubleQuote=False)
    assert escaped.findings == []


def test_the_limits_of_cell_columns_rows_and_bytes_are_held(tmp_path, monkeypatch):
    wide = scan(tmp_path, b"a,b,c\n1,2,3\n", Limits(columns=2))
    assert only(wide) == ("table-too-large", None)
    long = scan(tmp_path, b"a\n1\n2\n3\n", Limits(table_rows=2))
    assert only(long) == ("table-too-large", None)
    assert scan(tmp_path, b"a\n1\n2\n", Limits(table_rows=2)).findings == []
    heavy = scan(tmp_path, b"a\n1\n2\n", Limits(table_bytes=5))
    assert only(heavy) == ("table-too-large", None)
    cell = scan(tmp_path, b"a\n" + b"x" * 2000 + b"\n", Limits(cell_bytes=1024))
    assert only(cell) == ("cell-too-large", 2)
    monkeypatch.setattr(reading, "BLOCK_BYTES", 1000)
    line = scan(tmp_path, b"a\n" + b"x" * 70_000 + b"\n", Limits(cell_bytes=1024))
    assert only(line) == ("cell-too-large", None)


def test_the_reader_s_limit_of_a_cell_is_put_back(tmp_path):
    before = csv.field_size_limit()
    scan(tmp_path, b"a\n1\n")
    assert csv.field_size_limit() == before


def test_a_layout_that_no_reader_can_use_is_a_finding(tmp_path):
    assert only(scan(tmp_path, b"a\n1\n", delimiter="::")) == ("dialect-error", None)
