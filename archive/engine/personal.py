"""What in a table tells of persons: their names, e-mail addresses, telephone numbers, columns.

Only to read: whether it may stay is a person's to decide. No finding repeats what it found, for
the report is kept with the data.

References
----------
RFC 5321, section 4.5.3.1.1 (a mailbox's part before the sign has at most 64 octets); ITU-T E.164
(a telephone number has at most 15 digits). The words of columns, the shape of national numbers and
the least number of digits are common practice, no source.
"""

import csv
import mmap
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from types import ModuleType
from typing import Any

from archive.engine import way
from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.reading import reader_options
from archive.engine.roles import fields_of

PIECE_BYTES = 4_000_000
"""So much of a table is read at once; a larger one is gone over by a kernel where there is one."""
MOST_DOUBTS = 1_000
"""Places in a table that were pointed at in vain: after so many it is given up, to end in time."""
LOOKED_ROWS = 200_000
"""Rows of which the cells are looked at one by one, where the file holds something at all."""

_EMAIL = r"(?<![\w.+-])[\w.+-]{1,64}@[A-Za-z0-9-]+(?:\.[A-Za-z0-9-]+)+"
_PHONE = r"(?<![\w.+-])(?:\+\d{1,3}|\(?0\d{2,4}\)?)[ -]\d{2,6}(?:[ -]\d{2,6}){0,3}(?![\w.-])"
_EMAIL_BYTES, _PHONE_BYTES = re.compile(_EMAIL.encode()), re.compile(_PHONE.encode())
_LEAST_DIGITS, _MOST_DIGITS = 9, 15
_OVERLAP = 200
"""Bytes around a place that are looked at: no name or number is longer."""
_PAIR = re.compile("([A-Za-z\x80-\U0010ffff]+)[,.]? (?=([A-Za-z\x80-\U0010ffff]+))")
_WORD = re.compile(r"[a-z]+")
_LETTERS = re.compile(r"[^\W\d_]+")
_COLUMNS = (
    "first name", "given name", "forename", "surname", "family name", "last name", "full name",
    "student name", "keeper name", "observer name", "staff name", "person", "initials", "e mail",
    "email", "phone", "telephone", "mobile", "student number", "student id", "student no",
    "staff number", "staff id", "matriculation number", "date of birth", "birthday", "postcode",
    "home address", "orcid",
)  # fmt: skip


@dataclass(frozen=True)
class Sought:
    """One kind of thing that tells of a person: how it is said, and how a cell is known by it."""

    said: str
    pattern: re.Pattern[str]

    def is_in(self, cell: str) -> bool:
        """Say whether a cell holds one."""
        for match in self.pattern.finditer(cell):
            if self.said != _A_PHONE or is_number(match[0]):
                return True
        return False


_A_PHONE, _AN_ADDRESS, _A_NAME = (
    "a telephone number",
    "an e-mail address",
    "the name of somebody",
)


def is_number(text: str) -> bool:
    """Say whether the digits of a text are as many as a telephone number has.

    Examples
    --------
    >>> is_number("+44 1632 960983"), is_number("020 10")
    (True, False)
    """
    return _LEAST_DIGITS <= sum(sign.isdigit() for sign in text) <= _MOST_DIGITS


def forms_of(name: str) -> tuple[str, ...]:
    """Give how a person's name is written, in lower case; a single word is too common to seek.

    Examples
    --------
    >>> forms_of("Ines Havelund")
    ('ines havelund', 'havelund, ines', 'havelund ines')
    >>> forms_of("Ines")
    ()
    """
    given, _, family = name.strip().lower().rpartition(" ")
    return (f"{given} {family}", f"{family}, {given}", f"{family} {given}") if given else ()


def tells_of_a_person(heading: str) -> bool:
    """Say whether a column's heading says that it holds something about persons.

    Examples
    --------
    >>> tells_of_a_person("Student_ID"), tells_of_a_person("observer"), tells_of_a_person("emailed")
    (True, False, False)
    """
    words = f" {' '.join(_WORD.findall(heading.lower()))} "
    return any(f" {one} " in words for one in _COLUMNS)


def look_through(
    path: Path, resource: Mapping[str, Any], people: Iterable[str] = ()
) -> Iterator[Finding]:
    """Find what in a table tells of persons: one finding for each kind and column.

    Parameters
    ----------
    path : Path
        The table, readable and in UTF-8.
    resource : mapping
        Of the pinned descriptor: its name, dialect and schema.
    people : iterable of str
        The names of those whom the register knows.
    """
    table = str(resource["name"])
    for field in fields_of(resource["schema"]):
        name = str(field["name"])
        if tells_of_a_person(name):
            message = f"By its heading the column “{name}” tells of persons."
            yield found("personal-column", message, table=table, field=name)
    if sought := _sought_in(path, people):
        with suppress(csv.Error, UnicodeError):
            yield from _cells(path, resource, sought)


def _sought_in(path: Path, people: Iterable[str]) -> list[Sought]:
    """Give the kinds of which the file's bytes hold one; nearly always none."""
    if not path.stat().st_size:
        return []
    forms = {form for name in people for form in forms_of(name)}
    with path.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as held:
        has_address = _has_address(held)
        fast = way.kernel("telling") if len(held) > PIECE_BYTES else None
        has_number, known = _pointed(held, forms, fast) if fast else _read(held, forms)
    kinds = [Sought(_AN_ADDRESS, re.compile(_EMAIL))] if has_address else []
    if has_number:
        kinds.append(Sought(_A_PHONE, re.compile(_PHONE)))
    if known:
        whole = "|".join(re.escape(form) for form in sorted(known, key=len, reverse=True))
        kinds.append(Sought(_A_NAME, re.compile(rf"(?<!\w)(?:{whole})(?!\w)", re.IGNORECASE)))
    return kinds


def _read(held: mmap.mmap, forms: set[str]) -> tuple[bool, set[str]]:
    """Say whether a telephone number stands in a file, and which names do: a piece at a time."""
    has_number, known = False, set[str]()
    for start in range(0, len(held), PIECE_BYTES):
        piece = held[start : start + PIECE_BYTES + _OVERLAP]
        has_number = has_number or _has_number(piece)
        folded = piece.decode("utf-8", "ignore").lower()
        words = set(_LETTERS.findall(folded))
        known |= {
            one
            for one in forms - known
            if words.issuperset(_LETTERS.findall(one)) and _stands_in(one, folded)
        }
    return has_number, known


def _pointed(held: mmap.mmap, forms: set[str], fast: ModuleType) -> tuple[bool, set[str]]:
    """Do the same where a kernel points at the places to look at: one pass over any size."""
    has_number, known, doubts = False, set[str](), 0
    pairs: dict[int, set[str]] = {}
    for form in forms:
        for before, after in _pairs_in(form):
            pairs.setdefault(fast.pair_of(before, after), set()).add(form)
    with fast.Places(held) as places:
        places.seek(pairs)
        place = places.after(0, seeks_number=True)
        while place is not None and doubts < MOST_DOUBTS:
            at, is_of_number = place
            near = held[max(0, at - _OVERLAP) : at + _OVERLAP]
            if is_of_number:
                has_number = _has_number(near)
                doubts += not has_number
                at += 1
            else:
                folded = near.decode("utf-8", "ignore").lower()
                met = {one for one in forms - known if _stands_in(one, folded)}
                known |= met
                doubts += not met
                places.seek(pair for pair, those in pairs.items() if those - known)
            place = places.after(at, seeks_number=not has_number)
    return has_number, known


def _stands_in(form: str, folded: str) -> bool:
    return form in folded and bool(re.search(rf"(?<!\w){re.escape(form)}(?!\w)", folded))


def _pairs_in(form: str) -> set[tuple[bytes, bytes]]:
    """Give the two words of a name that follow each other, the longest, as files may have them."""
    pairs = [(one[1], one[2]) for one in _PAIR.finditer(form)]
    if not pairs:
        return set()
    best = max(pairs, key=lambda pair: len(pair[0]) + len(pair[1]))
    writings: tuple[Callable[[str], str], ...] = (str.lower, str.upper, str.title)
    return {(write(best[0]).encode(), write(best[1]).encode()) for write in writings}


def _has_number(piece: bytes) -> bool:
    return any(is_number(match[0].decode()) for match in _PHONE_BYTES.finditer(piece))


def _has_address(held: mmap.mmap) -> bool:
    """Look at the signs alone: a table of a gigabyte has few of them."""
    at = held.find(b"@")
    while at >= 0:
        if _EMAIL_BYTES.search(held[max(0, at - 65) : at + 130]):
            return True
        at = held.find(b"@", at + 1)
    return False


def _cells(path: Path, resource: Mapping[str, Any], sought: list[Sought]) -> Iterator[Finding]:
    """Say of each column how many of its cells hold what is sought, and where the first stands."""
    table, met = str(resource["name"]), dict[tuple[str, str], list[int]]()
    layout = dict(resource.get("dialect", {}).get("csv", {}))
    with path.open(encoding="utf-8-sig", newline="") as stream:
        lines = csv.reader(stream, **reader_options(layout))
        heading = next(lines, [])
        for row, cells in enumerate(islice(lines, LOOKED_ROWS), start=2):
            for name, cell in zip(heading, cells, strict=False):
                for kind in sought:
                    if len(cell) > 4 and kind.is_in(cell):
                        count = met.setdefault((name, kind.said), [0, row])
                        count[0] += 1
        is_cut = next(lines, None) is not None
    for (name, said), (number, first) in sorted(met.items()):
        cells_said = "1 cell holds" if number == 1 else f"{number:,} cells hold"
        message = f"In column “{name}” {cells_said} {said}, the first in row {first:,}."
        yield found("personal-data", message, table=table, row=first, field=name)
    met_kinds = {said for _, said in met}
    for kind in sought if is_cut else ():
        if kind.said not in met_kinds:
            message = f"Somewhere beyond row {LOOKED_ROWS:,} the table holds {kind.said}."
            yield found("personal-data", message, table=table)
