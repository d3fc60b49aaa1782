"""Move an object along its lifecycle: the table is asked, then one conditional UPDATE."""

from collections.abc import Sequence
from datetime import date, datetime
from itertools import batched
from typing import Any

from django.db.models import F, Model
from django.utils.translation import gettext as _

from registry import saying
from registry.errors import Conflict, Unsound
from registry.ledger.models import Entry
from registry.saying import time_said

_AT_ONCE = 500


def locked[M: Model](obj: M) -> M:
    """Give the row anew, locked until the transaction ends."""
    return type(obj)._default_manager.select_for_update().get(pk=obj.pk)


def locked_all[M: Model](model: type[M], ids: Any) -> list[M]:
    """Give these rows locked, in the order of their ids: no two deeds wait in a circle."""
    return list(model._default_manager.select_for_update().filter(pk__in=ids).order_by("pk"))


def follows(obj: Any, verb: str) -> str:
    """Give the state that a verb leads to from the state in which the object is.

    Raises
    ------
    Conflict
        When the verb cannot be done in this state; it says who moved the object there, and when.
    """
    try:
        return str(obj.lifecycle.after(str(obj.state), verb))
    except Conflict as refused:
        moved = moved_by(obj)
        if not moved:
            raise
        raise Conflict(refused.what, f"{refused.why} {moved}", "Look at the page again.") from None


def moved_by(obj: Any) -> str:
    """Say who moved an object into its state, and when; nothing of what is confidential."""
    entry = (
        Entry.objects.about(obj)
        .filter(after=obj.state)
        .exclude(before=F("after"))
        .exclude(before="")
        .select_related("actor")
        .order_by("-number")
        .first()
    )
    if entry is None or entry.is_confidential:
        return ""
    return (
        f"The last step, “{entry.verb_said}”, was taken by {entry.actor} on"
        f" {moment_said(entry.at)}."
    )


def moment_said(at: datetime) -> str:
    """Write a moment as a refusal does: 4 May 2026 at 14:03."""
    return f"{day_said(at)} at {time_said(at)}"


def day_said(day: date) -> str:
    """Write a day as a refusal does, which a terminal too can show: 4 May 2026."""
    return saying.day_said(day).replace(saying.NO_BREAK, " ")


def move(obj: Any, verb: str) -> tuple[str, str]:
    """Move an object by a verb of its lifecycle, and give the states before and after.

    Raises
    ------
    Conflict
        When the verb cannot be done in this state, or someone else was first.
    """
    before = str(obj.state)
    after = follows(obj, verb)
    moved = type(obj)._default_manager.filter(pk=obj.pk, state=before).update(state=after)
    if not moved:
        now = type(obj)._default_manager.get(pk=obj.pk)
        first = f"Someone was first: it is {str(now.state).replace('_', ' ')} now."
        raise Conflict(
            _("The step “%(verb)s” was not taken on this %(kind)s.")
            % {"verb": verb.replace("_", " "), "kind": obj.lifecycle.kind},
            f"{first} {moved_by(now)}".strip(),
            "Look at the page again.",
        )
    obj.state = after
    return before, after


def move_all(rows: Sequence[Any], verb: str) -> tuple[str, str]:
    """Move many rows of one kind, all in one state, by a verb; as `move` does, in one UPDATE.

    Raises
    ------
    Conflict
        When the verb cannot be done in the state of one of them, or someone else was first.
    """
    first = rows[0]
    before, after = str(first.state), ""
    for row in rows:
        after = follows(row, verb)
        if str(row.state) != before:
            raise ValueError("rows in several states are moved state by state")
    keys = [row.pk for row in rows]
    manager = type(first)._default_manager
    moved = sum(
        manager.filter(pk__in=some, state=before).update(state=after)
        for some in batched(keys, _AT_ONCE)
    )
    if moved != len(keys):
        raise Conflict(
            _("The step “%(verb)s” was not taken on these %(kind)ss.")
            % {"verb": verb.replace("_", " "), "kind": first.lifecycle.kind},
            "Someone was first with one of them.",
            "Look at the page again.",
        )
    for row in rows:
        row.state = after
    return before, after


def reasoned(obj: Any, verb: str, reason: str) -> str:
    """Give the reason without its margins, where the lifecycle asks for one.

    Raises
    ------
    Unsound
        When the verb requires a reason and none was given.
    """
    if verb in obj.lifecycle.reasons and not reason.strip():
        raise Unsound(
            _("The step “%(verb)s” was not taken on this %(kind)s.")
            % {"verb": verb.replace("_", " "), "kind": obj.lifecycle.kind},
            "No reason was given, and others will read it.",
            "Write why, in a sentence.",
            fields={"reason": "Write why."},
        )
    return reason.strip()
