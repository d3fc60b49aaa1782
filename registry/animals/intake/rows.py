"""Turn one row of text into what it means, or say cell by cell why it cannot be."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db import models

from registry.animals.arriving import check_days
from registry.animals.chips import Chip, recognise
from registry.animals.intake.columns import EVIDENCE, GROUP_NUMBERS, NEEDED
from registry.animals.intake.dates import Order, Reading, read_day
from registry.animals.intake.reading import Fault, Line
from registry.animals.models import (
    Animal,
    Enclosure,
    Group,
    LifeStage,
    Mark,
    Parentage,
    Sex,
    Taxon,
    TaxonClass,
)
from registry.errors import Unsound

MOST_IN_GROUP = 10_000_000
_YEARS = range(1850, 2201)
_YES_OR_NO = (("yes", "y"), ("no", "n"))
_SHORT = {"f": "female", "m": "male", "u": "unknown"}
_LENGTHS: tuple[tuple[str, type[models.Model], type[models.Model], str], ...] = (
    ("code", Animal, Group, "code"),
    ("name", Animal, Group, "name"),
    ("origin", Animal, Animal, "origin"),
    ("taxon", Taxon, Taxon, "scientific_name"),
    ("common_name", Taxon, Taxon, "common_name"),
    ("enclosure", Enclosure, Enclosure, "code"),
    ("enclosure_name", Enclosure, Enclosure, "name"),
)


@dataclass(frozen=True)
class Parent:
    """A parent as a row names it: its role, its code, and how one knows."""

    role: str
    code: str
    evidence: str


@dataclass(frozen=True)
class Row:
    """One animal or counted group, as its row says; `given` names the columns that were filled."""

    number: int
    is_group: bool
    code: str
    name: str
    taxon: str
    enclosure: str
    owner: str
    sex: str
    life_stage: str
    origin: str
    arrived_on: date
    born_on: date | None
    chip: str
    chip_sort: str
    sort: str
    counts: tuple[int, int, int]
    taxon_class: str
    common_name: str
    enclosure_name: str
    is_on_show: bool
    parents: tuple[Parent, ...] = ()
    given: frozenset[str] = field(default_factory=frozenset)

    @property
    def animals(self) -> int:
        """How many animals it stands for."""
        return sum(self.counts) if self.is_group else 1


@dataclass
class _Reader:
    """Reads one row, and gathers what is wrong with it."""

    line: Line
    days: Mapping[str, Reading]
    faults: list[Fault] = field(default_factory=list)

    def text(self, column: str) -> str:
        return self.line.cells.get(column, "")

    def wrong(self, kind: str, column: str, say: str) -> None:
        self.faults.append(Fault(kind, self.line.row, column, self.text(column)[:80], say))

    def word(self, column: str, choices: Iterable[Any], default: str) -> str:
        said = self.text(column)
        if not said:
            return default
        known = {}
        for value, label in choices:
            known[str(value).casefold()] = known[str(label).casefold()] = str(value)
        key = said.casefold().replace("_", " ")
        found = known.get(key) or known.get(key.replace(" ", "_"))
        if found is None and column == "sex":
            found = _SHORT.get(key)
        if found is None:
            offered = ", ".join(str(value) for value, _ in choices)
            self.wrong("word", column, f"Write one of: {offered}.")
        return found or default

    def day(self, column: str) -> date | None:
        said = self.text(column)
        if not said:
            return None
        reading = self.days[column]
        if reading.is_asked:
            return None
        found = read_day(said, reading.order)
        if found is None:
            self.wrong("day", column, _no_day(said, reading))
        elif found.year not in _YEARS:
            say = f"The year must lie from {_YEARS[0]} to {_YEARS[-1]}."
            self.wrong("day", column, say)
            return None
        return found

    def number(self, column: str) -> int:
        said = self.text(column)
        if not said:
            return 0
        if not said.isascii() or not said.isdecimal() or int(said[:9]) != int(said):
            self.wrong("number", column, "Write a whole number in digits, such as 12.")
            return 0
        if int(said) > MOST_IN_GROUP:
            self.wrong("number", column, f"It may be {MOST_IN_GROUP:,} at most.")
            return 0
        return int(said)

    def chip(self) -> tuple[str, str]:
        said = self.text("chip")
        if not said:
            return "", ""
        if "E+" in said.upper():
            say = "A spreadsheet has rounded it: format the column as text and type it anew."
            self.wrong("chip", "chip", say)
            return "", ""
        try:
            found = recognise(said)
        except Unsound as refused:
            self.wrong("chip", "chip", f"{refused.why} {refused.next}")
            return "", ""
        return str(found), Mark.Sort.CHIP if isinstance(found, Chip) else Mark.Sort.OTHER_CODE


def _no_day(said: str, reading: Reading) -> str:
    if said.isdecimal():
        return "A spreadsheet's own number of a day: format the column as a date, or type it anew."
    if reading.shown_by is not None:
        order = "day, month, year" if reading.order is Order.DAY_FIRST else "month, day, year"
        row, shown = reading.shown_by
        return f"Read as {order}, for row {row} says {shown}. Write it such as 2026-11-24."
    return "Write it such as 2026-11-24; the year with four digits."


def read_row(line: Line, days: Mapping[str, Reading]) -> tuple[Row | None, list[Fault]]:
    """Give what a row means, or nothing with every fault of it."""
    reader = _Reader(line, days)
    for column in NEEDED:
        if not reader.text(column):
            reader.wrong("blank", column, "Fill it in; every row needs it.")
    is_group = bool(reader.text("sort")) or any(reader.text(one) for one in GROUP_NUMBERS)
    for column, of_animal, of_group, name in _LENGTHS:
        longest: Any = (of_group if is_group else of_animal)._meta.get_field(name)
        if len(reader.text(column)) > longest.max_length:
            reader.wrong("long", column, f"Shorten it to {longest.max_length} letters at most.")
    row = _row(reader, is_group=is_group)
    return (None if reader.faults else row), reader.faults


def _row(reader: _Reader, *, is_group: bool) -> Row | None:
    arrived_on, born_on = reader.day("arrived_on"), reader.day("born_on")
    if arrived_on is not None:
        _check_days(reader, arrived_on, None if is_group else born_on)
    chip, chip_sort = reader.chip()
    counts = (reader.number("males"), reader.number("females"), reader.number("unknown"))
    sort = reader.word("sort", Group.Sort.choices, "")
    if is_group:
        _check_group(reader, counts)
    code = " ".join(reader.text("code").split())
    on_show = reader.word("enclosure_on_show", _YES_OR_NO, "no")
    row = {
        "sex": reader.word("sex", Sex.choices, Sex.UNKNOWN),
        "life_stage": reader.word("life_stage", LifeStage.choices, LifeStage.ADULT),
        "taxon_class": reader.word("taxon_class", TaxonClass.choices, ""),
    }
    parents = tuple(
        Parent(role, " ".join(reader.text(role).split()), evidence)
        for role in Parentage.Role.values
        if (evidence := reader.word(f"{role}_evidence", EVIDENCE, Parentage.Evidence.ASSUMED))
        and reader.text(role)
    )
    if arrived_on is None:
        return None
    return Row(
        number=reader.line.row,
        is_group=is_group,
        code=code,
        name=reader.text("name") or (code if is_group else ""),
        taxon=" ".join(reader.text("taxon").split()),
        enclosure=reader.text("enclosure"),
        owner=reader.text("owner"),
        origin=reader.text("origin"),
        arrived_on=arrived_on,
        born_on=born_on,
        chip=chip,
        chip_sort=chip_sort,
        sort=sort,
        counts=counts,
        common_name=reader.text("common_name"),
        enclosure_name=reader.text("enclosure_name"),
        is_on_show=on_show == "yes",
        parents=parents,
        given=frozenset(reader.line.cells),
        **row,
    )


def _check_days(reader: _Reader, arrived_on: date, born_on: date | None) -> None:
    try:
        check_days(arrived_on, born_on, what="")
    except Unsound as refused:
        reader.wrong("day", "arrived_on", f"{refused.why} {refused.next}")


def _check_group(reader: _Reader, counts: tuple[int, int, int]) -> None:
    if not reader.text("sort"):
        offered = ", ".join(Group.Sort.values)
        reader.wrong("blank", "sort", f"It has numbers, so it is a group: write {offered}.")
    if not sum(counts) and not any(fault.column in GROUP_NUMBERS for fault in reader.faults):
        say = "Nobody is in it: give males, females or unknown."
        reader.wrong("number", "unknown", say)
    for column in ("sex", "born_on", "chip", "origin"):
        if reader.text(column):
            say = "A group has none: leave it blank, or give each animal a row of its own."
            reader.wrong("group", column, say)
