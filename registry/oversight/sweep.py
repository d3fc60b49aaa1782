"""Go through every use on record, and find those outside a limit that no breach tells of.

A use is judged when it is entered. What happens afterwards (an approval whose days were cut, a row
that came past the deeds) is found here: the whole register in one pass, some projects at a time. It
looks at days, weekday, place, taxon, stage, procedure, severity and numbers; people, restrictions
and rest are judged at the entry alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import batched, groupby
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone

from registry.approvals.models import Approval, Limit, Need, PermissionKind
from registry.approvals.standing import facts_of
from registry.oversight.counting import EnrolmentRow, Kind, lot_of
from registry.oversight.facts import approval_facts, subject_at
from registry.oversight.limits import (
    ApprovalFacts,
    Code,
    EventFacts,
    LimitFacts,
    NeededFacts,
    Span,
    Thing,
    lines_of,
    uncovered,
)
from registry.oversight.models import Breach, Enrolment, Use
from registry.oversight.used import enrolment_rows
from registry.projects.models import Procedure, Project

CHUNK = 5_000
PROJECTS_AT_ONCE = 200
_ALWAYS = (Span(None, None),)
_EVERY_DAY = frozenset(range(1, 8))

_COLUMNS = (
    "pk",
    "project_id",
    "animal_id",
    "group_id",
    "number",
    "enrolment_id",
    "procedure_id",
    "place_id",
    "happened_at",
    "severity",
    "animal__taxon_id",
    "animal__life_stage",
    "group__taxon_id",
    "group__life_stage",
)


@dataclass(frozen=True, slots=True)
class Untold:
    """A use outside a limit of which no breach tells."""

    use: int
    project: int
    code: Code
    said: str


@dataclass
class Swept:
    """How far a sweep came."""

    uses: int = 0
    projects: int = 0
    outside: int = 0


def sweep(swept: Swept | None = None) -> Iterator[Untold]:
    """Give every use outside a limit that no breach tells of, project by project.

    Uses stream from the database, and of what they use up of limits only approvals are kept that
    cover further projects: time grows with the uses, memory with the largest project.
    """
    swept = swept if swept is not None else Swept()
    told = set(Breach.objects.filter(use__isnull=False).values_list("use_id", "code"))
    procedures = {one.pk: Thing(one.pk, str(one)) for one in Procedure.objects.all()}
    numbers = Project.objects.order_by("pk").values_list("pk", flat=True)
    lines: dict[int, _Line] = {}
    for some in batched(numbers.iterator(CHUNK), PROJECTS_AT_ONCE):
        permits = _permits(some)
        enrolled = _enrolled(some)
        rows = (
            Use.objects.standing()
            .filter(project__in=some)
            .order_by("project_id", "happened_at", "pk")
            .values_list(*_COLUMNS)
            .iterator(CHUNK)
        )
        for project, uses in groupby(rows, key=lambda row: row[1]):
            swept.projects += 1
            judge = _Judge(permits[project], lines, procedures)
            judge.enrol(enrolled.get(project, ()))
            for row in uses:
                swept.uses += 1
                for code, said in judge(row):
                    swept.outside += 1
                    if (row[0], code) not in told:
                        yield Untold(row[0], project, code, said)
            judge.forget()


# ------------------------------------------------------------------------------- what is permitted


@dataclass
class _Approved:
    """One approval, with what was found out about uses of one kind under it."""

    facts: ApprovalFacts
    is_shared: bool
    fits: dict[tuple[Any, ...], bool] = field(default_factory=dict)
    lines: dict[tuple[Any, ...], list[LimitFacts]] = field(default_factory=dict)

    def is_live_on(self, day: date) -> bool:
        """Say whether it is in force on a day, its weekdays included."""
        return day.isoweekday() in self.facts.weekdays and self.facts.is_live_on(day)

    def look(self, key: tuple[Any, ...], event: EventFacts) -> None:
        """Hold what does not depend on the day against its limits, once for all uses like it."""
        free = replace(self.facts, live=_ALWAYS, weekdays=_EVERY_DAY)
        self.fits[key] = not uncovered(event, [NeededFacts("", (free,))], {})
        self.lines[key] = lines_of(event, self.facts)


type _Permits = list[tuple[NeededFacts, list[_Approved]]]


def _permits(projects: Sequence[int]) -> dict[int, _Permits]:
    """Give what each of some projects needs of bodies, and what it holds; some eight queries."""
    needs: dict[int, dict[int, bool]] = {}
    for project, kind, is_needed in Need.objects.filter(project__in=projects).values_list(
        "project_id", "permission_id", "is_needed"
    ):
        needs.setdefault(project, {})[kind] = is_needed
    held = _held(projects)
    kinds = [
        one
        for one in PermissionKind.objects.order_by("pk")
        if one.satisfied_by == PermissionKind.SatisfiedBy.APPROVAL
    ]
    return {
        project: [
            (
                NeededFacts(
                    kind.name,
                    tuple(one.facts for one in held.get((project, kind.pk), ())),
                    is_said=kind.pk in said,
                ),
                held.get((project, kind.pk), []),
            )
            for said in [needs.get(project, {})]
            for kind in kinds
            if said.get(kind.pk, kind.is_always_asked)
        ]
        for project in projects
    }


def _held(projects: Sequence[int]) -> dict[tuple[int, int], list[_Approved]]:
    """Give the approvals that were granted to each project, by kind of permission."""
    rows = (
        Approval.objects.filter(projects__in=projects)
        .distinct()
        .order_by("pk")
        .prefetch_related(
            "pauses",
            "places",
            "people",
            "projects",
            Prefetch("limits", Limit.objects.filter(is_dropped=False)),
        )
    )
    found: dict[tuple[int, int], list[_Approved]] = {}
    for one in rows:
        facts = facts_of(one)
        if facts.granted_on is None:
            continue
        covered = [project.pk for project in one.projects.all()]
        made = _Approved(approval_facts(one, facts, set()), len(covered) > 1)
        for project in covered:
            found.setdefault((project, one.permission_id), []).append(made)
    return found


def _enrolled(projects: Sequence[int]) -> dict[int, list[EnrolmentRow]]:
    found: dict[int, list[EnrolmentRow]] = {}
    for row in enrolment_rows(Enrolment.objects.filter(project__in=projects)):
        found.setdefault(row.project, []).append(row)
    return found


# -------------------------------------------------------------------------------- what is used up


type _One = tuple[int | None, int | None]
"""The number of an animal, or of a group: a pair is hashed in a third of a Subject's time."""


@dataclass
class _Line:
    """What is used up of one limit line as the sweep goes on."""

    animals: dict[str, int] = field(default_factory=dict)
    contacts: dict[_One, int] = field(default_factory=dict)
    taken: int = 0

    def take(self, lot: str, number: int) -> None:
        """Let a lot take its places; those it has it does not take again."""
        before = self.animals.get(lot, 0)
        if number > before:
            self.animals[lot] = number
            self.taken += number - before

    def touch(self, of_one: _One) -> int:
        """Count one use of an animal or a group, and give how many that makes."""
        times = self.contacts[of_one] = self.contacts.get(of_one, 0) + 1
        return times


class _Judge:
    """Holds the uses of one project, in order of time, against its limits."""

    def __init__(
        self, permits: _Permits, lines: dict[int, _Line], procedures: dict[int, Thing]
    ) -> None:
        self._permits = permits
        self._needed = [needed for needed, _held in permits]
        self._lines = lines
        self._procedures = procedures
        self._zone = timezone.get_current_timezone()
        self._live: dict[date, list[list[_Approved]]] = {}
        self._said: dict[tuple[Any, ...], list[tuple[Code, str]]] = {}

    def enrol(self, rows: Sequence[EnrolmentRow]) -> None:
        """Let enrolled animals take their places first, as they do when they enter."""
        limits = [line for one in self._needed for held in one.approvals for line in held.limits]
        for row in rows:
            lot = lot_of(row.subject, row.number, row.project)
            for line in limits:
                if line.procedure in row.procedures and line.kind.holds(row.kind):
                    self._lines.setdefault(line.number, _Line()).take(lot, row.animals)

    def forget(self) -> None:
        """Let go of what no other project counts on."""
        for _needed, held in self._permits:
            for one in held:
                if not one.is_shared:
                    for line in one.facts.limits:
                        self._lines.pop(line.number, None)

    def __call__(self, row: tuple[Any, ...]) -> list[tuple[Code, str]]:
        """Give what one use passed."""
        stage = row[11] if row[2] else row[13]
        key = (row[10] or row[12], stage, row[6], row[7], row[9])
        day = row[8].astimezone(self._zone).date()
        of_one = (row[2], row[3])
        lot = lot_of(subject_at(*of_one), row[5], row[1])
        is_covered = bool(self._permits)
        found: list[tuple[Code, str]] = []
        for live in self._live_on(day):
            is_fit, lines = False, []
            for one in live:
                if key not in one.fits:
                    one.look(key, self._event(day, key, row))
                is_fit |= one.fits[key]
                lines += one.lines[key]
            is_covered &= is_fit
            found += self._numbers(lines, of_one, lot, row[4])
        if not is_covered:
            found += self._why(day, key, row)
        return found

    def _numbers(
        self, lines: list[LimitFacts], of_one: _One, lot: str, number: int
    ) -> list[tuple[Code, str]]:
        """Count a use under its lines; of several, one with room is enough, so one alone binds."""
        found: list[tuple[Code, str]] = []
        for line in lines:
            one = self._lines.get(line.number) or self._lines.setdefault(line.number, _Line())
            before = one.taken
            one.take(lot, number)
            times, most = one.touch(of_one), line.max_contacts_each
            if len(lines) > 1:
                continue
            if one.taken > before and one.taken > line.max_animals:
                said = f"{one.taken} animals where {line.max_animals} are allowed"
                found.append((Code.OVER_ANIMALS, said))
            if most is not None and times > most:
                found.append((Code.OVER_CONTACTS, f"{times} times where {most} are allowed"))
        return found

    def _live_on(self, day: date) -> list[list[_Approved]]:
        if day not in self._live:
            self._live[day] = [
                [one for one in held if one.is_live_on(day)] for _needed, held in self._permits
            ]
        return self._live[day]

    def _why(self, day: date, key: tuple[Any, ...], row: tuple[Any, ...]) -> list[tuple[Code, str]]:
        """Say in the words of the limits what is not covered, once for all uses like it."""
        if (day, *key) not in self._said:
            shortfalls = uncovered(self._event(day, key, row), self._needed, {})
            self._said[day, *key] = [(one.code, one.said) for one in shortfalls]
        return self._said[day, *key]

    def _event(self, day: date, key: tuple[Any, ...], row: tuple[Any, ...]) -> EventFacts:
        return EventFacts(
            day=day,
            subject=subject_at(row[2], row[3]),
            kind=Kind(key[0], key[1]),
            procedure=self._procedures[key[2]],
            place=Thing(key[3], "the place") if key[3] else None,
            severity=key[4],
            animals=0,  # numbers are counted from use to use
            contacts=0,
            project=row[1],
        )
