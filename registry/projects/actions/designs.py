"""Deeds on the design of a plan: a sum is taken in or dropped, an allocation is revealed."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from registry import design
from registry.errors import Conflict
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Allocation, DesignPart, Project
from registry.transitions import follows, locked, move, reasoned


@transaction.atomic
def use_design(project: Project, *, part: str, given: Mapping[str, Any], by: Person) -> Project:
    """Take a sum into the plan in place of the last one of its kind; it is reckoned anew.

    Refused when: a number is out of range; the plan is under review or accepted.
    """
    require(by, Verb.PROJECT_USE_DESIGN, project)
    project = locked(project)
    follows(project, "use_design")
    kept = design.reckoned(part, given)
    last = list(project.plan.design_parts.filter(part=part, is_dropped=False))
    for one in last:
        one.is_dropped = True
        one.save(update_fields=["is_dropped"])
    taken = DesignPart.objects.create(
        plan=project.plan, part=part, given=given, told=kept.told, said=kept.said, taken_by=by
    )
    record(
        Verb.PROJECT_USE_DESIGN,
        project,
        by=by,
        touched=[taken, *last],
        part=part,
        said=kept.said,
    )
    return project


@transaction.atomic
def drop_design(project: Project, *, part: str, by: Person) -> Project:
    """Drop a sum from the plan.

    Refused when: the plan has none of that kind.
    """
    require(by, Verb.PROJECT_DROP_DESIGN, project)
    project = locked(project)
    follows(project, "drop_design")
    last = project.plan.design_parts.filter(part=part, is_dropped=False).first()
    if last is None:
        raise Conflict("It was not dropped.", "It is not in this plan.", "Look at the page again.")
    last.is_dropped = True
    last.save(update_fields=["is_dropped"])
    record(Verb.PROJECT_DROP_DESIGN, project, by=by, touched=[last], part=part)
    return project


@transaction.atomic
def reveal_allocation(allocation: Allocation, *, reason: str, by: Person) -> Allocation:
    """Reveal who got what, with the seed, to everyone who may read the plan.

    Refused when: there is no reason; it was revealed before.
    """
    require(by, Verb.ALLOCATION_REVEAL, allocation)
    allocation = locked(allocation)
    reason = reasoned(allocation, "reveal", reason)
    before, after = move(allocation, "reveal")
    allocation.revealed_at, allocation.revealed_by = timezone.now(), by
    allocation.save(update_fields=["revealed_at", "revealed_by"])
    record(
        Verb.ALLOCATION_REVEAL,
        allocation,
        by=by,
        before=before,
        after=after,
        reason=reason,
        commitment=allocation.commitment,
        seed=allocation.seed,
    )
    return allocation
