"""Many rows out of few: every row copied under a number of its own, related as the first ones are.

Rows for a count of queries or of milliseconds are not acted, they are copied in the database: what
stands in one copy is what the deeds left in the first.
"""

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from django.apps import apps
from django.db import IntegrityError, connection, models, transaction

type Kind = type[models.Model]
type Spans = Mapping[Kind, int]

NOT_OURS = {"auth", "contenttypes", "sessions", "django_tasks_database", "search"}


def kinds(*left_out: Kind) -> list[Kind]:
    """Give every kind of the site of which there are rows, the tables between them too."""
    found = apps.get_models(include_auto_created=True)
    ours = [one for one in found if one._meta.app_label not in NOT_OURS and one not in left_out]
    return [one for one in ours if one._base_manager.exists()]


def spans_of(found: list[Kind]) -> dict[Kind, int]:
    """Give, for each kind, how far a copy's numbers lie from those of the copy before it."""
    return {
        one: int(one._base_manager.aggregate(most=models.Max("pk"))["most"] or 0)
        for one in found
        if isinstance(one._meta.pk, models.IntegerField | models.ForeignKey)
    }


def column_of(field: Any) -> str:
    """Write the column of a field in the row that is copied."""
    return f"b.{connection.ops.quote_name(field.column)}"


def must_differ(field: Any, under: str = "") -> bool:
    """Say whether a text may stand but once: anywhere, or among the rows that hang on one."""
    return isinstance(field, models.CharField | models.TextField) and _stands_once(field, under)


def _stands_once(field: Any, under: str = "") -> bool:
    meta = field.model._meta
    unique = [one for one in meta.constraints if isinstance(one, models.UniqueConstraint)]
    apart = [one for one in unique if not _relations(field.model, one) - {under}]
    return field.unique or any(field.name in one.fields for one in apart)


def _relations(model: Kind, constraint: models.UniqueConstraint) -> set[str]:
    return {name for name in constraint.fields if model._meta.get_field(name).is_relation}


def insert(
    model: Kind, times: int, value: Callable[[Any], str], *, first: int = 1, only: str = ""
) -> None:
    """Copy the rows of a kind: `value` writes each column of copy n.k, counted from `first`."""
    quote, fields = connection.ops.quote_name, model._meta.concrete_fields
    columns = ", ".join(quote(field.column) for field in fields)
    values = ", ".join(value(field) for field in fields)
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {quote(model._meta.db_table)} ({columns}) "
            f"WITH RECURSIVE n(k) AS (SELECT {first} UNION ALL SELECT k + 1 FROM n "
            f"WHERE k < {first + times - 1}) SELECT {values} "
            f"FROM {quote(model._meta.db_table)} b CROSS JOIN n {only}"
        )


def moved(model: Kind, column: str, spans: Spans, k: str = "n.k") -> str:
    """Write the number of the same row in copy k."""
    return f"{column} + {k} * {spans[model]}" if model in spans else column


def _plain(field: Any, model: Kind, spans: Spans) -> str:
    column = column_of(field)
    if field.primary_key and not field.is_relation:
        return moved(model, column, spans)
    if field.is_relation:
        return moved(field.related_model, column, spans)
    if isinstance(field, models.IntegerField) and _stands_once(field):
        return f"{column} + n.k"
    return f"{column} || '-' || n.k" if must_differ(field) else column


def copy_everything(times: int, *, first: int = 1, spans: Spans | None = None) -> Spans:
    """Copy every row of every kind so many times; give the spans, for copies that follow."""
    spans = spans or spans_of(kinds())
    with transaction.atomic():
        for model, span in spans.items():
            only = f"WHERE {column_of(model._meta.pk)} <= {span}"
            insert(
                model,
                times,
                lambda field, model=model: _plain(field, model, spans),
                first=first,
                only=only,
            )
    return spans


def copy_inside(times: int, spans: Spans) -> int:
    """Give each first row more of what hangs on it; say how many relations grew.

    The rows that hang on it are copied, under it, and point to other copies for the rest; those
    that others make whole are taken from the copies. Where the database allows but one, there
    stays one. There must be as many copies of everything.
    """
    grown, beyond = 0, 10_000
    for model in spans:
        for parent in model._meta.concrete_fields:
            if not parent.is_relation or parent.one_to_one or parent.primary_key:
                continue
            beyond += times
            try:
                with transaction.atomic():
                    _grow(model, parent, times, spans, beyond)
            except IntegrityError:
                continue
            grown += 1
    return grown


def _grow(model: Kind, parent: Any, times: int, spans: Spans, beyond: int) -> None:
    """Hang more rows of a kind under the first ones; whole ones that others make whole."""
    own, under = column_of(model._meta.pk), column_of(parent)
    if not _is_made_whole(model):
        value = partial(_hung_on, parent, spans, f"(n.k + {beyond})")
        insert(model, times, value, only=f"WHERE {own} <= {spans[model]} AND {under} > 0")
        return
    span = spans.get(parent.related_model)
    if span is None:
        return
    quote = connection.ops.quote_name
    column, key = quote(parent.column), quote(model._meta.pk.column)
    with connection.cursor() as cursor:
        cursor.execute(
            f"UPDATE {quote(model._meta.db_table)} SET {column} = ({column} - 1) % {span} + 1 "
            f"WHERE {key} > {spans[model]} AND {column} > 0"
        )


def _is_made_whole(model: Kind) -> bool:
    """Say whether a row of another kind stands for each of these: a copy alone would lack it."""
    relations = model._meta.related_objects
    return any(one.one_to_one and one.related_model is not model for one in relations)


def _hung_on(parent: Any, spans: Spans, beyond: str, field: Any) -> str:
    column = column_of(field)
    if field.primary_key:
        return moved(field.model, column, spans, beyond)
    if field is parent:
        return column
    if field.is_relation:
        return moved(field.related_model, column, spans)
    return f"{column} || '.' || {beyond}" if must_differ(field, parent.name) else column
