"""Whether anything hangs on an animal or a group beside its arrival, and the code that is freed."""

from typing import Any

from django.db import models
from django.db.models import Count, Q, Value
from django.db.models.functions import Cast, Concat, Left

from registry.animals.models import Event, Mark, Parentage

_ITS_OWN = (Event, Mark)
"""What undoing an arrival reverses or ends itself."""


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
