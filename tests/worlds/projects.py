"""Studies and projects for the tests, in each state that their own deeds reach."""

import json
from collections.abc import Iterable
from datetime import date, timedelta
from itertools import count
from pathlib import Path
from typing import Any

from django.utils import timezone

from registry.animals.models import Enclosure, Taxon
from registry.people.models import Person
from registry.permissions import Part, Role
from registry.projects import actions
from registry.projects.models import Allocation, Procedure, Project, Study
from tests.worlds.animals import make_enclosure, make_taxon
from tests.worlds.people import make_person

VOCABULARY = Path(__file__).resolve().parents[2] / "fixtures" / "vocabulary"
_number = count(1)


def vocabulary(name: str) -> list[dict[str, Any]]:
    """Give the rows of a vocabulary."""
    told = json.loads((VOCABULARY / f"{name}.json").read_text(encoding="utf-8"))
    rows: list[dict[str, Any]] = told["rows"]
    return rows


def make_procedure(code: str = "watching-outside") -> Procedure:
    """Give a procedure of the vocabulary, made once."""
    row = next(row for row in vocabulary("procedures") if row["code"] == code)
    return Procedure.objects.get_or_create(code=code, defaults=row)[0]


def make_study(*, title: str = "", taxon: Taxon | None = None, by: Person | None = None) -> Study:
    """Give a study, its taxon the undulate ray unless said otherwise."""
    return actions.open_study(
        title=title or f"Activity of undulate rays and visitors, {next(_number)}",
        aim="Tell whether the rays rest less on busy days.",
        taxon=taxon or make_taxon(),
        by=by or make_person(Role.CURATOR),
    )


def make_project(
    *,
    study: Study | None = None,
    cohort: str = "2026–27",
    lead: Person | None = None,
    student: Person | None = None,
    starts_on: date | None = None,
    ends_on: date | None = None,
) -> Project:
    """Give a drafted project with its lead supervisor and one student."""
    lead = lead or make_person(Role.SUPERVISOR, name="Ingrid Vestergaard-Nwosu")
    project = actions.open_project(
        study or make_study(),
        cohort=cohort,
        level="research_masters",
        starts_on=starts_on or timezone.localdate() - timedelta(days=30),
        ends_on=ends_on or timezone.localdate() + timedelta(days=300),
        keeper_hours_week=2,
        lead=lead,
        by=lead,
    )
    actions.assign_member(
        project, person=student or make_person(Role.STUDENT), part=Part.STUDENT, by=lead
    )
    return project


def lead_of(project: Project) -> Person:
    """Give its lead supervisor."""
    return project.members.live().get(part=Part.LEAD).person


def student_of(project: Project) -> Person:
    """Give its first student."""
    return project.members.live().filter(part=Part.STUDENT).order_by("pk")[0].person


def make_written(
    *,
    taxon: Taxon | None = None,
    procedure: Procedure | None = None,
    places: Iterable[Enclosure] = (),
    units: int = 4,
    animals: int = 12,
    is_quarantine_study: bool = False,
    **project: Any,
) -> Project:
    """Give a drafted project whose plan lacks nothing."""
    made = make_project(**project)
    lead = lead_of(made)
    procedure = procedure or make_procedure()
    actions.write_plan(
        made,
        hypothesis="Rays rest less on busy days.",
        experimental_unit="a pool on a day",
        unit_reason="Visitors come to a pool, not to one ray.",
        outcome="share of scans at rest",
        outcome_unit="1",
        sampling_rule="scan",
        recording_rule="instantaneous",
        number_reason="Four pools find a difference of 0.2 eight times in ten.",
        analysis="A mixed model with the pool as random.",
        data_plan="One row a scan, deposited each month.",
        humane_end_points="The keeper ends a session when a ray stops feeding.",
        max_severity=procedure.severity,
        is_quarantine_study=is_quarantine_study,
        procedures=[procedure],
        places=list(places) or [make_enclosure()],
        by=lead,
    )
    actions.add_arm(
        made,
        name="busy and quiet days",
        taxon=taxon or made.study.taxon or make_taxon(),
        units=units,
        animals=animals,
        by=lead,
    )
    return fresh_project(made)


def fresh_project(project: Project) -> Project:
    """Give the project anew."""
    return Project.objects.get(pk=project.pk)


def make_submitted(**more: Any) -> Project:
    """Give a project whose plan waits for its design review."""
    project = make_written(**more)
    actions.submit_plan(project, by=lead_of(project))
    return fresh_project(project)


TANKS = [f"T{number}" for number in range(1, 9)]
ALLOCATED = {"method": "complete", "arms": ["still", "brisk"], "units": TANKS}
SIZED = {
    "design": "TankMeans",
    "values": {"sd": 1.0, "icc": 0.2, "per_unit": 15.0},
    "n": None,
    "effect": 0.8,
    "power": 0.8,
    "spread_from": "ark:99999/s1abc.v2",
}
"""What sums of a design are given; see registry.design.keeping."""


def make_sealed(**more: Any) -> Allocation:
    """Give an allocation that was sealed when its plan was accepted; its lead holds the key."""
    project = make_written(**more)
    lead = lead_of(project)
    actions.write_plan(project, keyholders=[lead], by=lead)
    actions.use_design(project, part="size", given=SIZED, by=lead)
    actions.use_design(project, part="allocation", given=ALLOCATED, by=lead)
    actions.submit_plan(project, by=lead)
    actions.accept_plan(project, by=make_person(Role.SUPERVISOR))
    return Allocation.objects.get(plan__project=project)


def make_plan_accepted(**more: Any) -> Project:
    """Give a project whose plan was accepted; no need is stated."""
    project = make_submitted(**more)
    actions.accept_plan(project, remarks="The unit is right.", by=make_person(Role.SUPERVISOR))
    return fresh_project(project)
