"""That a record never was: nothing hangs on it, its arrival is reversed, its code is free."""

from collections.abc import Sequence
from itertools import batched
from typing import Any

from django.db import models
from django.db.models import Count, F, Q, Value, prefetch_related_objects
from django.db.models.functions import Cast, Concat, Left
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Event, Mark, Parentage
from registry.errors import Conflict
from registry.people.models import Person
from registry.search import index as search
from registry.transitions import move_all

_ITS_OWN = (Event, Mark)
"""What undoing an arrival reverses or ends itself."""


AT_ONCE = 500
"""Rows of one UPDATE."""
_KEPT = 22
"""Letters of a code that stay before the mark: with a key of eight digits it fills its column."""


def named_elsewhere(model: type[models.Model], of: Q) -> tuple[Any, str] | None:
    """Give the first of some rows that something else names, and what that is; else None.

    Every relation to the model is asked, also those of slices above that it does not know: one
    query each, whatever the number of rows.
    """
    rows = model._default_manager.filter(of)
    kind = str(model._meta.model_name)
    standing = Event.objects.standing().filter(**{f"{kind}__in": rows.values("pk")})
    again = standing.order_by().values(kind).annotate(number=Count("pk")).filter(number__gt=1)
    found = again.values_list(kind, flat=True).first()
    if found is not None:
        return model._default_manager.get(pk=found), "something happened to it since"
    for relation in model._meta.related_objects:
        if relation.related_model in _ITS_OWN:
            continue
        other: Any = relation.related_model
        named = other._default_manager.filter(**{f"{relation.field.name}__in": rows.values("pk")})
        if other is Parentage:
            # Who its own parents are goes with it; whose parent it is does not, but among these.
            named = named.filter(replaced_at=None).exclude(**{f"{kind}__in": rows.values("pk")})
        key = named.order_by().values_list(relation.field.name, flat=True).first()
        if key is not None:
            return model._default_manager.get(pk=key), str(other._meta.verbose_name)
    return None


def parted_code(row: Any) -> str:
    """Give the code that a row keeps when its own is freed for another.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> parted_code(SimpleNamespace(code="UR-1", pk=12))
    'UR-1 (undone 12)'
    """
    return f"{row.code[:_KEPT]} (undone {row.pk})"


def parted_in_database() -> Any:
    """Give the same as an expression, for many rows in one UPDATE."""
    key = Cast("pk", models.CharField())
    return Concat(Left("code", _KEPT), Value(" (undone "), key, Value(")"))


def untouched(model: type[models.Model], of: Q, said: str, what: str) -> None:
    """Refuse where more is recorded of a row than that it came."""
    found = named_elsewhere(model, of)
    if found is not None:
        row, by_what = found
        raise Conflict(
            what,
            _("More is recorded of %(row)s than that it came: %(by_what)s.")
            % {"row": row, "by_what": by_what},
            _("Undo that first where it was a mistake too; else %(said)s.") % {"said": said},
        )


def never_here(rows: Sequence[Any], reason: str, by: Person) -> dict[tuple[str, int], list[Any]]:
    """Reverse the arrivals of locked rows of one kind, end their marks and free their codes."""
    kind = str(rows[0].kind)
    touched: dict[tuple[str, int], list[Any]] = {(kind, row.pk): [] for row in rows}
    keys = [row.pk for row in rows]
    for row in rows:
        row.code, row.left_on, row.enclosure = parted_code(row), row.arrived_on, None
    arrivals: list[Event] = []
    marks: list[Mark] = []
    for some in batched(keys, AT_ONCE):
        of = type(rows[0]).objects.filter(pk__in=some)
        of.update(code=parted_in_database(), left_on=F("arrived_on"), enclosure=None)
        arrivals += Event.objects.standing().filter(**{f"{kind}__in": some})
        if kind == "animal":
            marks += Mark.objects.filter(animal__in=some, ended_on=None)
    reversing = Event.objects.bulk_create(
        [_reversed(one, reason, by) for one in arrivals], batch_size=AT_ONCE
    )
    if marks:
        move_all(marks, "end")
    today, now = timezone.localdate(), timezone.now()
    for mark in marks:
        mark.ended_on, mark.end_reason = today, reason
        touched[kind, mark.animal_id].append(mark)
    for some in batched([mark.pk for mark in marks], AT_ONCE):
        Mark.objects.filter(pk__in=some).update(ended_on=today, end_reason=reason)
    for some in batched(keys, AT_ONCE):
        parents = list(Parentage.objects.standing().filter(**{f"{kind}__in": some}))
        Parentage.objects.filter(pk__in=[told.pk for told in parents]).update(replaced_at=now)
        for told in parents:
            told.replaced_at = now
            touched[kind, getattr(told, f"{kind}_id")].append(told)
    for event in (*arrivals, *reversing):
        touched[kind, getattr(event, f"{kind}_id")].append(event)
    worded = ("taxon", "marks") if kind == "animal" else ("taxon",)
    for some in batched(rows, AT_ONCE):
        prefetch_related_objects(list(some), *worded)
    search.rewrite(rows)
    return touched


def _reversed(event: Event, reason: str, by: Person) -> Event:
    return Event(
        animal_id=event.animal_id,
        group_id=event.group_id,
        sort=event.sort,
        happened_on=event.happened_on,
        enclosure_id=event.enclosure_id,
        males=-event.males,
        females=-event.females,
        unknown=-event.unknown,
        born_on=event.born_on,
        note=reason,
        recorded_by=by,
        reverses=event,
    )
