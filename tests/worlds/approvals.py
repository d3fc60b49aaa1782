"""Approvals, and projects that wait for them or collect under them, for the tests."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import time_machine
from django.utils import timezone

from registry.animals.models import Enclosure, Taxon
from registry.approvals import actions
from registry.approvals.live import EVERY_DAY
from registry.approvals.models import Approval, PermissionKind
from registry.approvals.screens import Said
from registry.people.actions import induct_person
from registry.people.models import Body, Person
from registry.permissions import Role
from registry.projects.actions import sign_agreement
from registry.projects.models import Procedure, Project
from tests.worlds.animals import make_enclosure, make_taxon
from tests.worlds.people import make_body, make_person
from tests.worlds.projects import (
    fresh_project,
    lead_of,
    make_plan_accepted,
    make_procedure,
    student_of,
    vocabulary,
)


@dataclass(frozen=True)
class World:
    """A project with the people, the body and the one approval that it works under.

    `member` sits on the body beside `chair`; a decision needs both.
    """

    project: Project
    lead: Person
    student: Person
    curator: Person
    approval: Approval
    body: Body
    chair: Person
    member: Person
    taxon: Taxon
    procedure: Procedure
    place: Enclosure


def make_kinds() -> dict[str, PermissionKind]:
    """Give the kinds of permission of the vocabulary, by code, made once."""
    return {
        row["code"]: PermissionKind.objects.get_or_create(code=row["code"], defaults=row)[0]
        for row in vocabulary("permission_kinds")
    }


def state_needs(project: Project, *needed: str, by: Person) -> None:
    """Say of each permission that is always asked for whether it is needed."""
    for code, kind in make_kinds().items():
        if not kind.is_always_asked and code not in needed:
            continue
        is_needed = code in needed
        reason = "" if is_needed else "Nothing in the plan asks for it."
        actions.state_need(project, permission=kind, is_needed=is_needed, reason=reason, by=by)


def make_accepted(**more: Any) -> Project:
    """Give a project whose plan was accepted, each permission said not to be needed."""
    project = make_plan_accepted(**more)
    state_needs(project, by=lead_of(project))
    return fresh_project(project)


def screen_limits(approval: Approval, *, by: Person) -> None:
    """Screen the hands-on work that a request asks for, where nobody did: what a licence is asked
    for as regulated, and else as below the threshold.
    """
    is_licence = approval.permission.code == "licence"
    effect, answer = ("reaches", "regulated") if is_licence else ("below", "not regulated")
    for project in approval.projects.all():
        for line in approval.limits.filter(is_dropped=False, procedure__is_contact=True):
            kind = {"procedure": line.procedure, "taxon": line.taxon}
            stage = line.life_stage or "adult"
            if project.screenings.filter(**kind, life_stage=stage).exists():
                continue
            actions.screen_procedure(
                project,
                **kind,
                life_stage=stage,
                told=Said("uk", "scientific", effect),
                answer=answer,
                reason="A world of the tests.",
                by=by,
            )


def make_request(
    project: Project,
    body: Body,
    *,
    kind: str = "research-committee",
    places: Iterable[Enclosure] | None = None,
    starts_on: date | None = None,
    ends_on: date | None = None,
    **more: Any,
) -> Approval:
    """Give a drafted request for an approval, without limits yet."""
    return actions.request_approval(
        project,
        permission=make_kinds()[kind],
        body=body,
        title="May the ray study watch twelve rays?",
        case="The keepers ask for it, and no data held can tell.",
        harms="A person stands at the glass.",
        benefits="Quiet hours are set where they help.",
        starts_on=starts_on or timezone.localdate(),
        ends_on=ends_on or timezone.localdate() + timedelta(days=300),
        places=list(project.plan.places.all()) if places is None else places,
        by=lead_of(project),
        **more,
    )


def make_asked(
    project: Project | None = None, *, max_animals: int = 12, **more: Any
) -> tuple[Approval, Person, Person]:
    """Give a submitted request, with the chair and one more member of its body."""
    project = project or make_accepted()
    body, chair, member = make_body()
    approval = make_request(project, body, **more)
    lead = lead_of(project)
    arm = project.plan.arms.filter(is_dropped=False)[0]
    actions.add_limit(
        approval,
        taxon=arm.taxon,
        procedure=project.plan.procedures.all()[0],
        max_animals=max_animals,
        by=lead,
    )
    screen_limits(approval, by=chair)
    actions.submit_approval(approval, by=lead)
    return Approval.objects.get(pk=approval.pk), chair, member


def make_granted(
    project: Project | None = None,
    *,
    conditions: Sequence[tuple[str, date | None]] = (),
    **more: Any,
) -> tuple[Approval, Person, Person]:
    """Give an approval that is in force, with the chair and one more member of its body."""
    approval, chair, member = make_asked(project, **more)
    actions.grant_approval(
        approval, decision="Sound.", conditions=conditions, deciders=[chair, member], by=chair
    )
    return Approval.objects.get(pk=approval.pk), chair, member


def make_ready(
    *,
    taxon: Taxon | None = None,
    procedure: Procedure | None = None,
    places: Sequence[Enclosure] = (),
    max_animals: int = 12,
    max_contacts_each: int | None = None,
    life_stage: str = "",
    starts_on: date | None = None,
    ends_on: date | None = None,
    weekdays: str = EVERY_DAY,
    max_severity: int | None = None,
    people: Iterable[Person] = (),
    conditions: Sequence[tuple[str, date | None]] = (),
    days_ago: int = 0,
    **project: Any,
) -> World:
    """Give a project whose every need is live, not started yet; made so many days ago.

    The committee's approval covers `places` from `starts_on` (the day on which all was made) to
    `ends_on` (300 days on), with one limit. The rest goes to make_project.
    """
    with time_machine.travel(timezone.now() - timedelta(days=days_ago), tick=False):
        taxon = taxon or make_taxon()
        procedure = procedure or make_procedure()
        kept = list(places) or [make_enclosure()]
        made = make_plan_accepted(
            taxon=taxon, procedure=procedure, places=kept, animals=max_animals, **project
        )
        lead, student = lead_of(made), student_of(made)
        curator = make_person(Role.CURATOR)
        state_needs(made, "research-committee", "data-agreement", "induction", by=lead)
        body, chair, member = make_body()
        approval = make_request(
            made,
            body,
            places=kept,
            starts_on=starts_on,
            ends_on=ends_on,
            weekdays=weekdays,
            max_severity=procedure.severity if max_severity is None else max_severity,
            people=people,
        )
        actions.add_limit(
            approval,
            taxon=taxon,
            life_stage=life_stage,
            procedure=procedure,
            max_animals=max_animals,
            max_contacts_each=max_contacts_each,
            by=lead,
        )
        screen_limits(approval, by=chair)
        actions.submit_approval(approval, by=lead)
        actions.grant_approval(
            approval,
            decision="Sound.",
            conditions=conditions,
            deciders=[chair, member],
            by=chair,
        )
        sign_agreement(made, terms="open", signed_name=student.name, by=student)
        induct(student, by=curator)
    return World(
        project=fresh_project(made),
        lead=lead,
        student=student,
        curator=curator,
        approval=Approval.objects.get(pk=approval.pk),
        body=body,
        chair=chair,
        member=member,
        taxon=taxon,
        procedure=procedure,
        place=kept[0],
    )


def induct(person: Person, *, by: Person, days: int = 365) -> None:
    """Record an induction of a person that holds from today for so many days."""
    today = timezone.localdate()
    induct_person(
        person,
        about="the ray pools",
        given_on=today,
        expires_on=today + timedelta(days=days),
        by=by,
    )


def make_collecting(*, days_ago: int = 0, **more: Any) -> World:
    """Give a project that collects; see make_ready for what may be said.

    With `days_ago` all was done so many days ago, so that days since then are covered.
    """
    world = make_ready(days_ago=days_ago, **more)
    with time_machine.travel(timezone.now() - timedelta(days=days_ago), tick=False):
        actions.start_project(world.project, by=world.lead)
    return replace(world, project=fresh_project(world.project))
