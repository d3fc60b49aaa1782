"""What goes with an animal that leaves, gathered from the register: it is the same for everyone."""

import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db.models import Count, Max, Min, Sum
from django.db.models.functions import TruncDate
from django.utils import timezone

from archive.citations import citation
from archive.exports.citation import text
from archive.models import Version
from registry.animals.life import barred_days_of, events_of, residences
from registry.animals.models import Animal, Group
from registry.animals.telling import marks_shown
from registry.people.models import Person
from registry.projects.models import Severity

FORMAT = "strandline-dossier-1"


def gather(
    subject: Animal | Group, *, receiver: str, written_by: Person, written_at: datetime
) -> dict[str, Any]:
    """Give the dossier of an animal or a group as plain facts; the number of queries is constant.

    Days are ISO 8601. An enrolment's `left_on` is empty while the animal is still in the project;
    a restriction stands here when nobody had ended it by the day on which the animal left.
    """
    research = _research(subject)
    open_restrictions = _open_restrictions(subject)
    return {
        "format": FORMAT,
        "from": settings.SITE_NAME,
        "to": receiver,
        "written_by": written_by.name,
        "written_at": written_at.isoformat(),
        "subject": _identity(subject),
        "marks": _marks(subject) if isinstance(subject, Animal) else [],
        "parents": _parents(subject),
        "loans": _loans(subject),
        "residences": [
            {
                "in": home.enclosure.name,
                "from": home.begun_on.isoformat(),
                "until": _day(home.ended_on),
            }
            for home in residences(subject, events_of(subject))
        ],
        "restrictions": open_restrictions,
        "research": research,
        "uses": _uses(subject),
        "datasets": _datasets(subject),
        "unfinished": _unfinished(research, open_restrictions),
    }


def written(dossier: dict[str, Any]) -> str:
    """Write a dossier as the text that is kept, handed over and hashed."""
    return json.dumps(dossier, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""


def _identity(subject: Animal | Group) -> dict[str, Any]:
    shared: dict[str, Any] = {
        "kind": str(subject.kind),
        "code": subject.code,
        "name": subject.name,
        "scientific_name": subject.taxon.scientific_name,
        "common_name": subject.taxon.common_name,
        "life_stage": subject.life_stage,
        "owner": str(subject.owner or settings.SITE_NAME),
        "arrived_on": _day(subject.arrived_on),
        "left_on": _day(subject.left_on),
    }
    if isinstance(subject, Animal):
        return {
            **shared,
            "sex": subject.sex,
            "born_on": _day(subject.born_on),
            "origin": subject.origin,
        }
    numbers = {"males": subject.males, "females": subject.females, "unknown": subject.unknown}
    return {**shared, "sort": subject.sort, **numbers}


def _marks(animal: Animal) -> list[dict[str, Any]]:
    """Give its marks, also those that are no more; photographs by the digests of their bytes."""
    rows = marks_shown(animal.marks.select_related("recorded_by").prefetch_related("readings"))
    found: Iterable[Any] = rows
    return [
        {
            "sort": mark.sort,
            "said": mark.said,
            "side": mark.side,
            "confidence": mark.confidence,
            "seen_on": mark.seen_on.isoformat(),
            "recorded_by": mark.recorded_by.name,
            "ended_on": _day(mark.ended_on),
            "end_reason": mark.end_reason,
            "readers_agreed": sum(one.is_agreed for one in mark.readings.all()),
            "readers": len(mark.readings.all()),
            "photographs": [
                {"sha256": one.sha256, "said": one.said, "taken_on": one.taken_on.isoformat()}
                for one in mark.photographs_kept
            ],
        }
        for mark in found
    ]


def _parents(subject: Animal | Group) -> list[dict[str, Any]]:
    """Give the dam and the sire as they are held: one of them, or those that may be it."""
    rows = subject.parentage.standing().select_related("parent")
    return [
        {
            "role": one.role,
            "parent": _called(one.parent) if one.parent else "",
            "candidates": [_called(may_be.animal) for may_be in one.candidates.all()],
            "evidence": one.evidence,
            "is_certain": one.is_certain,
            "note": one.note,
        }
        for one in rows.prefetch_related("candidates__animal")
    ]


def _loans(subject: Animal | Group) -> list[dict[str, Any]]:
    """Give who owned it while who else kept it, on what terms; also what is over."""
    return [
        {
            "owner": str(one.owner or settings.SITE_NAME),
            "holder": str(one.holder or settings.SITE_NAME),
            "from": one.began_on.isoformat(),
            "expected_end_on": _day(one.expected_end_on),
            "ended_on": _day(one.ended_on),
            "outcome": one.outcome,
            "terms": one.terms,
        }
        for one in subject.loans.select_related("institution").order_by("began_on", "pk")
    ]


def _called(animal: Animal) -> str:
    return f"{animal.name} ({animal.code})" if animal.name else animal.code


def _open_restrictions(subject: Animal | Group) -> list[dict[str, Any]]:
    """Give those that nobody had ended by the day on which it left, or that stand today."""
    until = subject.left_on or timezone.localdate()
    return [
        {
            "sort": one.sort,
            "strength": one.strength,
            "on": str(one.enclosure) if one.enclosure else "itself",
            "from": begun.isoformat(),
            "expected_end_on": _day(one.expected_end_on),
            "note": one.note,
            "begun_by": one.begun_by.name,
        }
        for one, begun, ended in barred_days_of(subject)
        if begun <= until and (one.ended_on is None or one.ended_on > until)
        if ended is None or ended >= until
    ]


def _research(subject: Animal | Group) -> list[dict[str, Any]]:
    rows = subject.enrolments.select_related("project__study", "arm").order_by("from_on", "pk")
    return [
        {
            "study": row.project.study.title,
            "cohort": row.project.cohort,
            "project_state": row.project.state,
            "code": row.code,
            "number": row.number,
            "arm": str(row.arm or ""),
            "from": row.from_on.isoformat(),
            "left_on": _day(row.left_on),
            "actual_severity": ""
            if row.actual_severity is None
            else str(Severity(row.actual_severity).label),
        }
        for row in rows
    ]


def _uses(subject: Animal | Group) -> list[dict[str, Any]]:
    """Give how often each project did what with it; a use that was taken back is none."""
    named = ("project__study__title", "project__cohort", "procedure__name", "procedure__is_contact")
    rows: Any = (
        subject.uses.standing()
        .order_by(*named)
        .values(*named)
        .annotate(
            times=Count("pk"),
            animals=Sum("number"),
            first=Min(TruncDate("happened_at")),
            last=Max(TruncDate("happened_at")),
            worst=Max("severity"),
        )
    )
    return [
        {
            "study": row["project__study__title"],
            "cohort": row["project__cohort"],
            "procedure": row["procedure__name"],
            "is_contact": row["procedure__is_contact"],
            "times": row["times"],
            "animals": row["animals"],
            "first": row["first"].isoformat(),
            "last": row["last"].isoformat(),
            "highest_severity": str(Severity(row["worst"]).label),
        }
        for row in rows
    ]


def _datasets(subject: Animal | Group) -> list[dict[str, Any]]:
    """Give the newest version that is held of each dataset in which it may stand."""
    projects = subject.enrolments.values("project")
    held = Version.objects.held().filter(dataset__project__in=projects, dataset__is_pooled=False)
    newest = {
        version.dataset_id: version
        for version in held.select_related("dataset").order_by("accepted_at", "pk")
    }
    return [
        {
            "title": version.dataset.title,
            "version": version.number,
            "identifier": version.identifier,
            "access": version.access,
            "embargoed_until": _day(version.embargoed_until),
            "citation": text(citation(version)),
        }
        for version in newest.values()
    ]


def _unfinished(research: list[dict[str, Any]], restrictions: list[dict[str, Any]]) -> list[str]:
    """Say what whoever receives it must know before they use it."""
    said = [
        f"Enrolled as {one['code']} in {one['study']}, {one['cohort']}: not yet discharged."
        for one in research
        if not one["left_on"]
    ]
    said += [
        f"Under a restriction since {one['from']}: {one['sort'].replace('_', ' ')}."
        for one in restrictions
    ]
    said += [
        f"The actual severity in {one['study']}, {one['cohort']}, is not yet recorded."
        for one in research
        if one["left_on"] and not one["actual_severity"]
    ]
    return said
