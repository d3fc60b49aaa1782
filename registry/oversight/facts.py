"""Read rows into the plain facts that limits and counting work on."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Group
from registry.approvals import live
from registry.approvals.models import Approval, PermissionKind
from registry.approvals.standing import NeedsOf
from registry.moments import begin
from registry.oversight.counting import (
    WINDOWS_D,
    Kind,
    Subject,
    UseRow,
    loads,
)
from registry.oversight.limits import (
    ApprovalFacts,
    EventFacts,
    LimitFacts,
    NeededFacts,
    Span,
    Thing,
)
from registry.oversight.models import TrainingRule, Use
from registry.oversight.papers import papers_of, trainings_asked
from registry.people.models import Induction, Person
from registry.projects.models import Halt, Plan, Procedure, Project


def subject_of(row: Animal | Group) -> Subject:
    """Give an animal or a group as counting names it."""
    return Subject("animal" if isinstance(row, Animal) else "group", row.pk)


def kind_of_subject(row: Animal | Group) -> Kind:
    """Give the taxon and the stage in which an animal or a group is held now."""
    return Kind(row.taxon_id, row.life_stage)


def thing(row: Procedure | Enclosure | Person) -> Thing:
    """Give a row with the name that sentences give it."""
    return Thing(row.pk, str(row))


# ------------------------------------------------------------------------------ what is permitted


def needed_by(
    project: Project, day: date, people: Iterable[Person] = ()
) -> tuple[NeededFacts, ...]:
    """Give every permission that a project needs and what it holds of it, for an event on a day.

    `people` are those who do the work: where inductions are needed, each of them needs one too,
    and the trainings that the house asks for.
    """
    return Permits(project).on(day, people)


class Permits:
    """What a project needs and holds, read once for any number of days."""

    def __init__(self, project: Project) -> None:
        self._read = NeedsOf(project)
        self._members = list(project.members.all())
        self._rules = list(TrainingRule.objects.of_those())
        self._inductions: dict[int, list[Induction]] = {}

    def on(self, day: date, people: Iterable[Person] = ()) -> tuple[NeededFacts, ...]:
        """Give what is needed and held on a day by those who do the work."""
        read = self._read
        members = {
            one.person_id
            for one in self._members
            if one.began_on <= day and (one.ended_on is None or one.ended_on > day)
        }
        doing = list(people)
        self._look_up(doing)
        permissions = tuple(
            _needed(read, kind, day, members, doing, self._inductions)
            for kind in read.kinds
            if kind.pk not in read.needs or read.needs[kind.pk].is_needed
        )
        return permissions + trainings_asked(self._rules, day, doing, self._inductions)

    def _look_up(self, people: list[Person]) -> None:
        """Read what people had who were not asked about before; one query, or none."""
        # Of students the inductions are read already, and no training where none is asked for.
        students = [] if self._rules else [one.person_id for one in self._read.students]
        known = {*students, *self._inductions}
        new = [one.pk for one in people if one.pk not in known]
        if new:
            self._inductions |= {pk: [] for pk in new}
            for given in Induction.objects.filter(person__in=new):
                self._inductions[given.person_id].append(given)


def _needed(
    read: NeedsOf,
    kind: PermissionKind,
    day: date,
    members: set[int],
    doing: list[Person],
    others: dict[int, list[Induction]],
) -> NeededFacts:
    if kind.pk not in read.needs:
        return NeededFacts(kind.name, is_said=False)
    if kind.satisfied_by != PermissionKind.SatisfiedBy.APPROVAL:
        return NeededFacts(kind.name, papers=papers_of(read, kind, day, doing, others))
    asked = [pair for pair in read.approvals if pair[0].permission_id == kind.pk]
    granted = [approval_facts(*pair, members) for pair in asked if pair[1].granted_on is not None]
    return NeededFacts(kind.name, tuple(granted))


def approval_facts(
    approval: Approval, facts: live.ApprovalFacts, members: set[int]
) -> ApprovalFacts:
    """Give an approval as a set of limits; prefetch its pauses, limits, places and people."""
    named = {person.pk for person in approval.people.all()}
    return ApprovalFacts(
        number=approval.pk,
        title=approval.title,
        starts_on=approval.starts_on,
        ends_on=approval.ends_on,
        live=tuple(Span(run.first, run.last) for run in live.live_days(facts)),
        paused=tuple(
            Span(pause.began_on, pause.ended_on - timedelta(days=1) if pause.ended_on else None)
            for pause in facts.pauses
        ),
        weekdays=frozenset(int(one) for one in approval.weekdays),
        places=frozenset(place.pk for place in approval.places.all()),
        people=frozenset(named or members),
        max_severity=approval.max_severity,
        limits=tuple(
            LimitFacts(
                line.pk,
                Kind(line.taxon_id, line.life_stage),
                line.procedure_id,
                line.max_animals,
                line.max_contacts_each,
                line.max_severity,
            )
            for line in approval.limits.all()
            if not line.is_dropped
        ),
    )


def use_rows(uses: QuerySet[Use]) -> list[UseRow]:
    """Read uses for counting, reversing entries too; one query."""
    read = uses.order_by("pk").values_list(
        "pk",
        "project_id",
        "animal_id",
        "group_id",
        "animal__taxon_id",
        "animal__life_stage",
        "group__taxon_id",
        "group__life_stage",
        "number",
        "procedure_id",
        "procedure__is_contact",
        "happened_at",
        "recorded_at",
        "enrolment_id",
        "severity",
        "reverses_id",
    )
    return [
        UseRow(
            number=row[0],
            project=row[1],
            subject=subject_at(row[2], row[3]),
            kind=kind_at(*row[4:8]),
            animals=row[8],
            procedure=row[9],
            is_contact=row[10],
            happened_on=timezone.localdate(row[11]),
            recorded_at=row[12],
            enrolment=row[13],
            severity=row[14],
            reverses=row[15],
        )
        for row in read
    ]


def loads_of(
    animals: Iterable[Animal], groups: Iterable[Group], day: date
) -> dict[Subject, dict[int, int]]:
    """Give the hands-on contacts of the last 7, 28 and 365 days of each that had any; one query."""
    since = day - timedelta(days=max(WINDOWS_D) + 1)
    rows = Use.objects.filter(
        Q(animal__in=[one.pk for one in animals]) | Q(group__in=[one.pk for one in groups]),
        happened_at__gte=begin(since),
    )
    return loads(use_rows(rows), day)


def subject_at(animal: int | None, group: int | None) -> Subject:
    """Give the subject that two columns of a row name."""
    return Subject("group", group) if animal is None and group else Subject("animal", animal or 0)


def kind_at(
    animal_taxon: int | None, animal_stage: str | None, group_taxon: int | None, group_stage: str
) -> Kind:
    """Give the taxon and stage that the columns of an animal and a group hold."""
    if animal_taxon is not None:
        return Kind(animal_taxon, animal_stage or "")
    return Kind(group_taxon or 0, group_stage or "")


# --------------------------------------------------------------------------------------- events


def event_of(
    subject: Animal | Group,
    *,
    project: Project,
    day: date,
    procedure: Procedure | None,
    place: Enclosure | None,
    people: Iterable[Person] = (),
    severity: int | None = None,
    animals: int = 1,
    contacts: int = 1,
    enrolment: int | None = None,
) -> EventFacts:
    """Give what is to happen to an animal or a group, or did, as limits are held against it."""
    return EventFacts(
        day=day,
        subject=subject_of(subject),
        name=str(subject),
        kind=kind_of_subject(subject),
        taxon=str(subject.taxon),
        procedure=thing(procedure) if procedure else None,
        place=thing(place) if place else None,
        people=tuple(thing(person) for person in people),
        severity=severity,
        animals=animals,
        contacts=contacts,
        project=project.pk,
        enrolment=enrolment,
    )


def is_watching_only(project: Project) -> bool:
    """Say whether a project's plan is passive observation; one that says nothing is not."""
    plan: Any = Plan.objects.filter(project=project).prefetch_related("procedures").first()
    procedures = list(plan.procedures.all()) if plan else []
    return bool(procedures) and not any(one.is_contact for one in procedures)


def is_of_quarantine(project: Project | None) -> bool:
    """Say whether a project's plan declares that it studies quarantine itself."""
    plans = Plan.objects.filter(project=project, is_quarantine_study=True)
    return project is not None and plans.exists()


def is_halted_at(halts: Iterable[Halt], moment: datetime) -> bool:
    """Say whether data collection stood halted at a moment: from when that was recorded on."""
    day = timezone.localdate(moment)
    return any(
        halt.began_on <= day
        and (halt.began_on < day or halt.recorded_at <= moment)
        and (halt.ended_on is None or day < halt.ended_on)
        for halt in halts
    )
