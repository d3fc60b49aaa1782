"""A doubtful zip is refused as a whole."""

import contextlib
import stat
import struct
import zipfile

import pytest

from archive.engine.limits import Limits
from archive.engine.unpack import is_zip, unpack
from registry.errors import TooLarge, Unsound


@pytest.fixture
def zipped(tmp_path):
    def zipped(*members: tuple[str | zipfile.ZipInfo, bytes], method=zipfile.ZIP_DEFLATED):
        path = tmp_path / "package.zip"
        with zipfile.ZipFile(path, "w", method) as archive:
            for name, content in members:
                archive.writestr(name, content)
        return path

    return zipped


@pytest.fixture
def room(tmp_path):
    folder = tmp_path / "room"
    folder.mkdir()
    return folder


def test_a_sound_zip_comes_out_byte_for_byte_without_the_packer_s_own(zipped, room):
    path = zipped(
        ("eggs/", b""),
        ("eggs/datapackage.json", b"{}"),
        ("eggs/data/hatching.csv", b"id\n1\n"),
        ("__MACOSX/eggs/._hatching.csv", b"x"),
        ("eggs/.DS_Store", b"x"),
    )
    assert is_zip(path)
    told = unpack(path, room, Limits())
    assert told.paths == ("eggs/datapackage.json", "eggs/data/hatching.csv")
    assert told.left_out == ("__MACOSX/eggs/._hatching.csv", "eggs/.DS_Store")
    assert (room / "eggs/data/hatching.csv").read_bytes() == b"id\n1\n"
    assert not (room / "__MACOSX").exists()


@pytest.mark.parametrize(
    "names",
    [
        ["../evil.csv"],
        ["data/../../evil.csv"],
        ["/evil.csv"],
        ["..\\evil.csv"],
        ["C:/evil.csv"],
        [".git/config.csv"],
        ["data/.hidden/a.csv"],
        ["egg strings.csv"],
        ["a.csv", "A.csv"],
        ["a.csv", "a.csv/b.csv"],
        ["data/a.csv", "Data"],
        ["fi\u0301.csv"],
        ["f\u00ed.csv", "fi\u0301.csv"],
        ["a\x01.csv"],
    ],
)
def test_a_name_that_could_be_another_file_elsewhere_refuses_the_whole_zip(zipped, room, names):
    # A sound member first, so that the refusal is seen to come before anything is written.
    path = zipped(("good.csv", b"id\n"), *((name, b"x") for name in names))
    with pytest.raises(Unsound) as refusal:
        unpack(path, room, Limits())
    assert refusal.value.next
    assert list(room.iterdir()) == []


def test_a_name_with_a_nul_is_refused_for_it_would_be_cut(zipped, room, tmp_path):
    path = tmp_path / "nul.zip"
    path.write_bytes(zipped(("a.csvXb", b"x")).read_bytes().replace(b"a.csvXb", b"a.csv\0b"))
    with pytest.raises(Unsound):
        unpack(path, room, Limits())


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_the_same_name_twice_is_refused(zipped, room):
    with pytest.raises(Unsound, match="same name"):
        unpack(zipped(("a.csv", b"1"), ("a.csv", b"2")), room, Limits())


def test_a_link_is_refused(zipped, room):
    link = zipfile.ZipInfo("a.csv")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with pytest.raises(Unsound, match="link"):
        unpack(zipped((link, b"/etc/hosts")), room, Limits())


def test_a_locked_member_and_a_rare_method_are_refused(zipped, room, tmp_path):
    path = zipped(("a.csv", b"id\n1\n"))
    content = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        content[content.index(mark) + offset] |= 1
    locked = tmp_path / "locked.zip"
    locked.write_bytes(content)
    with pytest.raises(Unsound, match="password"):
        unpack(locked, room, Limits())
    with pytest.raises(Unsound, match="method"):
        unpack(zipped(("a.csv", b"id\n"), method=zipfile.ZIP_LZMA), room, Limits())


def test_too_many_files_too_many_bytes_and_too_great_a_ratio_are_refused(zipped, room):
    with pytest.raises(TooLarge, match="3 files"):
        unpack(zipped(*((f"{n}.csv", b"") for n in range(3))), room, Limits(package_files=2))
    with pytest.raises(TooLarge, match="limit of a package"):
        unpack(zipped(("a.csv", b"x" * 50)), room, Limits(package_bytes=49))
    with pytest.raises(TooLarge, match="times its size"):
        unpack(zipped(("a.csv", b"0" * 3_000_000)), room, Limits())
    assert list(room.iterdir()) == []


def test_a_member_that_lies_about_its_size_is_counted_while_it_is_read(zipped, room, tmp_path):
    path = zipped(("a.csv", b"x" * 400_000))
    content = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = content.index(mark) + offset
        content[at : at + 4] = struct.pack("<L", 10)
    liar = tmp_path / "liar.zip"
    liar.write_bytes(content)
    with pytest.raises((Unsound, TooLarge)):
        unpack(liar, room, Limits(package_bytes=1_000))
    written = sum(place.stat().st_size for place in room.iterdir())
    assert written <= 1_000


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"id\n1\n", b"PK\x05\x06" + b"\0" * 10])
def test_what_is_no_zip_is_refused_in_words(tmp_path, room, content):
    path = tmp_path / "a.zip"
    path.write_bytes(content)
    with pytest.raises(Unsound):
        unpack(path, room, Limits())


def test_an_empty_zip_and_one_with_a_broken_member_are_refused(zipped, room, tmp_path):
    with pytest.raises(Unsound, match="no file"):
        unpack(zipped(), room, Limits())
    path = zipped(("a.csv", b"id\n1\n"), method=zipfile.ZIP_STORED)
    content = path.read_bytes().replace(b"id\n1\n", b"id\n2\n")
    broken = tmp_path / "broken.zip"
    broken.write_bytes(content)
    with pytest.raises(Unsound, match="not a sound zip"):
        unpack(broken, room, Limits())


def test_a_huge_list_of_members_is_refused_before_it_is_read(zipped, room, tmp_path):
    content = bytearray(zipped(("a.csv", b"x")).read_bytes())
    at = content.rindex(b"PK\x05\x06") + 12
    content[at : at + 4] = struct.pack("<L", 500_000_000)
    path = tmp_path / "huge.zip"
    path.write_bytes(content)
    with pytest.raises(TooLarge, match="list of files"):
        unpack(path, room, Limits())


def test_no_altered_byte_of_a_zip_ever_crashes_the_reader(zipped, tmp_path):
    content = zipped(("datapackage.json", b"{}"), ("a.csv", b"id\n1\n")).read_bytes()
    for at in range(len(content)):
        for value in (0, 255, content[at] ^ 1):
            path = tmp_path / "altered.zip"
            path.write_bytes(content[:at] + bytes([value]) + content[at + 1 :])
            folder = tmp_path / f"room-{at}-{value}"
            folder.mkdir(exist_ok=True)
            with contextlib.suppress(Unsound, TooLarge):
                unpack(path, folder, Limits())
            for place in folder.rglob("*"):
                assert place.resolve().is_relative_to(folder)
                place.unlink() if place.is_file() else None
