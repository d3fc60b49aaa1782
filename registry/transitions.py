"""Move an object along its lifecycle: the table is asked, then one conditional UPDATE."""

from typing import Any

from django.db.models import Model

from registry.errors import Conflict, Unsound


def locked[M: Model](obj: M) -> M:
    """Give the row anew, locked until the transaction ends."""
    return type(obj)._default_manager.select_for_update().get(pk=obj.pk)


def locked_all[M: Model](model: type[M], ids: Any) -> list[M]:
    """Give these rows locked, in the order of their ids: no two deeds wait in a circle."""
    return list(model._default_manager.select_for_update().filter(pk__in=ids).order_by("pk"))


def move(obj: Any, verb: str) -> tuple[str, str]:
    """Move an object by a verb of its lifecycle, and give the states before and after.

    Raises
    ------
    Conflict
        When the verb cannot be done in this state, or someone else was first.
    """
    before = str(obj.state)
    after = obj.lifecycle.after(before, verb)
    moved = type(obj)._default_manager.filter(pk=obj.pk, state=before).update(state=after)
    if not moved:
        now = type(obj)._default_manager.filter(pk=obj.pk).values_list("state", flat=True).first()
        raise Conflict(
            f"The step “{verb.replace('_', ' ')}” was not taken on this {obj.lifecycle.kind}.",
            f"Someone was first: it is {str(now).replace('_', ' ')} now.",
            "Look at the page again.",
        )
    obj.state = after
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
            f"The step “{verb.replace('_', ' ')}” was not taken on this {obj.lifecycle.kind}.",
            "No reason was given, and others will read it.",
            "Write why, in a sentence.",
            fields={"reason": "Write why."},
        )
    return reason.strip()
