"""Deeds of an auditor, and the answers that a point must have."""

from django.db import transaction
from django.utils import timezone

from registry.ledger.actions import record
from registry.oversight.models import Audit, Breach, Point
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, move


@transaction.atomic
def open_audit(*, title: str, scope: str, by: Person) -> Audit:
    """Open an audit, and say what it looks at."""
    require(by, Verb.AUDIT_OPEN)
    audit = Audit.objects.create(title=title, scope=scope, opener=by)
    search.write(audit)
    record(Verb.AUDIT_OPEN, audit, by=by)
    return audit


@transaction.atomic
def write_point(
    audit: Audit, *, text: str, addressee: Person, breach: Breach | None = None, by: Person
) -> Point:
    """Write a point that the addressee must answer."""
    require(by, Verb.AUDIT_WRITE_POINT, audit)
    point = Point.objects.create(audit=audit, text=text, addressee=addressee, breach=breach)
    record(
        Verb.AUDIT_WRITE_POINT,
        audit,
        by=by,
        touched=[point],
        point=point.pk,
        addressee=addressee.pk,
    )
    return point


@transaction.atomic
def answer_point(point: Point, *, answer: str, by: Person) -> Point:
    """Answer a point that was put to oneself."""
    require(by, Verb.POINT_ANSWER, point)
    point = locked(point)
    before, after = move(point, "answer")
    point.answer, point.answered_at = answer, timezone.now()
    point.save(update_fields=["answer", "answered_at"])
    record(Verb.POINT_ANSWER, point, by=by, before=before, after=after)
    return point


@transaction.atomic
def settle_point(point: Point, *, by: Person) -> Point:
    """Settle a point whose answer holds."""
    require(by, Verb.POINT_SETTLE, point)
    point = locked(point)
    before, after = move(point, "settle")
    record(Verb.POINT_SETTLE, point, by=by, before=before, after=after)
    return point


@transaction.atomic
def reopen_point(point: Point, *, reason: str, by: Person) -> Point:
    """Put a point again, with the reason why its answer does not hold."""
    require(by, Verb.POINT_REOPEN, point)
    point = locked(point)
    before, after = move(point, "reopen")
    record(Verb.POINT_REOPEN, point, by=by, before=before, after=after, reason=reason)
    return point
