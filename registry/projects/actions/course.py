"""Deeds on a project's course: halts for welfare, and its end."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.errors import Conflict
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Role, Verb, require
from registry.projects.models import Halt, Project
from registry.transitions import follows, locked, move, reasoned


@transaction.atomic
def halt_project(project: Project, *, reason: str, by: Person) -> Project:
    """Halt data collection for welfare; care of the animals goes on.

    Refused when: there is no reason.
    """
    require(by, Verb.PROJECT_HALT, project)
    project = locked(project)
    reason = reasoned(project, "halt", reason)
    before, after = move(project, "halt")
    halt = Halt.objects.create(project=project, halted_by=by, why=reason)
    record(
        Verb.PROJECT_HALT,
        project,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=[halt],
    )
    return project


@transaction.atomic
def lift_halt(project: Project, *, reason: str, by: Person) -> Project:
    """Assent to lifting a halt; it lifts when a vet and a chair, two people, have both assented.

    Refused when: one has assented already; the part in which one could assent is taken; one is a
    member of the project; there is no reason.
    """
    require(by, Verb.PROJECT_RESUME, project)
    project = locked(project)
    follows(project, "resume")
    reason = reasoned(project, "resume", reason)
    halt = project.halts.select_for_update().filter(ended_on=None).get()
    part = _assent(project, halt, by)
    setattr(halt, part, by)
    before = after = project.state
    if halt.vet_assent_id and halt.body_assent_id:
        before, after = move(project, "resume")
        halt.ended_on = timezone.localdate()
    halt.save()
    record(
        Verb.PROJECT_RESUME,
        project,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=[halt],
        assent=part,
    )
    return project


def _assent(project: Project, halt: Halt, person: Person) -> str:
    """Give the part in which a person may still assent."""
    what = "Your assent was not recorded."
    if person.pk in {halt.vet_assent_id, halt.body_assent_id}:
        raise Conflict(
            what,
            "You assented already, and two different people are needed.",
            "Ask the other one: a veterinary surgeon and the chair of a body that approved it.",
        )
    chairs = person.seats.filter(
        ended_on=None, is_chair=True, body__in=project.approvals.values("body")
    )
    if Role.VET in person.roles and not halt.vet_assent_id:
        return "vet_assent"
    if chairs.exists() and not halt.body_assent_id:
        return "body_assent"
    raise Conflict(
        what,
        _("%(vet_assent)s has assented in your part already.")
        % {"vet_assent": halt.vet_assent or halt.body_assent},
        "The other part is awaited: a veterinary surgeon or the chair of a body, whoever is left.",
    )


@transaction.atomic
def finish_project(project: Project, *, by: Person) -> Project:
    """Finish collecting; the writing-up begins."""
    require(by, Verb.PROJECT_FINISH, project)
    project = locked(project)
    halts = list(project.halts.select_for_update().filter(ended_on=None))
    before, after = move(project, "finish")
    for halt in halts:
        halt.ended_on = timezone.localdate()
        halt.save(update_fields=["ended_on"])
    record(Verb.PROJECT_FINISH, project, by=by, before=before, after=after, touched=halts)
    return project


@transaction.atomic
def abandon_project(project: Project, *, reason: str, by: Person) -> Project:
    """Abandon a project; its record stays.

    Refused when: there is no reason.
    """
    require(by, Verb.PROJECT_ABANDON, project)
    project = locked(project)
    reason = reasoned(project, "abandon", reason)
    before, after = move(project, "abandon")
    record(Verb.PROJECT_ABANDON, project, by=by, before=before, after=after, reason=reason)
    return project
