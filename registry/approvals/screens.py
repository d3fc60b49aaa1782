"""Screenings as they stand: the facts of the plan that they went by, and whether those changed."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils import timezone

from registry.animals.models import Taxon
from registry.approvals.models import Screening
from registry.approvals.rules.law import rules_on
from registry.approvals.rules.protection import (
    VERTEBRATES,
    Override,
    Protection,
    StageFacts,
    protection,
)
from registry.approvals.rules.regulated import (
    Effect,
    ProcedureFacts,
    Purpose,
    Screened,
    screened,
)
from registry.projects.models import Arm, Procedure, Project


@dataclass(frozen=True)
class Told:
    """What a person says of a procedure, beside what the plan says.

    `is_protected` is what a named person decides of the stage whatever the rule says, with the
    reason; None leaves it to the rule.
    """

    jurisdiction: str
    purpose: str
    effect: str
    becomes_protected: bool = False
    lives_past: bool = False
    is_felt_later: bool = False
    is_protected: bool | None = None


def found_by_rules(
    taxon: Taxon, stage: str, told: Told, day: date, *, by: str, reason: str
) -> tuple[Protection, Screened]:
    """Hold a procedure on a taxon at a stage against the rules of a place on a day."""
    rules = rules_on(told.jurisdiction, day)
    decided = None
    if told.is_protected is not None:
        decided = Override(told.is_protected, by, reason)
    stands = protection(StageFacts(taxon.taxon_class, day, stage=stage), rules, decided)
    facts = ProcedureFacts(
        Purpose(told.purpose),
        Effect(told.effect),
        is_protected=stands.is_protected,
        can_be_protected=stands.is_protected or taxon.taxon_class in VERTEBRATES | {"cephalopod"},
        becomes_protected=told.becomes_protected,
        lives_past=told.lives_past,
        is_felt_later=told.is_felt_later,
    )
    return stands, screened(facts, rules)


def of_plan(
    project: Project, taxon: Taxon, procedure: Procedure, animals: int
) -> dict[str, str | int]:
    """Give the facts of the plan that a screening goes by; it is run again when one changes."""
    return {
        "animals": animals,
        "class": taxon.taxon_class,
        "ends_on": project.ends_on.isoformat(),
        "severity": procedure.severity,
        "starts_on": project.starts_on.isoformat(),
    }


def planned_animals(projects: Iterable[Project]) -> dict[tuple[int, int], int]:
    """Give how many animals each project plans with, by project and taxon; one query."""
    arms = Arm.objects.filter(plan__project__in=[one.pk for one in projects], is_dropped=False)
    planned: dict[tuple[int, int], int] = {}
    for project, taxon, animals in arms.values_list("plan__project", "taxon", "animals"):
        planned[project, taxon] = planned.get((project, taxon), 0) + animals
    return planned


@dataclass(frozen=True)
class Standing:
    """The newest screening of a procedure, taxon and stage, and whether it must be run again."""

    screening: Screening
    is_stale: bool


@dataclass(frozen=True)
class Screenings:
    """What was screened for some projects, and the planned procedures that nobody screened."""

    standing: Sequence[Standing]
    missing: Sequence[tuple[Project, Procedure]]


def screenings_of(projects: Sequence[Project]) -> Screenings:
    """Give how the screenings of projects stand; prefetch `plan__procedures`. Two queries."""
    rows = Screening.objects.filter(project__in=[one.pk for one in projects]).order_by("pk")
    newest: dict[tuple[int, int, int, str], Screening] = {}
    for row in rows.select_related("procedure", "taxon", "screened_by"):
        newest[row.project_id, row.procedure_id, row.taxon_id, row.life_stage] = row
    planned = planned_animals(projects)
    by_number = {one.pk: one for one in projects}
    standing = [_standing(row, by_number[row.project_id], planned) for row in newest.values()]
    done = {(row.project_id, row.procedure_id) for row in newest.values()}
    missing = [
        (project, procedure)
        for project in projects
        for procedure in project.plan.procedures.all()
        if (project.pk, procedure.pk) not in done
    ]
    return Screenings(standing, missing)


def _standing(row: Screening, project: Project, planned: dict[tuple[int, int], int]) -> Standing:
    facts: dict[str, Any] = json.loads(row.facts)
    animals = planned.get((project.pk, row.taxon_id), 0)
    now = of_plan(project, row.taxon, row.procedure, animals)
    newest = rules_on(facts["jurisdiction"], timezone.localdate()).version
    return Standing(row, now != facts["plan"] or newest != row.rule_version)
