"""Deeds that ask: the request, the projects that it covers, and the lines of its limits."""

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.models import Animal, Enclosure, Taxon
from registry.approvals.live import EVERY_DAY
from registry.approvals.models import Approval, Limit, PermissionKind, chosen
from registry.approvals.rules.severity import exceeds
from registry.approvals.terms import sound_reuse, sound_terms
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Body, Person
from registry.permissions import Verb, require
from registry.projects.models import Procedure, Project, Severity
from registry.search import index as search
from registry.transitions import follows, locked


@transaction.atomic
def request_approval(
    project: Project,
    *,
    permission: PermissionKind,
    body: Body,
    title: str,
    case: str,
    harm_category: str = "",
    harms: str = "",
    benefit_category: str = "",
    benefits: str = "",
    starts_on: date,
    ends_on: date,
    weekdays: str = EVERY_DAY,
    max_severity: int = Severity.SUB_THRESHOLD,
    places: Iterable[Enclosure] = (),
    people: Iterable[Person] = (),
    reuse_consent: str = Approval.Consent.NONE,
    reuse_animals: Iterable[Animal] = (),
    reference: str = "",
    by: Person,
) -> Approval:
    """Draft the request for an approval; its limits are added next.

    Refused when: the permission is not one that a body approves; it ends before it starts; no day
    of the week is chosen; animals are to be used again by name, and none is named.
    """
    require(by, Verb.PROJECT_REQUEST_APPROVAL, project)
    project = locked(project)
    follows(project, "request_approval")
    what = "The request was not drafted."
    if permission.satisfied_by != PermissionKind.SatisfiedBy.APPROVAL:
        raise Unsound(
            what,
            _("“%(permission)s” is not approved by a body: it asks for %(satisfied_by)s.")
            % {"permission": permission, "satisfied_by": permission.get_satisfied_by_display()},
            "Choose a permission that a body approves.",
            fields={"permission": "No body approves it."},
        )
    weekdays = sound_terms(what, starts_on, ends_on, weekdays)
    named = sound_reuse(what, reuse_consent, reuse_animals)
    approval = Approval.objects.create(
        permission=permission,
        body=body,
        title=title,
        reference=reference,
        case=case,
        harm_category=harm_category,
        harms=harms,
        benefit_category=benefit_category,
        benefits=benefits,
        starts_on=starts_on,
        ends_on=ends_on,
        weekdays=weekdays,
        max_severity=max_severity,
        reuse_consent=reuse_consent,
        asked_by=by,
    )
    approval.projects.add(project)
    approval.places.set(places)
    approval.people.set(people)
    approval.reuse_animals.set(named)
    search.write(approval)
    record(
        Verb.PROJECT_REQUEST_APPROVAL,
        approval,
        by=by,
        after=approval.state,
        project=project.pk,
        **chosen(approval),
    )
    return approval


def _drafted(approval: Approval, verb: str) -> Approval:
    approval = locked(approval)
    follows(approval, verb)
    return approval


@transaction.atomic
def cover_project(approval: Approval, *, project: Project, by: Person) -> Approval:
    """Let one request cover another project too; its numbers count across both.

    Refused when: one does not lead both; it covers it already; the project is over.
    """
    require(by, Verb.APPROVAL_COVER, approval)
    require(by, Verb.PROJECT_REQUEST_APPROVAL, project)
    approval = _drafted(approval, "cover")
    project = locked(project)
    follows(project, "request_approval")
    if approval.projects.filter(pk=project.pk).exists():
        raise Conflict(
            "The project was not added.", "The request covers it already.", "Choose another one."
        )
    approval.projects.add(project)
    record(Verb.APPROVAL_COVER, approval, by=by, project=project.pk, **chosen(approval))
    return approval


@transaction.atomic
def add_limit(
    approval: Approval,
    *,
    taxon: Taxon,
    procedure: Procedure,
    max_animals: int,
    life_stage: str = "",
    max_contacts_each: int | None = None,
    max_severity: int | None = None,
    by: Person,
) -> Limit:
    """Add a line of the limits: of this taxon and stage, by this procedure, so many and no more.

    `max_severity` is the prospective class of this procedure; without one it is the approval's.

    Refused when: it allows no animal, or no time; its severity is above the approval's; there is
    such a line already.
    """
    require(by, Verb.APPROVAL_ADD_LIMIT, approval)
    approval = _drafted(approval, "add_limit")
    what = "The limit was not added."
    if max_animals < 1 or max_contacts_each == 0:
        raise Unsound(
            what,
            "A limit allows at least one animal, at least once.",
            "Give a number of 1 or more, or leave the times empty for no limit.",
            fields={"max_animals": "1 or more."},
        )
    if max_severity is not None and exceeds(max_severity, approval.max_severity):
        most = approval.get_max_severity_display()
        raise Unsound(
            what,
            _("The request asks for %(most)s at most; this line goes beyond it.") % {"most": most},
            "Give a lower class, or ask anew with a higher one.",
            fields={"max_severity": _("At most %(most)s.") % {"most": most}},
        )
    same = approval.limits.filter(
        taxon=taxon, life_stage=life_stage, procedure=procedure, is_dropped=False
    )
    if same.exists():
        raise Conflict(
            what,
            _("There is a limit for %(taxon)s, %(procedure)s already.")
            % {"taxon": taxon, "procedure": procedure},
            "Drop that one first, or choose another stage or procedure.",
        )
    limit = Limit.objects.create(
        approval=approval,
        taxon=taxon,
        life_stage=life_stage,
        procedure=procedure,
        max_animals=max_animals,
        max_contacts_each=max_contacts_each,
        max_severity=max_severity,
    )
    record(Verb.APPROVAL_ADD_LIMIT, approval, by=by, touched=[limit], limit=str(limit))
    return limit


@transaction.atomic
def drop_limit(approval: Approval, *, limit: Limit, by: Person) -> Approval:
    """Drop a line of the limits.

    Refused when: it is not in this request.
    """
    require(by, Verb.APPROVAL_DROP_LIMIT, approval)
    approval = _drafted(approval, "drop_limit")
    limit = locked(limit)
    if limit.approval_id != approval.pk or limit.is_dropped:
        raise Conflict(
            "The limit was not dropped.", "It is not in this request.", "Look at the page again."
        )
    limit.is_dropped = True
    limit.save(update_fields=["is_dropped"])
    record(Verb.APPROVAL_DROP_LIMIT, approval, by=by, touched=[limit], limit=str(limit))
    return approval
