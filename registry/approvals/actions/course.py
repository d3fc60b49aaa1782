"""Deeds on an approval that was granted: suspension, its end, evidence for its conditions."""

from django.db import transaction
from django.utils import timezone

from registry.approvals.models import Approval, Condition, Pause
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import follows, locked, move, reasoned


@transaction.atomic
def suspend_approval(approval: Approval, *, reason: str, by: Person) -> Approval:
    """Suspend an approval from today; care of the animals goes on.

    Refused when: there is no reason.
    """
    require(by, Verb.APPROVAL_SUSPEND, approval)
    approval = locked(approval)
    reason = reasoned(approval, "suspend", reason)
    before, after = move(approval, "suspend")
    pause = Pause.objects.create(approval=approval)
    record(
        Verb.APPROVAL_SUSPEND,
        approval,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=[pause],
    )
    return approval


@transaction.atomic
def reinstate_approval(approval: Approval, *, reason: str, by: Person) -> Approval:
    """Put a suspended approval in force again from today.

    Refused when: there is no reason.
    """
    require(by, Verb.APPROVAL_REINSTATE, approval)
    approval = locked(approval)
    reason = reasoned(approval, "reinstate", reason)
    before, after = move(approval, "reinstate")
    pause = approval.pauses.select_for_update().get(ended_on=None)
    pause.ended_on, pause.end_recorded_at = timezone.localdate(), timezone.now()
    pause.save(update_fields=["ended_on", "end_recorded_at"])
    record(
        Verb.APPROVAL_REINSTATE,
        approval,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=[pause],
    )
    return approval


def _ended(approval: Approval, verb: str) -> tuple[str, str]:
    before, after = move(approval, verb)
    approval.ended_on, approval.ended_recorded_at = timezone.localdate(), timezone.now()
    approval.save(update_fields=["ended_on", "ended_recorded_at"])
    return before, after


@transaction.atomic
def withdraw_approval(approval: Approval, *, reason: str, by: Person) -> Approval:
    """Withdraw an approval or a request; from today nothing is covered by it.

    Refused when: there is no reason.
    """
    require(by, Verb.APPROVAL_WITHDRAW, approval)
    approval = locked(approval)
    reason = reasoned(approval, "withdraw", reason)
    before, after = _ended(approval, "withdraw")
    record(Verb.APPROVAL_WITHDRAW, approval, by=by, before=before, after=after, reason=reason)
    return approval


@transaction.atomic
def close_approval(approval: Approval, *, by: Person) -> Approval:
    """Close an approval whose work is done."""
    require(by, Verb.APPROVAL_CLOSE, approval)
    approval = locked(approval)
    before, after = _ended(approval, "close")
    record(Verb.APPROVAL_CLOSE, approval, by=by, before=before, after=after)
    return approval


@transaction.atomic
def give_evidence(
    approval: Approval, *, condition: Condition, evidence: str, by: Person
) -> Approval:
    """Give the evidence that a condition is met.

    Refused when: it is another approval's condition; it is met already; no evidence is given.
    """
    require(by, Verb.APPROVAL_GIVE_EVIDENCE, approval)
    approval = locked(approval)
    follows(approval, "give_evidence")
    condition = locked(condition)
    what = "The evidence was not recorded."
    if condition.approval_id != approval.pk or condition.met_on is not None:
        raise Conflict(
            what,
            "It is met already, or belongs to another approval.",
            "Look at the page again.",
        )
    if not evidence.strip():
        raise Unsound(
            what,
            "There is no evidence in it.",
            "Say what shows that it is met, and where that is kept.",
            fields={"evidence": "Say what shows it."},
        )
    condition.evidence, condition.met_on, condition.met_by = (
        evidence.strip(),
        timezone.localdate(),
        by,
    )
    condition.save(update_fields=["evidence", "met_on", "met_by"])
    record(
        Verb.APPROVAL_GIVE_EVIDENCE, approval, by=by, touched=[condition], condition=condition.pk
    )
    return approval
