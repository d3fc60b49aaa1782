"""Safe unpacking of a zip: a doubtful one is refused as a whole, never mended in silence.

The standard library's own unpacking stays inside the folder, but it renames, merges twins and
writes names with backslashes; what was uploaded would no longer be what is kept.

References
----------
APPNOTE.TXT 6.3.10 (PKWARE), 4.3.16, for the end of the central directory.
"""

import stat
import struct
import unicodedata
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path

from archive.engine.descriptor import examine_path
from archive.engine.limits import Limits
from registry.errors import Refusal, TooLarge, Unsound
from registry.guarded.sizes import size

BLOCK_BYTES = 1 << 18
RATIO_FREE_BYTES = 1_000_000
DIRECTORY_BYTES = 4_000_000
HEAD_BYTES = 4096
_WORKBOOK_MARKS = (
    b"[Content_Types].xml",
    b"xl/workbook",
    b"xl/worksheets/",
    b"vnd.oasis.opendocument.spreadsheet",
)
_TAIL = 22 + 65_535
_METHODS = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})
_AGAIN = "Make the zip again from the folder that holds datapackage.json, and upload that."
UNSOUND = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,
    ValueError,
)
WHAT = "The zip was not unpacked."


@dataclass(frozen=True, slots=True)
class Unpacked:
    """What came out: the files' paths, and the entries of the packer's own that were left out."""

    paths: tuple[str, ...]
    left_out: tuple[str, ...]


def unpack(source: Path, into: Path, limits: Limits) -> Unpacked:
    """Unpack a zip into an empty folder, reading each member as a stream.

    Parameters
    ----------
    source : Path
        The zip.
    into : Path
        An existing folder. What is written there before a refusal stays, for the caller to clear.
    limits : Limits

    Raises
    ------
    Unsound
        When it is no sound zip, or a name, link or lock in it is not allowed.
    TooLarge
        When it holds too many or too large files.
    """
    try:
        _weigh_directory(source)
        with zipfile.ZipFile(source) as archive:
            entries = _choose(archive, limits)
            left_out = [e.filename for e in archive.infolist() if e not in entries]
            if any(not 0 <= entry.header_offset < source.stat().st_size for entry in entries):
                raise Unsound(WHAT, "It points outside itself.", _AGAIN)
            files = [entry for entry in entries if not entry.is_dir()]
            _weigh(files, source.stat().st_size, limits)
            written = 0
            for entry in files:
                written += _write(archive, entry, into, written, source, limits)
    except UNSOUND as fault:
        raise Unsound(WHAT, f"It is not a sound zip file: {fault}.", _AGAIN) from None
    paths = tuple(entry.filename for entry in files)
    return Unpacked(paths, tuple(name for name in left_out if not name.endswith("/")))


def is_zip(path: Path) -> bool:
    """Whether the file begins as a zip does."""
    with path.open("rb") as file:
        return file.read(4) in {b"PK\x03\x04", b"PK\x05\x06"}


def is_workbook(path: Path) -> bool:
    """Whether the file is a workbook, told by its first bytes alone: it is never opened.

    Parameters
    ----------
    path : Path
        The file, whatever its name.

    Notes
    -----
    A workbook may name one far cell, and whoever opens it would fill the memory with empty ones.

    References
    ----------
    ECMA-376 part 2 (Open Packaging Conventions) for the members of an xlsx; OpenDocument 1.3
    part 2, 3.3, for the member “mimetype”; [MS-CFB] 2.2 for the mark of an older xls.
    """
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if head.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        return True
    return head.startswith(b"PK\x03\x04") and any(mark in head for mark in _WORKBOOK_MARKS)


def _weigh_directory(source: Path) -> None:
    """Refuse a list of members that alone would fill the memory, before it is read."""
    length = source.stat().st_size
    with source.open("rb") as file:
        file.seek(max(0, length - _TAIL))
        tail = file.read()
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) < at + 22:
        raise Unsound(WHAT, "It is not a zip file, or it was cut short.", _AGAIN)
    (directory,) = struct.unpack("<L", tail[at + 12 : at + 16])
    if directory > DIRECTORY_BYTES:
        raise TooLarge(WHAT, f"Its list of files alone is {size(directory)}.", _AGAIN)


def _choose(archive: zipfile.ZipFile, limits: Limits) -> list[zipfile.ZipInfo]:
    """Give the entries to unpack; refuse the whole zip for one that is not allowed."""
    entries = [entry for entry in archive.infolist() if not _is_packers_own(entry.filename)]
    count = sum(not entry.is_dir() for entry in entries)
    if count > limits.package_files or len(entries) > 10 * limits.package_files:
        why = f"It holds {count:,} files; the limit is {limits.package_files:,}."
        raise TooLarge(WHAT, why, "Leave out what is not data, or split the package.")
    if not count:
        raise Unsound(WHAT, "There is no file in it.", _AGAIN)
    seen: dict[str, zipfile.ZipInfo] = {}
    for entry in entries:
        _examine(entry)
        plain = unicodedata.normalize("NFC", entry.filename.rstrip("/")).casefold()
        earlier = seen.setdefault(plain, entry)
        if earlier is not entry:
            names = f"“{entry.filename}” and “{earlier.filename}”"
            raise _refuse(f"{names} are the same name on some disks.")
    closed = {plain for plain, entry in seen.items() if not entry.is_dir()}
    for plain, entry in seen.items():
        above = plain.split("/")[:-1]
        if any("/".join(above[:depth]) in closed for depth in range(1, len(above) + 1)):
            raise _refuse(f"“{entry.filename}” lies inside another file.")
    return entries


def _is_packers_own(name: str) -> bool:
    """Whether a packing program added the entry by itself: nothing of the person's is in it."""
    return name.startswith("__MACOSX/") or name.rpartition("/")[2] in {".DS_Store", "Thumbs.db"}


def _examine(entry: zipfile.ZipInfo) -> None:
    name = entry.orig_filename
    if unicodedata.normalize("NFC", name) != name:
        raise _refuse(f"“{name}” is written with separate accents.")
    fault = examine_path(name.rstrip("/") if entry.is_dir() else name)
    if fault is not None or name != entry.filename:
        raise _refuse(fault.message if fault else f"“{name}” holds a sign that is not allowed.")
    mode = entry.external_attr >> 16
    if mode and stat.S_IFMT(mode) not in {0, stat.S_IFREG, stat.S_IFDIR}:
        raise _refuse(f"“{name}” is a link or a device, not a file.")
    if entry.flag_bits & 0x41:
        raise Unsound(WHAT, f"“{name}” is locked with a password.", "Make the zip without one.")
    if entry.compress_type not in _METHODS:
        raise _refuse(f"“{name}” is packed by a method that is not read here.")


def _refuse(why: str) -> Refusal:
    return Unsound(
        WHAT,
        why,
        "Use letters a to z, digits, dot, hyphen and underscore in names, put no hidden folders"
        " into it, and make the zip again.",
    )


def _weigh(files: list[zipfile.ZipInfo], packed: int, limits: Limits) -> None:
    _hold(sum(entry.file_size for entry in files), packed, limits)


def _hold(total: int, packed: int, limits: Limits) -> None:
    if total > limits.package_bytes:
        why = f"Unpacked it is over {size(limits.package_bytes)}, the limit of a package."
        raise TooLarge(WHAT, why, "Leave out what is not data, or split the package.")
    if total > RATIO_FREE_BYTES and total > limits.zip_ratio * packed:
        why = f"It unfolds to more than {limits.zip_ratio:,} times its size."
        raise TooLarge(WHAT, why, "Upload the tables one by one as plain CSV files.")


def _write(
    archive: zipfile.ZipFile,
    entry: zipfile.ZipInfo,
    into: Path,
    before: int,
    source: Path,
    limits: Limits,
) -> int:
    """Write one member, counting what really comes out of it; what is declared may lie."""
    place = into / entry.filename
    place.parent.mkdir(parents=True, exist_ok=True)
    packed, count = source.stat().st_size, 0
    with archive.open(entry) as member, place.open("xb") as file:
        while block := member.read(BLOCK_BYTES):
            count += len(block)
            _hold(before + count, packed, limits)
            file.write(block)
    return count
