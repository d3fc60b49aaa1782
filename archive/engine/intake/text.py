"""Text as rows: its encoding proved on the whole file, its rows cut by the csv reader."""

import codecs
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from registry.errors import TooLarge, Unsound

WHAT = "The file was not read."
BLOCK_BYTES = 1 << 18
HEAD_ROWS = 200
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
ENCODINGS = {
    "utf-8": "UTF-8",
    "utf-8-sig": "UTF-8 with a byte order mark",
    "utf-16": "UTF-16 with a byte order mark",
    "utf-16-le": "UTF-16, little end first, without a mark",
    "utf-16-be": "UTF-16, big end first, without a mark",
    "utf-32": "UTF-32",
    "cp1252": "Windows-1252 (western Europe)",
    "latin-1": "ISO 8859-1 (Latin-1)",
    "cp1250": "Windows-1250 (central Europe)",
    "mac-roman": "Mac Roman (old Macintosh)",
    "cp850": "Code page 850 (DOS)",
    "utf-8 or cp1252": "UTF-8, and Windows-1252 where it is none",
}
MIXED = "utf-8 or cp1252"
_ONE_BYTE = ("cp1252", "latin-1", "cp1250", "mac-roman", "cp850")


@dataclass(frozen=True, slots=True)
class Coding:
    """What the bytes say of the encoding: the proposed one, why, and how each would read them."""

    chosen: str
    reason: str
    confidence: float
    notes: dict[str, str]


def coding_of(path: Path) -> Coding:
    """Find a text's encoding from every byte of it.

    Parameters
    ----------
    path : Path
        The file.

    Notes
    -----
    A byte order mark decides. Else the whole file must be UTF-8; strict UTF-8 is hardly ever met by
    chance. Else it is one byte a sign, and which one cannot be proved: Windows-1252 is proposed,
    with the signs on which the others differ.

    References
    ----------
    The Unicode Standard 16.0, 3.10 (byte order mark) and table 3-7 (well-formed UTF-8).
    """
    with path.open("rb") as file:
        head = file.read(4)
    for mark, name in _MARKS:
        if head.startswith(mark):
            said = f"The file begins with the mark of {ENCODINGS[name]}."
            return Coding(name, said, 1.0, {name: ""})
    counts, zeros = _bytes_of(path)
    if sum(zeros) * 4 > sum(counts) and abs(zeros[0] - zeros[1]) * 2 > sum(zeros):
        name = "utf-16-be" if zeros[0] > zeros[1] else "utf-16-le"
        said = "Every other byte is empty, as UTF-16 has it for plain letters."
        return Coding(name, said, 0.9, {name: ""})
    fault = _first_fault(path)
    if fault is None:
        said = "Every byte of the file is sound UTF-8."
        if not any(counts[128:]):
            said = "The file holds plain ASCII only, which every encoding reads alike."
        return Coding("utf-8", said, 1.0, {"utf-8": ""})
    return _one_byte(counts, fault, _mixed(path))


def _bytes_of(path: Path) -> tuple[list[int], list[int]]:
    """Count each byte, and the empty ones in even and in odd places."""
    import numpy as np  # noqa: PLC0415  # pages name this module, and only the child counts

    counts, zeros, at = np.zeros(256, np.int64), [0, 0], 0
    with path.open("rb") as file:
        while block := file.read(BLOCK_BYTES):
            values = np.frombuffer(block, np.uint8)
            here = np.bincount(values, minlength=256)
            counts += here
            if here[0]:
                zeros[at % 2] += block[::2].count(0)
                zeros[(at + 1) % 2] += block[1::2].count(0)
            at += len(block)
    return counts.tolist(), zeros


def _first_fault(path: Path) -> int | None:
    """Give the line of the first byte that is no UTF-8."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    line = 1
    with path.open("rb") as file:
        while True:
            block = file.read(BLOCK_BYTES)
            try:
                decoder.decode(block, final=not block)
            except UnicodeDecodeError as fault:
                # What it names begins with the bytes that were kept from the block before.
                kept = len(fault.object) - len(block)
                return line + block[: max(0, fault.start - kept)].count(b"\n")
            if not block:
                return None
            line += block.count(b"\n")


def _mixed(path: Path) -> tuple[str, str] | None:
    """Give a line that is sound UTF-8 beyond ASCII and one that is none, where there are both."""
    sound = faulty = ""
    with path.open("rb") as file:
        for number, line in enumerate(iter(lambda: file.readline(BLOCK_BYTES), b""), start=1):
            if line.isascii():
                continue
            shown = f"line {number}: {line[:60].decode('utf-8', 'replace').strip()}"
            try:
                line.decode("utf-8")
            except UnicodeDecodeError:
                faulty = faulty or f"line {number}: {line[:60].decode('latin-1').strip()}"
            else:
                sound = sound or shown
            if sound and faulty:
                return sound, faulty
    return None


def _one_byte(counts: list[int], line: int, mixed: tuple[str, str] | None) -> Coding:
    high = [value for value in range(128, 256) if counts[value]]
    fits = {name: _reads(name, high) for name in _ONE_BYTE}
    possible = [name for name in _ONE_BYTE if fits[name] is not None]
    chosen = "cp1252" if "cp1252" in possible else "latin-1"
    notes = {}
    for name in possible:
        signs = fits[name] or ""
        differing = [
            f"{fits[chosen][at]!r} would be {sign!r}"  # type: ignore[index]  # why: it was found possible
            for at, sign in enumerate(signs)
            if sign != fits[chosen][at]  # type: ignore[index]  # why: the same
        ]
        same = "It reads every sign alike." if name != chosen else ""
        notes[name] = f"{_listed(differing)}." if differing else same
    seen = "".join(sign for sign in (fits[chosen] or "") if sign.isprintable())
    said = (
        f"It is not UTF-8: the first byte that cannot be stands in line {line}. Read as"
        f" {ENCODINGS[chosen]} its signs beyond ASCII are {' '.join(seen[:24]) or 'not printable'}."
        " Look in the preview whether the words are right."
    )
    if chosen == "latin-1":
        said += " Windows-1252 has no sign for some of its bytes."
    if mixed is None:
        return Coding(chosen, said, 0.7, notes)
    said = (
        f"Two files in two encodings seem to be joined here: sound UTF-8 is {mixed[0]}; none is"
        f" {mixed[1]}. Look in the preview whether the words of both are right."
    )
    return Coding(MIXED, said, 0.6, {MIXED: "Each part as it seems to be"} | notes)


def _reads(name: str, high: list[int]) -> str | None:
    try:
        return bytes(high).decode(name)
    except UnicodeDecodeError:
        return None


def _listed(parts: list[str]) -> str:
    shown = "; ".join(parts[:6])
    return f"{shown}; and {len(parts) - 6} more" if len(parts) > 6 else shown


def _as_cp1252(fault: UnicodeError) -> tuple[str, int]:
    """Read the bytes that are no UTF-8 as Windows-1252, or Latin-1 where that has no sign."""
    if not isinstance(fault, UnicodeDecodeError):
        raise fault
    bad = fault.object[fault.start : fault.end]
    try:
        return bad.decode("cp1252"), fault.end
    except UnicodeDecodeError:
        return bad.decode("latin-1"), fault.end


codecs.register_error("intake-cp1252", _as_cp1252)


def _opened(path: Path, encoding: str, errors: str = "strict") -> TextIO:
    if encoding == MIXED:
        return path.open(encoding="utf-8", errors="intake-cp1252", newline="")
    return path.open(encoding=encoding, errors=errors, newline="")


def rows_of(
    path: Path, encoding: str, delimiter: str, quote: str, *, cell_bytes: int
) -> Iterator[tuple[int, list[str]]]:
    """Cut a text into rows, each with the number of its first line.

    Raises
    ------
    Unsound
        When a byte is not of that encoding, or a quote is never closed.
    TooLarge
        When a cell is larger than `cell_bytes`.
    """
    csv.field_size_limit(cell_bytes)
    before = 0
    try:
        with _opened(path, encoding) as file:
            if quote == "none":
                reader = csv.reader(file, delimiter=delimiter, quoting=csv.QUOTE_NONE, strict=True)
            else:
                reader = csv.reader(file, delimiter=delimiter, quotechar=quote, strict=True)
            for row in reader:
                yield before + 1, row
                before = reader.line_num
    except UnicodeError as fault:
        raise Unsound(
            WHAT,
            f"After line {before} stands a byte that is not {ENCODINGS.get(encoding, encoding)}:"
            f" {fault}.",
            "Choose another encoding on its intake page.",
        ) from None
    except csv.Error as fault:
        raise _cut(fault, before, cell_bytes) from None


def _cut(fault: csv.Error, before: int, cell_bytes: int) -> Unsound | TooLarge:
    if "field limit" in str(fault):
        return TooLarge(
            WHAT,
            f"A cell after line {before} is larger than {cell_bytes // 1024} kB; mostly that is a"
            " quote that is never closed.",
            "Close the quote, or choose “no quotes” on its intake page.",
        )
    return Unsound(
        WHAT,
        f"After line {before} the quotes do not pair: {fault}.",
        "Close the quote, or choose “no quotes” on its intake page.",
    )


@dataclass(frozen=True, slots=True)
class Cut:
    """How a text falls apart with one delimiter: the usual number of cells, and how steadily."""

    delimiter: str
    width: int
    share: float
    score: float


def head_of(path: Path, encoding: str) -> str:
    """Give the first lines of a text, enough to see how it is cut."""
    with _opened(path, encoding, "replace") as file:
        return file.read(BLOCK_BYTES)


def cuts_of(head: str, quote: str, names: set[str]) -> list[Cut]:
    """Rate each delimiter on the first lines, the best first.

    Parameters
    ----------
    head : str
        The first lines.
    quote : str
        The quoting sign, or "none".
    names : set of str
        Names that the headings may have, folded to lower case.
    """
    lines = head.splitlines(keepends=True)[:HEAD_ROWS]
    found = []
    for delimiter in (",", ";", "\t", "|"):
        rows = _tried(lines, delimiter, quote)
        widths = [len(row) for row in rows if any(cell.strip() for cell in row)]
        if not widths:
            found.append(Cut(delimiter, 1, 0.0, 0.0))
            continue
        # What stands above and below a table is narrow: the usual width is that of the wide rows.
        wide = [width for width in widths if width > 1] or widths
        usual = max(sorted(set(wide), reverse=True), key=wide.count)
        share = widths.count(usual) / len(widths)
        known = max((sum(_plain(cell) in names for cell in row) for row in rows), default=0)
        score = 0.0 if usual == 1 else share + 0.02 * min(usual, 20) + known
        found.append(Cut(delimiter, usual, share, score))
    return sorted(found, key=lambda cut: -cut.score)


def _tried(lines: list[str], delimiter: str, quote: str) -> list[list[str]]:
    made: list[list[str]] = []
    try:
        if quote == "none":
            made.extend(csv.reader(lines, delimiter=delimiter, quoting=csv.QUOTE_NONE))
        else:
            made.extend(csv.reader(lines, delimiter=delimiter, quotechar=quote))
    except csv.Error:
        return made
    return made


def _plain(cell: str) -> str:
    return cell.strip().strip("\"'").casefold()


_SINGLE = re.compile(r"(?:^|[,;\t|])'[^'\n]*'(?=[,;\t|]|\r?$)", re.MULTILINE)


def quote_of(head: str) -> tuple[str, str]:
    """Give the quoting sign that the first lines use, and why."""
    if '"' not in head and len(_SINGLE.findall(head)) > 2:
        return "'", "Cells stand in single quotes, and no double quote is to be seen."
    if '"' in head:
        return '"', "Cells stand in double quotes."
    return '"', "No cell is quoted; double quotes are the rule."
