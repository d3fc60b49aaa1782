"""Deeds on what a project needs, and its start."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.approvals.models import Approval, Need, PermissionKind, Screening
from registry.approvals.screens import screenings_of
from registry.approvals.standing import NeedsOf
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.transitions import follows, locked, locked_all, move


@transaction.atomic
def state_need(
    project: Project, *, permission: PermissionKind, is_needed: bool, reason: str = "", by: Person
) -> Project:
    """Say that a project needs a permission, or why it does not.

    Refused when: it is said not to be needed without a reason; the project has begun to collect and
    the permission was needed until now.
    """
    require(by, Verb.PROJECT_NEED, project)
    project = locked(project)
    follows(project, "need")
    what = "The need was not changed."
    if not is_needed and not reason.strip():
        raise Unsound(
            what,
            "It is said not to be needed, and no reason is given.",
            "Write why it is not needed; deciders and the auditor read it.",
            fields={"reason": "Write why it is not needed."},
        )
    need = project.needs.filter(permission=permission).first()
    if need and need.is_needed and not is_needed and project.state in {"collecting", "halted"}:
        raise Conflict(
            what,
            "The project collects under it, so it goes on being needed.",
            "Finish collecting, or ask its body to amend the approval.",
        )
    if need is None:
        need = Need(project=project, permission=permission)
    need.is_needed, need.reason = is_needed, reason.strip()
    need.said_by, need.said_at = by, timezone.now()
    need.save()
    record(
        Verb.PROJECT_NEED,
        project,
        by=by,
        reason=reason.strip(),
        touched=[need],
        permission=permission.code,
        is_needed=is_needed,
    )
    return project


def _unlicensed(project: Project, needs: NeedsOf) -> list[str]:
    """Give the screened procedures that may not be done yet, in words."""
    answers = [one.screening for one in screenings_of([project]).standing]
    said = [
        f"“{one}” was referred, and nobody has decided since"
        for one in answers
        if one.answer == Screening.Answer.REFER
    ]
    licensed = any(
        needs.needs[kind.pk].is_needed
        for kind in needs.kinds
        if kind.code == "licence" and kind.pk in needs.needs
    )
    return said + [
        f"“{one}” is regulated, and no licence is said to be needed"
        for one in answers
        if one.answer == Screening.Answer.REGULATED and not licensed
    ]


@transaction.atomic
def start_project(project: Project, *, by: Person) -> Project:
    """Start collecting.

    Refused when: nobody has said whether a permission that is always asked for is needed; a needed
    one is not live today; no approval of a body is needed; a procedure was referred and is not
    decided yet; one is regulated, and no licence is said to be needed.
    """
    require(by, Verb.PROJECT_START, project)
    locked_all(Approval, list(project.approvals.values_list("pk", flat=True)))
    project = locked(project)
    follows(project, "start")
    needs = NeedsOf(project)
    lacking = needs.lacking_on(timezone.localdate()) + _unlicensed(project, needs)
    if lacking:
        raise Unsound(
            "Collecting was not started.",
            _("Not everything that is needed is live today. %(lacking)s.")
            % {"lacking": "; ".join(lacking)},
            "Settle each of these on the project's page, then start.",
        )
    before, after = move(project, "start")
    record(Verb.PROJECT_START, project, by=by, before=before, after=after)
    return project
