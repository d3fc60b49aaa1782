"""Deeds that ask: the request, its projects and limits, its submission, and an amendment."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Taxon
from registry.approvals.live import EVERY_DAY
from registry.approvals.models import TEXTS, Approval, Limit, PermissionKind, chosen
from registry.approvals.rules.severity import exceeds
from registry.approvals.screens import screenings_of
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Body, Person
from registry.permissions import Verb, require
from registry.projects.models import Procedure, Project, Severity
from registry.search import index as search
from registry.transitions import follows, locked, move


def _sound_terms(what: str, starts_on: date, ends_on: date, weekdays: str) -> str:
    """Give the weekdays in order, once the terms hold together."""
    if ends_on < starts_on:
        raise Unsound(
            what,
            "It would end before it starts.",
            "Give a later last day.",
            fields={"ends_on": "Before the first day."},
        )
    if not weekdays or set(weekdays) - set(EVERY_DAY):
        raise Unsound(
            what,
            "The days of the week are written 1 to 7, Monday is 1.",
            "Choose at least one day.",
            fields={"weekdays": "Choose at least one day."},
        )
    return "".join(sorted(set(weekdays)))


def _sound_reuse(what: str, consent: str, animals: Iterable[Animal]) -> list[Animal]:
    """Give the animals to be named, once the consent and the names agree."""
    named = list(animals)
    if (consent == Approval.Consent.NAMED) != bool(named):
        raise Unsound(
            what,
            "Animals are to be used again by name, and none is named."
            if consent == Approval.Consent.NAMED
            else "Animals are named for use again, and the consent is not for named ones.",
            "Choose how far animals are used again, and name them only where it says so.",
            fields={"reuse_animals": "Name them just where the consent is for named animals."},
        )
    return named


@transaction.atomic
def request_approval(
    project: Project,
    *,
    permission: PermissionKind,
    body: Body,
    title: str,
    case: str,
    harms: str = "",
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
            f"“{permission}” is not approved by a body: it asks for "
            f"{permission.get_satisfied_by_display()}.",
            "Choose a permission that a body approves.",
            fields={"permission": "No body approves it."},
        )
    weekdays = _sound_terms(what, starts_on, ends_on, weekdays)
    named = _sound_reuse(what, reuse_consent, reuse_animals)
    approval = Approval.objects.create(
        permission=permission,
        body=body,
        title=title,
        reference=reference,
        case=case,
        harms=harms,
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
            f"The request asks for {most} at most; this line goes beyond it.",
            "Give a lower class, or ask anew with a higher one.",
            fields={"max_severity": f"At most {most}."},
        )
    same = approval.limits.filter(
        taxon=taxon, life_stage=life_stage, procedure=procedure, is_dropped=False
    )
    if same.exists():
        raise Conflict(
            what,
            f"There is a limit for {taxon}, {procedure} already.",
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


def _screened_as_it_is(approval: Approval) -> None:
    """Refuse a request whose screenings went by facts that have changed since."""
    asked = set(approval.limits.filter(is_dropped=False).values_list("procedure", flat=True))
    projects = list(approval.projects.select_related("plan").prefetch_related("plan__procedures"))
    stale = [
        f"{one.screening} ({', '.join(one.changed)})"
        for one in screenings_of(projects).stale
        if one.screening.procedure_id in asked
    ]
    if stale:
        raise Unsound(
            "The request was not submitted.",
            f"What these screenings went by has changed since: {'; '.join(stale)}.",
            "Ask the vet, or the chair of a body, to screen them again on the project's page.",
        )


@transaction.atomic
def submit_approval(approval: Approval, *, by: Person) -> Approval:
    """Submit the request for decision.

    Refused when: it has no limits; it has no places; its last day has passed; a screening of what
    it asks for is no longer of the facts.
    """
    require(by, Verb.APPROVAL_SUBMIT, approval)
    approval = locked(approval)
    follows(approval, "submit")
    lacking = []
    if not approval.limits.filter(is_dropped=False).exists():
        lacking.append("it has no limits: which animals, by which procedure, how many")
    if not approval.places.exists():
        lacking.append("it has no places")
    if approval.ends_on < timezone.localdate():
        lacking.append("its last day has passed")
    if lacking:
        raise Unsound(
            "The request was not submitted.",
            f"A body decides on limits, and {'; '.join(lacking)}.",
            "Add what is missing, or ask anew with other days or places.",
        )
    _screened_as_it_is(approval)
    before, after = move(approval, "submit")
    record(Verb.APPROVAL_SUBMIT, approval, by=by, before=before, after=after, **chosen(approval))
    return approval


@transaction.atomic
def amend_approval(
    approval: Approval,
    *,
    places: Iterable[Enclosure] | None = None,
    people: Iterable[Person] | None = None,
    reuse_animals: Iterable[Animal] | None = None,
    by: Person,
    **changed: Any,
) -> Approval:
    """Draft an amendment: a copy of the approval with what is to change; limits change next.

    Refused when: another amendment is under way or in force; something is not part of an approval;
    it ends before it starts; no day of the week is chosen; animals are to be used again by name,
    and none is named.
    """
    require(by, Verb.APPROVAL_AMEND, approval)
    approval = locked(approval)
    follows(approval, "amend")
    what = "The amendment was not drafted."
    under_way = approval.amendments.filter(state__in=["drafted", "submitted"]).first()
    if under_way or approval.superseded_on is not None:
        raise Conflict(
            what,
            f"“{under_way}” is under way." if under_way else "An amendment has replaced it.",
            "Go on with that one.",
        )
    strange = sorted(set(changed) - set(TEXTS))
    if strange:
        raise Unsound(
            what,
            f"An approval has no {', '.join(strange)}.",
            "Look at the approval's page for what it holds.",
            fields=dict.fromkeys(strange, "Not part of an approval."),
        )
    terms = {name: changed.get(name, getattr(approval, name)) for name in TEXTS}
    if "starts_on" not in changed:
        terms["starts_on"] = max(approval.starts_on, timezone.localdate())
    terms["weekdays"] = _sound_terms(what, terms["starts_on"], terms["ends_on"], terms["weekdays"])
    named = _sound_reuse(
        what,
        terms["reuse_consent"],
        approval.reuse_animals.all() if reuse_animals is None else reuse_animals,
    )
    amendment = Approval.objects.create(
        permission=approval.permission,
        body=approval.body,
        amends=approval,
        asked_by=by,
        **terms,
    )
    amendment.projects.set(approval.projects.all())
    amendment.places.set(approval.places.all() if places is None else places)
    amendment.people.set(approval.people.all() if people is None else people)
    amendment.reuse_animals.set(named)
    limits = [
        Limit.objects.create(
            approval=amendment,
            taxon=one.taxon,
            life_stage=one.life_stage,
            procedure=one.procedure,
            max_animals=one.max_animals,
            max_contacts_each=one.max_contacts_each,
            max_severity=one.max_severity,
        )
        for one in approval.limits.filter(is_dropped=False)
    ]
    search.write(amendment)
    record(
        Verb.APPROVAL_AMEND,
        amendment,
        by=by,
        after=amendment.state,
        touched=limits,
        amends=approval.pk,
        **chosen(amendment),
    )
    return amendment
