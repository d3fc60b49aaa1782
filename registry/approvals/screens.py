"""Screenings as they stand: the facts that they went by, and whether those changed since."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.utils import timezone

from registry.animals.models import LifeStage, Taxon
from registry.approvals.models import Limit, Screening
from registry.approvals.rules.law import Rules, rules_on
from registry.approvals.rules.protection import (
    VERTEBRATES,
    Override,
    Protection,
    StageFacts,
)
from registry.approvals.rules.regulated import (
    Effect,
    ProcedureFacts,
    Purpose,
    Screened,
    screened,
)
from registry.approvals.rules.stages import Known, Spell, Told, spell
from registry.approvals.staging import Stage, booked_of, stages_of
from registry.projects.models import Arm, Procedure, Project


@dataclass(frozen=True)
class Said:
    """What a person says of a procedure, beside what the plan and the register say.

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


def jurisdictions_of(projects: Iterable[Project]) -> dict[int, str]:
    """Give where each project's work is done: as last screened, else where the site is."""
    ids = [one.pk for one in projects]
    rows = Screening.objects.filter(project__in=ids).order_by("pk").values_list("project", "facts")
    said = {number: str(json.loads(facts)["jurisdiction"]) for number, facts in rows}
    return {number: said.get(number, settings.JURISDICTION) for number in ids}


def found_by_rules(
    project: Project,
    taxon: Taxon,
    stage: str,
    said: Said,
    own: Sequence[Stage],
    override: Override | None,
) -> tuple[Protection, Screened]:
    """Hold a procedure against the rules, over the days of the project.

    `own` are the project's animals of this taxon and stage: one that is protected on the first day
    makes it a procedure on a protected animal. Without any, the stage alone is asked.
    """
    rules = rules_on(said.jurisdiction, timezone.localdate())
    spells = [one.spell(project, rules) for one in own]
    if override is not None or not spells:
        spells = [_by_stage(project, taxon, stage, override, rules)]
    first = min(spells, key=lambda one: (not one.is_throughout, one.from_on or date.max))
    facts = ProcedureFacts(
        Purpose(said.purpose),
        Effect(said.effect),
        is_protected=first.is_throughout,
        can_be_protected=first.is_throughout or is_ever_protected(taxon),
        becomes_protected=said.becomes_protected
        or (said.lives_past and first.from_on is not None and not first.is_throughout),
        lives_past=said.lives_past,
        is_felt_later=said.is_felt_later,
    )
    stands = first.then
    if not first.is_throughout and first.from_on is not None:
        why = f"It is protected from {first.from_on.isoformat()} on: {stands.why}"
        stands = Protection(False, why, stands.version, stands.is_certain)
    return stands, screened(facts, rules)


def _by_stage(
    project: Project, taxon: Taxon, stage: str, override: Override | None, rules: Rules
) -> Spell:
    told = (Told(override, project.starts_on),) if override else ()
    facts = StageFacts(taxon.taxon_class, project.starts_on, stage=stage)
    known = Known(facts, (), max(timezone.localdate(), project.starts_on), told)
    return spell(known, project.starts_on, project.ends_on, rules)


# -------------------------------------------------------------------------- what they went by


def facts_now(
    project: Project, taxon: Taxon, procedure: Procedure, animals: int, own: Sequence[Stage]
) -> dict[str, Any]:
    """Give what a screening goes by of the plan and the register; it is run again on a change."""
    return {
        "animals": animals,
        "class": taxon.taxon_class,
        "ends_on": project.ends_on.isoformat(),
        "period_least_d": taxon.period_least_d,
        "severity": procedure.severity,
        "stages": sorted(one.facts for one in own if one.facts),
        "starts_on": project.starts_on.isoformat(),
    }


_SAID = {
    "animals": "the number of animals",
    "class": "the class of the animals",
    "ends_on": "the days of the project",
    "starts_on": "the days of the project",
    "period_least_d": "the incubation or gestation of the taxon",
    "severity": "the severity of the procedure",
    "stages": "the animals at this stage, or what is known of them",
}


def is_ever_protected(taxon: Taxon) -> bool:
    """Say whether the law can protect animals of this kind at all."""
    return taxon.taxon_class in VERTEBRATES | {"cephalopod"}


def of_kind(stages: Iterable[Stage], taxon: int, stage: str) -> list[Stage]:
    """Give those of a taxon that are at a stage now."""
    return [one for one in stages if one.subject.taxon_id == taxon and one.now == stage]


def planned_animals(projects: Iterable[Project]) -> dict[tuple[int, int], int]:
    """Give how many animals each project plans with, by project and taxon; one query."""
    arms = Arm.objects.filter(plan__project__in=[one.pk for one in projects], is_dropped=False)
    planned: dict[tuple[int, int], int] = {}
    for project, taxon, animals in arms.values_list("plan__project", "taxon", "animals"):
        planned[project, taxon] = planned.get((project, taxon), 0) + animals
    return planned


# -------------------------------------------------------------------------------- as they stand


@dataclass(frozen=True)
class Standing:
    """The newest screening of a procedure, taxon and stage, and what has changed since it."""

    screening: Screening
    changed: Sequence[str]

    @property
    def is_stale(self) -> bool:
        """Whether it must be run again."""
        return bool(self.changed)


@dataclass(frozen=True)
class Missing:
    """A procedure that is planned, and that nobody has screened: at all, or at one stage."""

    project: Project
    procedure: Procedure
    taxon: Taxon | None = None
    life_stage: str = ""

    def __str__(self) -> str:
        if self.taxon is None:
            return str(self.procedure)
        return f"{self.procedure} of {self.taxon}, {LifeStage(self.life_stage).label}"


@dataclass(frozen=True)
class Screenings:
    """What was screened for some projects, and the planned procedures that nobody screened."""

    standing: Sequence[Standing]
    missing: Sequence[Missing]

    @property
    def stale(self) -> list[Standing]:
        """Those that must be run again."""
        return [one for one in self.standing if one.is_stale]


def screenings_of(
    projects: Sequence[Project], stages: Mapping[int, Sequence[Stage]] | None = None
) -> Screenings:
    """Give how the screenings of projects stand; prefetch `plan__procedures`. A dozen queries.

    `stages` spares some of them where `stages_of` was asked already.
    """
    rows = Screening.objects.filter(project__in=[one.pk for one in projects]).order_by("pk")
    newest: dict[tuple[int, int, int, str], Screening] = {}
    for row in rows.select_related("procedure", "taxon", "screened_by"):
        newest[row.project_id, row.procedure_id, row.taxon_id, row.life_stage] = row
    planned, stages = planned_animals(projects), booked_of(stages or stages_of(projects))
    by_number = {one.pk: one for one in projects}
    standing = [
        _standing(row, by_number[row.project_id], planned, stages[row.project_id])
        for row in newest.values()
        if _is_planned(row, by_number[row.project_id], planned)
    ]
    missing = [one for project in projects for one in _missing(project, newest, stages[project.pk])]
    return Screenings(standing, missing)


def _is_planned(row: Screening, project: Project, planned: dict[tuple[int, int], int]) -> bool:
    """Say whether the plan has it still; what was dropped from the plan needs no screening."""
    procedures = {one.pk for one in project.plan.procedures.all()}
    return row.procedure_id in procedures and (project.pk, row.taxon_id) in planned


def _missing(
    project: Project, newest: Iterable[tuple[int, int, int, str]], stages: Sequence[Stage]
) -> list[Missing]:
    done = {key[1:] for key in newest if key[0] == project.pk}
    screened_once = {procedure for procedure, _, _ in done}
    found = []
    kinds = {(one.subject.taxon_id, one.now): one.subject.taxon for one in stages}
    for procedure in project.plan.procedures.all():
        if procedure.pk not in screened_once:
            found.append(Missing(project, procedure))
            continue
        found += [
            Missing(project, procedure, kind, stage)
            for (taxon, stage), kind in kinds.items()
            if (procedure.pk, taxon, stage) not in done
        ]
    return found


def _standing(
    row: Screening,
    project: Project,
    planned: dict[tuple[int, int], int],
    stages: Sequence[Stage],
) -> Standing:
    facts: dict[str, Any] = json.loads(row.facts)
    animals = planned[project.pk, row.taxon_id]
    own = of_kind(stages, row.taxon_id, row.life_stage)
    now, then = facts_now(project, row.taxon, row.procedure, animals, own), facts["plan"]
    changed = [_SAID[name] for name in now if now[name] != then.get(name)]
    newest = rules_on(facts["jurisdiction"], timezone.localdate()).version
    if newest != row.rule_version:
        changed.append(f"the rules ({newest} now)")
    return Standing(row, list(dict.fromkeys(changed)))


def unscreened(found: Screenings, projects: Sequence[Project], lines: Iterable[Limit]) -> list[str]:
    """Give the lines of a request that nobody screened, in words; a body cannot decide on them.

    Only hands-on work on animals that the law may protect: watching is told as not screened, and
    stops nothing. Prefetch `plan__procedures` of the projects.
    """
    done = {
        (one.screening.project_id, one.screening.procedure_id, one.screening.taxon_id, stage)
        for one in found.standing
        for stage in ("", one.screening.life_stage)  # a line of no stage is of any
    }
    planned = planned_animals(projects)
    said = []
    for line in lines:
        if not line.procedure.is_contact or not is_ever_protected(line.taxon):
            continue
        stage = line.get_life_stage_display() if line.life_stage else ""
        what = ", ".join(filter(None, [f"“{line.procedure}” of {line.taxon}", stage]))
        said += [
            f"{what} ({one})" if len(projects) > 1 else what
            for one in projects
            if line.procedure in one.plan.procedures.all()
            and (one.pk, line.taxon_id) in planned
            and (one.pk, line.procedure_id, line.taxon_id, line.life_stage) not in done
        ]
    return list(dict.fromkeys(said))
