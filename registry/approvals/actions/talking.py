"""Deeds by which a request is talked over: comments, answers to points, items of the lists."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.approvals.checklists import ITEMS
from registry.approvals.models import Approval, Change, Comment, Item
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import follows, locked


def _written(text: str, what: str, field: str) -> str:
    if not text.strip():
        raise Unsound(
            what,
            "There is nothing in it.",
            "Write it, then send it.",
            fields={field: "Write it here."},
        )
    return text.strip()


@transaction.atomic
def comment_on(approval: Approval, *, text: str, by: Person) -> Comment:
    """Say something of a request or an approval, for all who may read it.

    Refused when: there is nothing in it.
    """
    require(by, Verb.APPROVAL_COMMENT, approval)
    approval = locked(approval)
    follows(approval, "comment")
    text = _written(text, "The comment was not kept.", "text")
    comment = Comment.objects.create(approval=approval, text=text, said_by=by)
    record(Verb.APPROVAL_COMMENT, approval, by=by, touched=[comment], comment=comment.pk)
    return comment


@transaction.atomic
def answer_change(approval: Approval, *, change: Change, answer: str, by: Person) -> Change:
    """Answer one point that the body wants changed: what was done about it, or why it was not.

    Refused when: it is another request's point; it is answered already; there is no answer in it.
    """
    require(by, Verb.APPROVAL_ANSWER_CHANGE, approval)
    approval = locked(approval)
    follows(approval, "answer_change")
    change = locked(change)
    what = "The point was not answered."
    if change.approval_id != approval.pk or change.answered_at is not None:
        raise Conflict(
            what,
            "It is answered already, or belongs to another request.",
            "Look at the page again.",
        )
    change.answer = _written(answer, what, "answer")
    change.answered_by, change.answered_at = by, timezone.now()
    change.save(update_fields=["answer", "answered_by", "answered_at"])
    record(Verb.APPROVAL_ANSWER_CHANGE, approval, by=by, touched=[change], change=change.pk)
    return change


@transaction.atomic
def write_item(approval: Approval, *, code: str, text: str, by: Person) -> Item:
    """Write to an item of the lists that the plan does not answer; what stood there is replaced.

    Refused when: the lists have no such item, or ask it only of data; there is nothing in it.
    """
    require(by, Verb.APPROVAL_WRITE_ITEM, approval)
    approval = locked(approval)
    follows(approval, "write_item")
    what = "The item was not written."
    if code not in ITEMS or ITEMS[code].is_later:
        raise Unsound(
            what,
            _("“%(code)s” is no item that is asked of a request.") % {"code": code},
            "Choose one of the list.",
            fields={"code": "Choose one of the list."},
        )
    item = approval.items.filter(code=code).first() or Item(approval=approval, code=code)
    item.text = _written(text, what, "text")
    item.written_by, item.written_at = by, timezone.now()
    item.save()
    record(Verb.APPROVAL_WRITE_ITEM, approval, by=by, touched=[item], code=code)
    return item
