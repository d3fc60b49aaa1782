import csv
import io

import pytest

from archive.exports.safe_csv import safe_copy
from registry.errors import Unsound
from registry.guarded.cells import safe_cell


def copied(content, **options):
    return b"".join(safe_copy(io.BytesIO(content), **options))


@pytest.mark.parametrize(
    "cell",
    ["=1+1", "+cmd", "-x", "@sum", "\t=1", "\r=1", "\n=1", "-1+2", "+1-1", "=", "-", "-INF", "-1e"],
)
def test_a_cell_that_may_run_is_preceded_by_an_apostrophe(cell):
    assert safe_cell(cell) == f"'{cell}"


@pytest.mark.parametrize(
    "cell", ["-1", "+1.5", "-1,5", "-.5", "-1e-9", "1.234,5", "text", "", " =1", "a=1", "'=1"]
)
def test_a_number_and_a_plain_text_are_left_as_they_are(cell):
    assert safe_cell(cell) == cell


def test_the_copy_is_marked_and_holds_the_same_table():
    content = b'nest,note\n1,"=HYPERLINK(""x"")"\n-2,"two\nlines, and more"\n3,\n'
    made = copied(content)
    assert made.startswith(b"\xef\xbb\xbf")
    rows = list(csv.reader(io.StringIO(made.decode("utf-8-sig"), newline="")))
    assert rows == [
        ["nest", "note"],
        ["1", '\'=HYPERLINK("x")'],
        ["-2", "two\nlines, and more"],
        ["3", ""],
    ]
    assert made.count(b"\r\n") == 4


def test_the_copy_reads_the_tables_own_dialect_and_mark():
    made = copied("\ufeff'größe';'b'\n'@x';2\n".encode(), delimiter=";", quote="'")
    assert made == "\ufeffgröße,b\r\n'@x,2\r\n".encode()
    assert copied("größe\n".encode("cp1252"), encoding="cp1252") == "\ufeffgröße\r\n".encode()


def test_a_long_table_comes_in_pieces_and_the_file_stays_open():
    table = io.BytesIO(b"a,b\n" + b"-1,=x\n" * 50_000)
    pieces = list(safe_copy(table))
    assert len(pieces) > 4
    assert max(map(len, pieces)) < 200_000
    assert b"".join(pieces).count(b"-1,'=x\r\n") == 50_000
    assert not table.closed


@pytest.mark.parametrize("content", [b'a\n"open\n', b"a\n\xff\n"])
def test_a_table_that_cannot_be_read_is_refused_in_words(content):
    with pytest.raises(Unsound):
        copied(content)
