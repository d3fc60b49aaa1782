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
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.reading import reader_options
from archive.engine.roles import fields_of

LOOKED_BYTES = 4_000_000
"""Names and telephone numbers are sought in so much of a table; e-mail addresses in all of it."""
LOOKED_ROWS = 200_000
"""Rows of which the cells are looked at one by one, where the file holds something at all."""

_EMAIL = r"(?<![\w.+-])[\w.+-]{1,64}@[A-Za-z0-9-]+(?:\.[A-Za-z0-9-]+)+"
_PHONE = r"(?<![\w.+-])(?:\+\d{1,3}|\(?0\d{2,4}\)?)[ -]\d{2,6}(?:[ -]\d{2,6}){0,3}(?![\w.-])"
_EMAIL_BYTES, _PHONE_BYTES = re.compile(_EMAIL.encode()), re.compile(_PHONE.encode())
_LEAST_DIGITS, _MOST_DIGITS = 9, 15
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


_A_PHONE, _AN_ADDRESS = "a telephone number", "an e-mail address"


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
    kinds = []
    with path.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as held:
        if _has_address(held):
            kinds.append(Sought(_AN_ADDRESS, re.compile(_EMAIL)))
        opening = held[:LOOKED_BYTES]
    if any(is_number(match[0].decode()) for match in _PHONE_BYTES.finditer(opening)):
        kinds.append(Sought(_A_PHONE, re.compile(_PHONE)))
    folded = opening.decode("utf-8", "ignore").lower()
    words = set(_LETTERS.findall(folded))
    known = [
        form
        for name in people
        if words.issuperset(_LETTERS.findall(name.lower()))
        for form in forms_of(name)
        if form in folded
    ]
    if known:
        whole = "|".join(re.escape(form) for form in sorted(known, key=len, reverse=True))
        kinds.append(
            Sought("the name of somebody", re.compile(rf"(?<!\w)(?:{whole})(?!\w)", re.IGNORECASE))
        )
    return kinds


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
    if is_cut and any(kind.said == _AN_ADDRESS for kind in sought) and _AN_ADDRESS not in met_kinds:
        message = f"Somewhere beyond row {LOOKED_ROWS:,} the table holds {_AN_ADDRESS}."
        yield found("personal-data", message, table=table)
