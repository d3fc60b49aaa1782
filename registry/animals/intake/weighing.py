"""Hold the rows of a file against the register: what would become of each, and what is wrong."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from enum import StrEnum
from itertools import batched, groupby
from typing import Any

from django.db.models import Model, QuerySet
from django.db.models.functions import Lower

from registry.animals.intake.dates import Order, Reading, reading_of
from registry.animals.intake.parents import circled, faults_of
from registry.animals.intake.reading import Fault, Sheet
from registry.animals.intake.rows import Row, read_row
from registry.animals.models import Animal, Enclosure, Group, Mark, Taxon
from registry.people.models import Institution
from registry.saying import listed

DAY_COLUMNS = ("arrived_on", "born_on")
AT_ONCE = 500
"""Rows asked for at once."""


class Outcome(StrEnum):
    """What would become of a row, in one letter."""

    NEW = "n"
    NEW_TAXON = "t"
    NEW_ENCLOSURE = "e"
    NEW_BOTH = "b"
    SAME = "s"
    DIFFERS = "d"
    FAULTY = "x"


NEW = frozenset({Outcome.NEW, Outcome.NEW_TAXON, Outcome.NEW_ENCLOSURE, Outcome.NEW_BOTH})
SAID = {
    Outcome.NEW: "to be received",
    Outcome.NEW_TAXON: "to be received, with a new taxon",
    Outcome.NEW_ENCLOSURE: "to be received, in a new enclosure",
    Outcome.NEW_BOTH: "to be received, with a new taxon and in a new enclosure",
    Outcome.SAME: "already here, the same",
    Outcome.DIFFERS: "already here, differs",
    Outcome.FAULTY: "to be put right",
}


@dataclass(frozen=True)
class Weighed:
    """One row with what would become of it."""

    number: int
    code: str
    outcome: Outcome
    row: Row | None = None
    differs: tuple[str, ...] = ()
    held: Model | None = None
    cells: Mapping[str, str] = field(default_factory=dict)

    @property
    def taxon(self) -> str:
        """Its taxon, as the row or else its cell says."""
        return self.row.taxon if self.row else self.cells.get("taxon", "")

    @property
    def enclosure(self) -> str:
        """Its enclosure, as the row or else its cell says."""
        return self.row.enclosure if self.row else self.cells.get("enclosure", "")

    @property
    def said(self) -> str:
        """What would become of it, in words."""
        if self.differs:
            return f"{SAID[self.outcome]} in {listed(self.differs)}; it stays as it is"
        return SAID[self.outcome]


@dataclass
class Unknown:
    """A taxon or an enclosure that the register does not have, with the rows that name it."""

    name: str
    rows: list[int] = field(default_factory=list)
    label: str = ""
    sort: str = ""
    is_on_show: bool = False
    near: tuple[str, ...] = ()


@dataclass(frozen=True)
class Trial:
    """What would become of a file; nothing of it is written."""

    sheet: Sheet
    days: Mapping[str, Reading]
    rows: tuple[Weighed, ...]
    faults: tuple[Fault, ...]
    taxa: Mapping[str, Unknown]
    enclosures: Mapping[str, Unknown]
    known: "Known"

    def count(self, *outcomes: Outcome) -> int:
        """Give how many rows have one of these outcomes."""
        return sum(one.outcome in outcomes for one in self.rows)

    @property
    def new(self) -> list[Row]:
        """The rows that would be received."""
        return [one.row for one in self.rows if one.outcome in NEW and one.row is not None]

    @property
    def asked(self) -> tuple[str, ...]:
        """The columns of days of which a person must say which number is the day."""
        return tuple(name for name, reading in self.days.items() if reading.is_asked)

    @property
    def is_sound(self) -> bool:
        """Whether nothing is to be put right, and nothing is asked."""
        return not self.faults and not self.asked

    @property
    def seen(self) -> str:
        """The outcomes in short, `10n2s`, so that a change of the register since is found."""
        letters = (one.outcome.value for one in self.rows)
        return "".join(f"{len(list(run))}{letter}" for letter, run in groupby(letters))


class Known:
    """What the register holds of all that a file names; a few queries, whatever the rows."""

    def __init__(self, rows: Iterable[Row]) -> None:
        rows = list(rows)
        self.taxa = {one.scientific_name.casefold(): one for one in Taxon.objects.all()}
        self.common = {one.common_name.casefold(): one for one in self.taxa.values()}
        self.enclosures = {one.code.casefold(): one for one in Enclosure.objects.all()}
        self.owners = {one.name.casefold(): one for one in Institution.objects.all()}
        animals = Animal.objects.select_related("taxon", "enclosure", "owner")
        groups = Group.objects.select_related("taxon", "enclosure", "owner")
        named = [one.code for row in rows for one in row.parents]
        self.animals = _by_code(
            animals.prefetch_related("marks", "parentage__parent"),
            [*(row.code for row in rows if not row.is_group), *named],
        )
        self.groups = _by_code(groups, [row.code for row in rows if row.is_group])
        self.bearers: dict[str, Animal] = {}
        chips = Mark.objects.filter(sort=Mark.Sort.CHIP, ended_on=None).select_related("animal")
        for some in batched([row.chip for row in rows if row.chip], AT_ONCE):
            self.bearers |= {one.said: one.animal for one in chips.filter(said__in=some)}


def _by_code(rows: QuerySet[Any], codes: list[str]) -> dict[str, Any]:
    """Give rows by code, capitals and small letters alike."""
    found = {}
    # Both, for SQLite knows the small letters of ASCII alone.
    wanted = sorted({said for code in codes for said in (code.lower(), _ascii_lower(code))})
    for some in batched(wanted, AT_ONCE):
        for one in rows.annotate(lower=Lower("code")).filter(lower__in=some):
            found[one.code.casefold()] = one
    return found


def _ascii_lower(text: str) -> str:
    return "".join(sign.lower() if sign.isascii() else sign for sign in text)


def weigh(sheet: Sheet, orders: Mapping[str, Order] | None = None) -> Trial:
    """Say what would become of each row of a file; the register is read, and not written."""
    days = {
        name: reading_of(
            ((line.row, line.cells[name]) for line in sheet.lines if name in line.cells),
            (orders or {}).get(name),
        )
        for name in DAY_COLUMNS
    }
    faults = list(sheet.faults)
    rows: dict[int, Row] = {}
    for line in sheet.lines:
        row, amiss = read_row(line, days)
        faults += amiss
        if row is not None:
            rows[line.row] = row
    known = Known(rows.values())
    listed: dict[str, Row | None] = {
        line.cells.get("code", "").casefold(): rows.get(line.row) for line in sheet.lines
    }
    scale = _Scale(known, faults, rows.values(), listed)
    weighed = {number: scale.weigh(row) for number, row in rows.items()}
    beyond = {fault.row for fault in sheet.faults}
    told = tuple(
        weighed[line.row]
        if line.row in weighed and line.row not in beyond
        else Weighed(line.row, line.cells.get("code", ""), Outcome.FAULTY, cells=line.cells)
        for line in sheet.lines
    )
    faults.sort(key=lambda fault: fault.row or 0)
    return Trial(sheet, days, told, tuple(faults), scale.taxa, scale.enclosures, known)


class _Scale:
    """Weighs one row after the other, and remembers what earlier rows claimed."""

    def __init__(
        self,
        known: Known,
        faults: list[Fault],
        rows: Collection[Row],
        listed: Mapping[str, Row | None],
    ) -> None:
        self.known, self.faults = known, faults
        self.listed, self.circled = listed, circled(rows)
        self.sorts: dict[str, str] = {}
        self.labels: dict[str, str] = {}
        self.places: dict[str, str] = {}
        self.on_show: set[str] = set()
        for row in rows:  # one row of a new taxon or enclosure may speak for all
            if row.taxon_class:
                self.sorts.setdefault(row.taxon.casefold(), row.taxon_class)
            if row.common_name:
                self.labels.setdefault(row.taxon.casefold(), row.common_name)
            if row.enclosure_name:
                self.places.setdefault(row.enclosure.casefold(), row.enclosure_name)
            if row.is_on_show:
                self.on_show.add(row.enclosure.casefold())
        self.taxa: dict[str, Unknown] = {}
        self.enclosures: dict[str, Unknown] = {}
        self.codes: dict[tuple[bool, str], int] = {}
        self.chips: dict[str, int] = {}

    def weigh(self, row: Row) -> Weighed:
        """Give what would become of a row."""
        before = len(self.faults)
        self._once(row)
        held = (self.known.groups if row.is_group else self.known.animals).get(row.code.casefold())
        owner = self._owner(row)
        if held is not None:
            differs = tuple(_differences(row, held, owner))
            outcome = Outcome.DIFFERS if differs else Outcome.SAME
            faulty = len(self.faults) > before
            return Weighed(
                row.number,
                row.code,
                Outcome.FAULTY if faulty else outcome,
                row,
                () if faulty else differs,
                held,
            )
        new_taxon, new_enclosure = self._taxon(row), self._enclosure(row)
        bearer = self.known.bearers.get(row.chip) if row.chip else None
        if bearer is not None:
            self._wrong("chip", row, "chip", row.chip, f"{bearer.code} bears it. Read it again.")
        is_circled = row.number in self.circled
        for parent, say in faults_of(row, self.known.animals, self.listed, is_circled=is_circled):
            self._wrong("parent", row, parent.role, parent.code, say)
        if len(self.faults) > before:
            return Weighed(row.number, row.code, Outcome.FAULTY, row)
        outcome = {
            (False, False): Outcome.NEW,
            (True, False): Outcome.NEW_TAXON,
            (False, True): Outcome.NEW_ENCLOSURE,
            (True, True): Outcome.NEW_BOTH,
        }[new_taxon, new_enclosure]
        return Weighed(row.number, row.code, outcome, row)

    def _wrong(self, kind: str, row: Row, column: str, value: str, say: str) -> None:
        self.faults.append(Fault(kind, row.number, column, value, say))

    def _once(self, row: Row) -> None:
        key = (row.is_group, row.code.casefold())
        if key in self.codes:
            say = f"Row {self.codes[key]} has it too. Give each its own, or take one row away."
            self._wrong("twice", row, "code", row.code, say)
        self.codes.setdefault(key, row.number)
        if row.chip:
            if row.chip in self.chips:
                say = f"Row {self.chips[row.chip]} has it too. Read both again."
                self._wrong("twice", row, "chip", row.chip, say)
            self.chips.setdefault(row.chip, row.number)

    def _owner(self, row: Row) -> Institution | None:
        if not row.owner:
            return None
        found = self.known.owners.get(row.owner.casefold())
        if found is None:
            say = "Write it as the register names it, or have an administrator add it first."
            self._wrong("owner", row, "owner", row.owner, say)
        return found

    def _taxon(self, row: Row) -> bool:
        """Say whether a row needs a taxon to be made; one that cannot be made is a fault."""
        key = row.taxon.casefold()
        if key in self.known.taxa:
            return False
        sort, label = self.sorts.get(key, ""), self.labels.get(key, "")
        if not sort or not label:
            self._wrong("taxon", row, "taxon", row.taxon, self._taxon_said(row.taxon))
            return False
        if key not in self.taxa:
            near = self._near(row.taxon)
            self.taxa[key] = Unknown(row.taxon, [], label, sort, near=near)
        self.taxa[key].rows.append(row.number)
        return True

    def _near(self, said: str) -> tuple[str, ...]:
        near = get_close_matches(said.casefold(), self.known.taxa, 2, 0.8)
        return tuple(self.known.taxa[one].scientific_name for one in near)

    def _taxon_said(self, said: str) -> str:
        common = self.known.common.get(said.casefold())
        if common is not None:
            return f"That is a common name. Write {common.scientific_name}."
        if near := self._near(said):
            return f"Did you mean {' or '.join(near)}?"
        return (
            "To have it made, fill in taxon_class and common_name; or add it to the register first."
        )

    def _enclosure(self, row: Row) -> bool:
        key = row.enclosure.casefold()
        if key in self.known.enclosures:
            opened_on = self.known.enclosures[key].opened_on
            if opened_on is not None and row.arrived_on < opened_on:
                say = f"It was opened on {opened_on.isoformat()}. Check the day, or the enclosure."
                self._wrong("enclosure", row, "enclosure", row.enclosure, say)
            return False
        if key not in self.enclosures:
            near = get_close_matches(key, self.known.enclosures, 2, 0.7)
            codes = tuple(self.known.enclosures[one].code for one in near)
            label = self.places.get(key, row.enclosure)
            self.enclosures[key] = Unknown(
                row.enclosure, [], label, is_on_show=key in self.on_show, near=codes
            )
        self.enclosures[key].rows.append(row.number)
        return True


def _differences(row: Row, held: Any, owner: Institution | None) -> Iterable[str]:
    """Yield the columns in which a row differs from what the register holds of it."""
    shown: dict[str, tuple[Any, Any]] = {
        "taxon": (row.taxon.casefold(), held.taxon.scientific_name.casefold()),
        "enclosure": (
            row.enclosure.casefold(),
            held.enclosure.code.casefold() if held.enclosure else "",
        ),
        "arrived_on": (row.arrived_on, held.arrived_on),
        "name": (row.name, held.name),
        "life_stage": (row.life_stage, held.life_stage),
        "owner": (owner, held.owner),
    }
    if row.is_group:
        shown["sort"] = (row.sort, held.sort)
        for name, number in zip(("males", "females", "unknown"), row.counts, strict=True):
            shown[name] = (number, getattr(held, name))
    else:
        marks = {one.said for one in held.marks.all() if one.ended_on is None}
        shown |= {
            "sex": (row.sex, held.sex),
            "born_on": (row.born_on, held.born_on),
            "origin": (row.origin, held.origin),
            "chip": (True, row.chip in marks),
        }
        parents = {one.role: one for one in held.parentage.all() if one.replaced_at is None}
        for one in row.parents:
            known = parents.get(one.role)
            code = known.parent.code if known is not None and known.parent is not None else ""
            shown[one.role] = (one.code.casefold(), code.casefold())
    for name, (said, is_so) in shown.items():
        if name in row.given and said != is_so:
            yield name
