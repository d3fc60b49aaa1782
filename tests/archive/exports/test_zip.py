import io
import random
import zipfile
from datetime import UTC, datetime

import pytest

from archive.exports.zip import Entry, stream_zip
from registry.errors import Unsound

WHEN = datetime(2026, 5, 1, 9, 30, 14, tzinfo=UTC)
FILES = {
    "datapackage.json": b"{}\n",
    "data/pebbles.csv": random.Random(1).randbytes(3_000_000),
    "data/empty.csv": b"",
}


def entries(files=FILES):
    return [
        Entry(path, len(content), lambda content=content: io.BytesIO(content))
        for path, content in files.items()
    ]


def test_the_zip_holds_every_file_as_it_is():
    made = b"".join(stream_zip(entries(), modified=WHEN))
    with zipfile.ZipFile(io.BytesIO(made)) as read:
        assert read.testzip() is None
        assert {name: read.read(name) for name in read.namelist()} == FILES
        assert {about.date_time for about in read.infolist()} == {(2026, 5, 1, 9, 30, 14)}
        assert {about.external_attr >> 16 for about in read.infolist()} == {0o100444}


def test_the_zip_comes_in_pieces_and_opens_a_file_when_its_turn_comes():
    opened = []
    lazy = [
        Entry(path, len(content), lambda p=path, c=content: opened.append(p) or io.BytesIO(c))
        for path, content in FILES.items()
    ]
    pieces = stream_zip(lazy, modified=WHEN)
    assert opened == []
    sizes = [len(next(pieces))]
    assert opened == ["datapackage.json"]
    sizes += [len(piece) for piece in pieces]
    assert len(sizes) > 5
    assert max(sizes) < 600_000
    assert opened == list(FILES)


def test_the_same_version_gives_the_same_zip():
    first, second = (b"".join(stream_zip(entries(), modified=WHEN)) for _ in range(2))
    assert first == second


def test_a_zip_that_broke_off_is_no_zip():
    def broken():
        raise OSError("the disk failed")

    pieces = stream_zip([*entries(), Entry("z.csv", 1, broken)], modified=WHEN)
    got = [next(pieces) for _ in range(4)]
    with pytest.raises(OSError, match="failed"):
        got.extend(pieces)
    assert not zipfile.is_zipfile(io.BytesIO(b"".join(got)))


def test_paths_that_clash_or_leave_are_refused_before_a_byte_is_sent():
    for files in ({"../x": b""}, {"a.csv": b"", "A.csv": b""}):
        with pytest.raises(Unsound):
            next(stream_zip(entries(files), modified=WHEN))


def test_a_large_file_gets_the_larger_form_of_entry():
    large = [Entry("big.csv", 5_000_000_000, lambda: io.BytesIO(b"x"))]
    made = b"".join(stream_zip(large, modified=WHEN))
    assert made[:4] == b"PK\x03\x04"
    assert made[4:6] == (45).to_bytes(2, "little")  # version needed: 4.5, ZIP64
