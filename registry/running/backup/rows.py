"""A row as one line of JSON that says the same on every database, and back; and one moment."""

import json
from base64 import b64encode
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date, time, timedelta
from decimal import Decimal
from itertools import batched
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import connection, models, transaction
from django.db.models import Value
from django.utils.duration import duration_iso_string
from django.utils.translation import gettext as _

from registry.errors import Unsound
from registry.running.backup.choosing import fields_of, rows_of

AT_ONCE = 500


@contextmanager
def one_moment() -> Iterator[None]:
    """Read the database as it stands at this moment, while others go on writing to it.

    On SQLite a read transaction of the write-ahead log; on PostgreSQL one that is repeatable.
    """
    if connection.in_atomic_block:
        raise RuntimeError("A moment of the database is taken outside every transaction.")
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            # By hand: Django's own transactions here begin by taking the lock of the writers.
            cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("ROLLBACK")
        return
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def lines_of(model: type[models.Model]) -> Iterator[bytes]:
    """Yield each row as a line of JSON: its columns in the order of `fields_of`."""
    names = [field.attname for field in fields_of(model)]
    for row in rows_of(model).values_list(*names).iterator(chunk_size=2000):
        plain = [_plain(value) for value in row]
        yield json.dumps(plain, ensure_ascii=False, allow_nan=False).encode() + b"\n"


def _plain(value: Any) -> Any:
    match value:
        case Decimal() | UUID():
            return str(value)
        case date() | time():
            return value.isoformat()
        case timedelta():
            return duration_iso_string(value)
        case bytes() | memoryview():
            return b64encode(bytes(value)).decode("ascii")
    return value


def write_rows(model: type[models.Model], lines: Iterable[bytes]) -> int:
    """Write lines into a table as rows, and say how many; nothing of the model's own runs.

    Raises
    ------
    Unsound
        When a line is no row of this table.
    """
    fields = fields_of(model)
    quote = connection.ops.quote_name
    columns = ", ".join(quote(str(field.column)) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    table = quote(model._meta.db_table)
    statement = f"INSERT INTO {table} ({columns}) VALUES ({places})"  # noqa: S608  # our own names
    written = 0
    with connection.cursor() as cursor:
        for some in batched(lines, AT_ONCE):
            cursor.executemany(statement, [_row(model, fields, line) for line in some])
            written += len(some)
    return written


def _row(model: type[models.Model], fields: list[models.Field[Any, Any]], line: bytes) -> list[Any]:
    try:
        plain = json.loads(line)
        pairs = zip(fields, plain, strict=True)
        return [field.get_db_prep_save(_read(field, said), connection) for field, said in pairs]
    except (ValueError, TypeError, ValidationError) as fault:
        raise Unsound(
            "The backup was not restored.",
            _("A line of %(label)s cannot be read: %(fault)s")
            % {"label": model._meta.label, "fault": fault},
            "Use another backup; this one was not made by this program as it stands.",
        ) from fault


def _read(field: Any, said: Any) -> Any:
    while isinstance(field, models.ForeignKey):
        field = field.target_field
    if isinstance(field, models.JSONField):
        # In a column that must hold something, None is JSON's own null.
        return Value(None, field) if said is None and not field.null else said
    return None if said is None else field.to_python(said)
