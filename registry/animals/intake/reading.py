"""Read a file of animals: its encoding, what stands between its cells, its rows as text."""

import codecs
import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.utils.translation import gettext as _

from registry.animals.intake.columns import NEEDED, named
from registry.animals.intake.limits import MOST_LETTERS, MOST_ROWS
from registry.errors import Unsound
from registry.guarded.cells import bare_cell

WHAT = "The file was not read."
BOOK = "workbook"
"""The encoding of what came as a workbook, and was made plain text of."""
ENCODINGS = {
    "utf-8": "UTF-8",
    "utf-8-sig": "UTF-8 with a byte order mark",
    "cp1252": "windows-1252",
    BOOK: "a workbook: its first sheet that has rows and is not hidden",
}
SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}
_CHUNK = 1 << 16
_OTHER_KINDS = {
    b"%PDF": "It is a PDF, not a text file.",
    codecs.BOM_UTF16_LE: "It is in UTF-16, which few programs mean to write.",
    codecs.BOM_UTF16_BE: "It is in UTF-16, which few programs mean to write.",
}
_SAVE_AS_CSV = "Save the sheet as CSV, in UTF-8 where you are asked, and send that file."


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing to put right: where it stands, what is wrong, and what to do."""

    kind: str
    row: int | None
    column: str
    value: str
    say: str


@dataclass(frozen=True, slots=True)
class Line:
    """One row: its number in the file, where the header is row 1, and its cells by column."""

    row: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Sheet:
    """A file as it was read."""

    file_name: str
    sha256: str
    encoding: str
    separator: str
    lines: tuple[Line, ...]
    faults: tuple[Fault, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def encoding_said(self) -> str:
        """The encoding by the name that people know."""
        return ENCODINGS[self.encoding]

    @property
    def separator_said(self) -> str:
        """What stands between the cells, in a word."""
        return SEPARATORS[self.separator]


def _unsound(why: str, next: str = _SAVE_AS_CSV) -> Unsound:
    return Unsound(WHAT, why, next, fields={"file": f"{why} {next}"})


def _encoding_of(path: Path) -> str:
    """Give the encoding: UTF-8 where every byte agrees, else windows-1252."""
    with path.open("rb") as opened:
        head = opened.read(_CHUNK)
    if not head.strip():
        raise _unsound("It is empty.", "Look whether it is the right file.")
    for begins, why in _OTHER_KINDS.items():
        if head.startswith(begins):
            raise _unsound(why)
    wanted = "utf-8-sig" if head.startswith(codecs.BOM_UTF8) else "utf-8"
    for encoding in (wanted, "cp1252"):
        if _holds(path, encoding):
            return encoding
    raise _unsound("Its letters are neither in UTF-8 nor in windows-1252.")


def _holds(path: Path, encoding: str) -> bool:
    decoder = codecs.getincrementaldecoder(encoding)()
    with path.open("rb") as opened:
        try:
            while chunk := opened.read(_CHUNK):
                if "\0" in decoder.decode(chunk):
                    raise _unsound("There is a NUL character in it, which no text has.")
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return False
    return True


def _separator_of(path: Path, encoding: str) -> str:
    """Give the separator that makes the most known columns of the header row."""
    with path.open(encoding=encoding, newline="") as opened:
        first = opened.readline(_CHUNK)

    def known(separator: str) -> int:
        row = next(csv.reader([first], delimiter=separator), [])
        return sum(bool(named(label)) for label in row)

    best = max(SEPARATORS, key=known)
    if not known(best):
        raise _unsound(
            "Its first row names no column that is known here.",
            "The first row must hold the names of the columns, such as code, taxon, enclosure and"
            " arrived_on. Take the blank template and paste your rows below it.",
        )
    return best


def _header(labels: list[str]) -> tuple[list[str], list[str]]:
    """Give the column behind each label, and the labels that mean none."""
    names = [named(label) for label in labels]
    twice = sorted({name for name in names if name and names.count(name) > 1})
    if twice:
        raise _unsound(
            _("Two columns mean the same: %(twice)s.") % {"twice": ", ".join(twice)},
            "Take one of the two away.",
        )
    missing = [name for name in NEEDED if name not in names]
    if missing:
        raise _unsound(
            _("A column is missing: %(missing)s.") % {"missing": ", ".join(missing)},
            "Add it to the first row, or take the blank template.",
        )
    unread = [label for label, name in zip(labels, names, strict=True) if label and not name]
    return names, unread


def read(path: Path, *, file_name: str, sha256: str, is_book: bool = False) -> Sheet:
    """Read a file, row by row; `is_book` says that it is the plain text of a workbook.

    Raises
    ------
    Unsound
        Where it is no text, has no header row or is too long: what stands in its rows is told by
        faults instead.
    """
    encoding = _encoding_of(path)
    separator = _separator_of(path, encoding)
    lines: list[Line] = []
    faults: list[Fault] = []
    names: list[str] = []
    unread: list[str] = []
    for row, cells in _records(path, encoding, separator):
        if row == 1:
            names, unread = _header([cell.strip() for cell in cells])
            continue
        if not any(cell.strip() for cell in cells):
            continue
        if len(lines) == MOST_ROWS:
            raise _unsound(
                _("It has more than %(most_rows)s rows.") % {"most_rows": f"{MOST_ROWS:,}"},
                "Send it in several parts.",
            )
        lines.append(Line(row, _cells(row, names, cells, faults)))
    if not lines:
        raise _unsound(
            "There is no row below the names of the columns.", "Add a row for each animal or group."
        )
    encoding = BOOK if is_book else encoding
    return Sheet(file_name, sha256, encoding, separator, tuple(lines), tuple(faults), tuple(unread))


def _records(path: Path, encoding: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    row = 0
    with path.open(encoding=encoding, newline="") as opened:
        try:
            for cells in csv.reader(opened, delimiter=separator, strict=True):
                row += 1
                yield row, cells
        except csv.Error as problem:
            raise _unsound(
                _("Row %(row)s could not be read, or one just below it: %(problem)s.")
                % {"row": row + 1, "problem": problem},
                "Look for a quotation mark that is not closed, or that stands inside a cell.",
            ) from problem


def _cells(row: int, names: list[str], cells: list[str], faults: list[Fault]) -> dict[str, str]:
    """Give the cells by column; what stands outside every column, or is too long, is told."""
    held = {}
    for at, cell in enumerate(cells):
        text = bare_cell(cell.strip())
        if at >= len(names):
            if text:
                say = "Put it under a column, or quote a cell that holds the separator."
                faults.append(Fault("beyond", row, "", text[:80], say))
            continue
        if len(text) > MOST_LETTERS:
            say = f"Shorten it to {MOST_LETTERS:,} letters at most."
            faults.append(Fault("long", row, names[at], text[:80], say))
            text = ""
        if names[at] and text:
            held[names[at]] = text
    return held
