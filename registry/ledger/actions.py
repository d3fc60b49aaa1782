"""Write to the ledger. This is the one place that does, and it comes last in a deed."""

import hashlib
import secrets
from collections.abc import Iterable
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection, models
from django.utils import timezone

from registry.ledger.chain import START, canonical, digest_of, reason_digest
from registry.ledger.models import Entry, subject_of

# An arbitrary number, the same everywhere: who holds this lock holds the ledger's head.
_HEAD_LOCK = 7_214_355_001


def subject_digest(obj: models.Model) -> str:
    """Give the digest of an object's own columns as the database holds them now."""
    left_out: Iterable[str] = getattr(obj, "not_in_digest", ())
    names = [field.attname for field in obj._meta.concrete_fields if field.attname not in left_out]
    row = type(obj)._default_manager.filter(pk=obj.pk).values(*names).first()
    return digest_of_row(row) if row else ""


def digest_of_row(row: dict[str, Any]) -> str:
    """Give the digest of one row's columns."""
    plain = {name: _plain(value) for name, value in row.items()}
    return hashlib.sha256(canonical(plain).encode()).hexdigest()


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, str | int | bool | list | dict):
        return value
    if isinstance(value, float):
        return repr(value)
    return str(DjangoJSONEncoder().default(value))


def record(
    verb: str,
    obj: models.Model,
    *,
    by: Any,
    before: str = "",
    after: str = "",
    reason: str = "",
    touched: Iterable[models.Model] = (),
    project: int | None = None,
    is_confidential: bool = False,
    **details: Any,
) -> Entry:
    """Record a deed as the newest entry of the chain; call it last, inside the deed's transaction.

    `touched` are the other rows that the deed wrote; `project` is the number of the project that
    the deed belongs to, worked out from the object where it can be; `details` are plain facts.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("A deed is recorded inside its own transaction.")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_HEAD_LOCK])
    last = Entry.objects.order_by("-number").values("number", "digest").first()
    number, previous = (last["number"] + 1, last["digest"]) if last else (1, START)
    if project is None:
        project = project_of(obj)
    salt = secrets.token_hex(16) if reason else ""
    now = timezone.now()
    text = canonical(
        {
            "number": number,
            "at": now.isoformat(),
            "verb": str(verb),
            "subject": subject_of(obj),
            "actor": by.pk,
            "before": before,
            "after": after,
            "project": project,
            "reason": reason_digest(reason, salt),
            "digest": subject_digest(obj),
            "touched": {subject_of(one): subject_digest(one) for one in touched},
            "details": {name: _plain(value) for name, value in details.items()},
            "confidential": is_confidential,
        }
    )
    return Entry.objects.create(
        number=number,
        at=now,
        verb=str(verb),
        subject=subject_of(obj),
        actor=by,
        before=before,
        after=after,
        project_number=project,
        text=text,
        previous=previous,
        digest=digest_of(text, previous),
        reason=reason,
        salt=salt,
        is_confidential=is_confidential,
    )


def project_of(obj: models.Model) -> int | None:
    """Give the number of the project that an object belongs to, by the path in its `reach`."""
    path = getattr(obj, "reach", {}).get("project")
    if path is None:
        return None
    if path == "":
        return int(obj.pk)
    found = (
        type(obj)._default_manager.filter(pk=obj.pk).order_by().values_list(path, flat=True).first()
    )
    return int(found) if found is not None else None
