"""The deed by which a named person decides whether a procedure is regulated."""

from dataclasses import asdict

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.models import Taxon
from registry.approvals.models import Screening
from registry.approvals.rules.protection import Override
from registry.approvals.screens import (
    Said,
    facts_now,
    found_by_rules,
    of_kind,
    planned_animals,
)
from registry.approvals.staging import stages_of
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.ledger.chain import canonical
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Procedure, Project
from registry.transitions import follows, locked

_NOT = "The screening was not written down."


@transaction.atomic
def screen_procedure(
    project: Project,
    *,
    procedure: Procedure,
    taxon: Taxon,
    life_stage: str,
    told: Said,
    answer: str,
    reason: str = "",
    by: Person,
) -> Screening:
    """Decide whether a planned procedure is regulated, beside what the rules say of the facts.

    Refused when: the procedure or the taxon is not in the plan; the decision, or the stage, goes
    against the rules without a reason.
    """
    require(by, Verb.PROJECT_SCREEN, project)
    project = locked(project)
    follows(project, "screen")
    animals = _planned(project, procedure, taxon)
    reason = reason.strip()
    if told.is_protected is not None and not reason:
        raise _lacking("The stage was decided by a person, not by the rule.")
    own = of_kind(stages_of([project])[project.pk], taxon.pk, life_stage)
    decided = told.is_protected
    override = None if decided is None else Override(decided, str(by), reason)
    stands, says = found_by_rules(project, taxon, life_stage, told, own, override)
    if answer != says.answer and not reason:
        raise _lacking(
            _("The rules say “%(answer)s”: %(why)s %(why_too)s")
            % {"answer": says.answer, "why": says.why, "why_too": stands.why}
        )
    facts = {**asdict(told), "plan": facts_now(project, taxon, procedure, animals, own)}
    screening = Screening.objects.create(
        project=project,
        procedure=procedure,
        taxon=taxon,
        life_stage=life_stage,
        facts=canonical(facts),
        rule_version=says.version,
        is_protected=stands.is_protected,
        said=says.answer,
        why=f"{says.why} {stands.why} {says.next}",
        answer=answer,
        reason=reason,
        screened_by=by,
    )
    record(
        Verb.PROJECT_SCREEN,
        project,
        by=by,
        reason=reason,
        touched=[screening],
        procedure=procedure.code,
        answer=answer,
    )
    return screening


def _planned(project: Project, procedure: Procedure, taxon: Taxon) -> int:
    """Give how many animals of the taxon are planned, once the plan holds both."""
    animals = planned_animals([project]).get((project.pk, taxon.pk), 0)
    fields = {}
    if not project.plan.procedures.filter(pk=procedure.pk).exists():
        fields["procedure"] = _("“%(procedure)s” is not in the plan.") % {"procedure": procedure}
    if not animals:
        fields["taxon"] = _("No treatment of the plan has %(taxon)s.") % {"taxon": taxon}
    if fields:
        raise Unsound(_NOT, " ".join(fields.values()), "Choose what the plan names.", fields=fields)
    return animals


def _lacking(why: str) -> Unsound:
    return Unsound(
        _NOT,
        _("%(why)s No reason is given for deciding otherwise.") % {"why": why},
        "Decide as the rules say, or write the reason; the inspector reads it.",
        fields={"reason": "Write why you decide otherwise."},
    )
