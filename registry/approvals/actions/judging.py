"""Deeds by which a named person decides of one animal, beside what the rules say."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.models import Animal, EggCase, Group
from registry.approvals.models import ReuseDecision, StageDecision
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.ledger.models import subject_of
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.saying import day_said
from registry.transitions import follows, locked


def _reasoned(what: str, reason: str, **named: Any) -> tuple[dict[str, Any], Any]:
    """Give the one subject that was named, once there is a reason beside it."""
    chosen = {name: row for name, row in named.items() if row is not None}
    if len(chosen) != 1:
        raise Unsound(
            what,
            "A decision is of one animal, one group or one egg case.",
            "Choose one of them, and leave the others empty.",
            fields=dict.fromkeys(named, "Choose just one."),
        )
    if not reason.strip():
        raise Unsound(
            what,
            "No reason is given.",
            "Write what you go by; the inspector reads it.",
            fields={"reason": "Write what you go by."},
        )
    return chosen, next(iter(chosen.values()))


@transaction.atomic
def decide_reuse(
    project: Project,
    *,
    animal: Animal | None = None,
    group: Group | None = None,
    is_continued: bool = False,
    has_recovered: bool = False,
    was_examined: bool = False,
    reason: str,
    by: Person,
) -> ReuseDecision:
    """Say, as a vet, what using an animal again in this project is, and whether it recovered.

    Refused when: none or several are named; there is no reason.
    """
    require(by, Verb.PROJECT_DECIDE_REUSE, project)
    project = locked(project)
    follows(project, "decide_reuse")
    chosen, subject = _reasoned("Nothing was decided.", reason, animal=animal, group=group)
    decision = ReuseDecision.objects.create(
        project=project,
        **chosen,
        is_continued=is_continued,
        has_recovered=has_recovered,
        was_examined=was_examined,
        reason=reason.strip(),
        decided_by=by,
    )
    record(
        Verb.PROJECT_DECIDE_REUSE,
        project,
        by=by,
        reason=reason.strip(),
        touched=[decision],
        subject=subject_of(subject),
    )
    return decision


@transaction.atomic
def decide_stage(
    project: Project,
    *,
    animal: Animal | None = None,
    group: Group | None = None,
    case: EggCase | None = None,
    is_protected: bool,
    from_on: date,
    until_on: date | None = None,
    reason: str,
    by: Person,
) -> StageDecision:
    """Decide that an animal is protected from a day on, or is not until a day.

    Refused when: none or several are named; there is no reason; it is not protected without end; it
    ends before it begins.
    """
    require(by, Verb.PROJECT_DECIDE_STAGE, project)
    project = locked(project)
    follows(project, "decide_stage")
    what = "Nothing was decided."
    chosen, subject = _reasoned(what, reason, animal=animal, group=group, case=case)
    if until_on is None and not is_protected:
        raise Unsound(
            what,
            "It would be unprotected without end, and animals grow.",
            "Give the last day; decide again when it comes.",
            fields={"until_on": "Give the last day."},
        )
    if until_on is not None and until_on < from_on:
        raise Unsound(
            what,
            _("Its last day, %(until_on)s, lies before its first.")
            % {"until_on": day_said(until_on)},
            "Give a later last day.",
            fields={"until_on": "Before the first day."},
        )
    decision = StageDecision.objects.create(
        project=project,
        **chosen,
        is_protected=is_protected,
        from_on=from_on,
        until_on=until_on,
        reason=reason.strip(),
        decided_by=by,
    )
    record(
        Verb.PROJECT_DECIDE_STAGE,
        project,
        by=by,
        reason=reason.strip(),
        touched=[decision],
        subject=subject_of(subject),
        is_protected=is_protected,
    )
    return decision
