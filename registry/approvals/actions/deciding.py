"""Deeds of the body that decides: changes asked for, approved, refused."""

from collections.abc import Iterable, Sequence
from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.approvals.models import Approval, Change, Condition, chosen
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Member, Project
from registry.transitions import follows, locked, locked_all, move, reasoned


def _took_part(approval: Approval, deciders: Iterable[Person], what: str, by: Person) -> list[int]:
    """Give the numbers of those who took part, once they make a quorum of the unconcerned."""
    took_part = sorted({one.pk for one in deciders} | {by.pk})
    seated = set(
        approval.body.seats.select_for_update()
        .filter(ended_on=None, person__in=took_part)
        .values_list("person", flat=True)
    )
    concerned = set(
        Member.objects.live()
        .filter(project__in=approval.projects.all(), person__in=took_part)
        .values_list("person", flat=True)
    )
    unfit = [pk for pk in took_part if pk not in seated or pk in concerned]
    if unfit:
        names = ", ".join(Person.objects.filter(pk__in=unfit).values_list("name", flat=True))
        raise Unsound(
            what,
            _(
                "%(names)s may not take part: only seated members decide, and nobody decides "
                "on a project of their own."
            )
            % {"names": names},
            "Leave them out; the quorum must be met without them.",
            fields={"deciders": _("%(names)s may not take part.") % {"names": names}},
        )
    if len(took_part) < approval.body.quorum:
        raise Unsound(
            what,
            _("%(number)s took part, and %(body)s decides with at least %(quorum)s.")
            % {"number": len(took_part), "body": approval.body, "quorum": approval.body.quorum},
            "Name everyone who took part, or decide when enough can.",
            fields={
                "deciders": _("At least %(quorum)s, the chair included.")
                % {"quorum": approval.body.quorum}
            },
        )
    return took_part


def _under_decision(approval: Approval, verb: str) -> Approval:
    """Give the request locked, and with it the one that it amends, its projects and its body."""
    ids = [pk for pk in (approval.pk, approval.amends_id) if pk is not None]
    rows = {one.pk: one for one in locked_all(Approval, ids)}
    approval = rows[approval.pk]
    if approval.amends_id is not None:
        approval.amends = rows[approval.amends_id]
    locked_all(Project, list(approval.projects.values_list("pk", flat=True)))
    approval.body = locked(approval.body)
    follows(approval, verb)
    return approval


def _decided(
    approval: Approval, verb: Verb, took_part: list[int], reason: str, by: Person
) -> tuple[str, str]:
    before, after = move(approval, verb.split(".")[1])
    approval.decided_by, approval.decided_at = by, timezone.now()
    approval.decision = reason
    approval.save(update_fields=["decided_by", "decided_at", "decision"])
    approval.deciders.set(took_part)
    return before, after


@transaction.atomic
def return_approval(
    approval: Approval, *, reason: str, changes: Iterable[str] = (), by: Person
) -> Approval:
    """Ask for changes before a decision, point by point; each is answered before it comes back.

    Refused when: there is no reason.
    """
    require(by, Verb.APPROVAL_RETURN, approval)
    approval = locked(approval)
    reason = reasoned(approval, "return", reason)
    before, after = move(approval, "return")
    points = [
        Change.objects.create(approval=approval, text=text.strip(), asked_by=by)
        for text in changes
        if text.strip()
    ]
    record(
        Verb.APPROVAL_RETURN,
        approval,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=points,
    )
    return approval


@transaction.atomic
def grant_approval(
    approval: Approval,
    *,
    decision: str,
    conditions: Sequence[tuple[str, date | None]] = (),
    deciders: Iterable[Person] = (),
    by: Person,
) -> Approval:
    """Approve a request as its body's chair, with conditions as lines.

    Refused when: someone who took part has no seat, or is a member of a covered project; there is
    no quorum; its last day has passed; a condition is empty or due in the past; it amends an
    approval that is not in force, or from a day that has passed.
    """
    require(by, Verb.APPROVAL_APPROVE, approval)
    approval = _under_decision(approval, "approve")
    what = "The approval was not granted."
    took_part = _took_part(approval, deciders, what, by)
    today = timezone.localdate()
    if approval.ends_on < today:
        raise Unsound(
            what,
            "The last day that was asked for has passed.",
            "Ask for changes, so that the applicant gives later days.",
        )
    if any(not text.strip() or (due and due < today) for text, due in conditions):
        raise Unsound(
            what,
            "A condition has no words, or is due on a day that has passed.",
            "Write each condition out, with a day from today on, or none.",
        )
    amended = _amended(approval, what, today)
    before, after = _decided(approval, Verb.APPROVAL_APPROVE, took_part, decision.strip(), by)
    written = [
        Condition.objects.create(approval=approval, text=text.strip(), due_on=due)
        for text, due in conditions
    ]
    if amended is not None:
        amended.superseded_on = approval.starts_on
        amended.superseded_recorded_at = approval.decided_at
        amended.save(update_fields=["superseded_on", "superseded_recorded_at"])
    record(
        Verb.APPROVAL_APPROVE,
        approval,
        by=by,
        before=before,
        after=after,
        reason=decision.strip(),
        touched=[*written, *([amended] if amended else [])],
        deciders=took_part,
        **chosen(approval),
    )
    return approval


def _amended(approval: Approval, what: str, today: date) -> Approval | None:
    """Give the approval that this request amends, once it can be replaced."""
    amended = approval.amends
    if amended is None:
        return None
    if approval.starts_on < today:
        raise Unsound(
            what,
            "The amendment would begin on a day that has passed, and change what held then.",
            "Ask for changes, so that it begins today or later.",
        )
    if amended.state != "approved" or amended.superseded_on is not None:
        raise Conflict(
            what,
            _(
                "“%(amended)s”, which it amends, is not in force: it was suspended, ended or "
                "amended."
            )
            % {"amended": amended},
            "Look at that approval first.",
        )
    return amended


@transaction.atomic
def refuse_approval(
    approval: Approval, *, reason: str, deciders: Iterable[Person] = (), by: Person
) -> Approval:
    """Refuse a request as its body's chair.

    Refused when: there is no reason; someone who took part has no seat, or is a member of a covered
    project; there is no quorum.
    """
    require(by, Verb.APPROVAL_REFUSE, approval)
    approval = _under_decision(approval, "refuse")
    reason = reasoned(approval, "refuse", reason)
    took_part = _took_part(approval, deciders, "The request was not refused.", by)
    before, after = _decided(approval, Verb.APPROVAL_REFUSE, took_part, reason, by)
    record(
        Verb.APPROVAL_REFUSE,
        approval,
        by=by,
        before=before,
        after=after,
        reason=reason,
        deciders=took_part,
    )
    return approval
