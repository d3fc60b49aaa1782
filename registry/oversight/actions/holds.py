"""Deeds that hold all records of a project, and let them go again."""

from django.db import transaction
from django.utils import timezone

from registry.errors import Unsound
from registry.ledger.actions import record
from registry.oversight.models import Hold
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.transitions import follows, locked, move, reasoned


@transaction.atomic
def hold_records(project: Project, *, why: str, by: Person) -> Hold:
    """Hold all records of a project: no version of its data is erased while it stands.

    Refused when: there is no reason.
    """
    require(by, Verb.PROJECT_HOLD_RECORDS, project)
    project = locked(project)
    follows(project, "hold_records")
    if not why.strip():
        raise Unsound(
            "The records are not held.",
            "No reason was given, and others will ask for it.",
            "Write why, in a sentence.",
            fields={"why": "Write why."},
        )
    hold = Hold.objects.create(project=project, why=why.strip(), set_by=by)
    record(Verb.PROJECT_HOLD_RECORDS, hold, by=by, after=hold.state, reason=hold.why)
    return hold


@transaction.atomic
def lift_hold(hold: Hold, *, reason: str, by: Person) -> Hold:
    """Lift a hold; the rules of retention hold again.

    Refused when: there is no reason.
    """
    require(by, Verb.HOLD_LIFT, hold)
    hold = locked(hold)
    reason = reasoned(hold, "lift", reason)
    before, after = move(hold, "lift")
    hold.lifted_at = timezone.now()
    hold.save(update_fields=["lifted_at"])
    record(Verb.HOLD_LIFT, hold, by=by, before=before, after=after, reason=reason)
    return hold
