"""Write to the ledger. This is the one place that does, and it comes last in a deed."""

import hashlib
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import batched
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection, models
from django.utils import timezone

from registry.ledger.chain import START, canonical, digest_of, reason_digest
from registry.ledger.models import Entry, subject_of

# An arbitrary number, the same everywhere: who holds this lock holds the ledger's head.
_HEAD_LOCK = 7_214_355_001
_AT_ONCE = 500


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
    number, previous = _next()
    if project is None:
        project = project_of(obj)
    salt = secrets.token_hex(16) if reason else ""
    now, others = timezone.now(), list(touched)
    digests = digests_of([obj, *others])
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
            "digest": digests.get(subject_of(obj), ""),
            "touched": {subject_of(one): digests.get(subject_of(one), "") for one in others},
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


def _next() -> tuple[int, str]:
    """Give the number of the next entry and the digest before it, and hold the ledger's head."""
    if not connection.in_atomic_block:
        raise RuntimeError("A deed is recorded inside its own transaction.")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_HEAD_LOCK])
    last = Entry.objects.order_by("-number").values("number", "digest").first()
    return (last["number"] + 1, last["digest"]) if last else (1, START)


@dataclass(frozen=True)
class Made:
    """One of many rows that a deed made or moved at once, for an entry of its own."""

    verb: str
    row: models.Model
    touched: tuple[models.Model, ...] = ()
    after: str = ""
    before: str = ""


def record_all(made: Sequence[Made], *, by: Any, **details: Any) -> None:
    """Record many rows as the newest entries, one each, with few queries; else as `record` does.

    They belong to no project, and are made without a reason.
    """
    number, previous = _next()
    digests = digests_of([one for done in made for one in (done.row, *done.touched)])
    now = timezone.now()
    plain = {name: _plain(value) for name, value in details.items()}
    entries = []
    for at, done in enumerate(made, start=number):
        subject = subject_of(done.row)
        text = canonical(
            {
                "number": at,
                "at": now.isoformat(),
                "verb": str(done.verb),
                "subject": subject,
                "actor": by.pk,
                "before": done.before,
                "after": done.after,
                "project": None,
                "reason": reason_digest("", ""),
                "digest": digests[subject],
                "touched": {subject_of(one): digests[subject_of(one)] for one in done.touched},
                "details": plain,
                "confidential": False,
            }
        )
        digest = digest_of(text, previous)
        entries.append(
            Entry(
                number=at,
                at=now,
                verb=str(done.verb),
                subject=subject,
                actor=by,
                before=done.before,
                after=done.after,
                text=text,
                previous=previous,
                digest=digest,
            )
        )
        previous = digest
    Entry.objects.bulk_create(entries, batch_size=_AT_ONCE)


def digests_of(rows: Iterable[models.Model]) -> dict[str, str]:
    """Give the digests of many rows by their names, as the database holds them now."""
    kinds: dict[type[models.Model], list[Any]] = {}
    for row in rows:
        kinds.setdefault(type(row), []).append(row.pk)
    found = {}
    for model, keys in kinds.items():
        left_out: Iterable[str] = getattr(model, "not_in_digest", ())
        fields = [one for one in model._meta.concrete_fields if one.attname not in left_out]
        names = [one.attname for one in fields]
        key = next(one.attname for one in fields if one.primary_key)
        for some in batched(keys, _AT_ONCE):
            for held in model._default_manager.filter(pk__in=some).values(*names):
                found[f"{model._meta.label_lower}:{held[key]}"] = digest_of_row(held)
    return found


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
