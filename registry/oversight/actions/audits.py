"""Deeds of an auditor, and the answers that a point must have."""

from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.design.draws import new_seed, seed_from
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.oversight.auditing import CHANCE, MOST_DRAWN, RISKS, drawn, uses_within
from registry.oversight.models import Audit, AuditDraw, Breach, Point, SampledUse, Use
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, move, reasoned


@transaction.atomic
def open_audit(
    *,
    title: str,
    scope: str,
    from_on: date | None = None,
    to_on: date | None = None,
    by: Person,
) -> Audit:
    """Open an audit, and say what it looks at and which days.

    Refused when: its last day lies before its first.
    """
    require(by, Verb.AUDIT_OPEN)
    if from_on is not None and to_on is not None and to_on < from_on:
        raise Unsound(
            "The audit was not opened.",
            "Its last day lies before its first.",
            "Give a later last day.",
            fields={"to_on": "Before the first day."},
        )
    audit = Audit.objects.create(title=title, scope=scope, from_on=from_on, to_on=to_on, opener=by)
    search.write(audit)
    record(Verb.AUDIT_OPEN, audit, by=by)
    return audit


@transaction.atomic
def draw_uses(audit: Audit, *, how: str, size: int, seed: str = "", by: Person) -> Audit:
    """Draw uses of the audit's days by chance, or on a ground of risk; what was drawn before stays.

    By chance without a seed one is made; it is kept, so that the draw can be made again. On a
    ground, the newest come first.

    Refused when: the audit names no days; it is no way of drawing; the seed cannot be read; none is
    asked for, or more than can be looked at; there is none that was not drawn before.
    """
    require(by, Verb.AUDIT_DRAW, audit)
    audit = locked(audit)
    what = "No use was drawn."
    first, last = _days(what, audit)
    if not 1 <= size <= MOST_DRAWN:
        raise Unsound(
            what,
            _("%(size)s were asked for.") % {"size": size},
            _("Ask for 1 to %(most_drawn)s at a time.") % {"most_drawn": MOST_DRAWN},
            fields={"size": _("1 to %(most_drawn)s.") % {"most_drawn": MOST_DRAWN}},
        )
    known_at = timezone.now()
    uses = uses_within(first, last, known_at)
    given = seed_from(seed) if seed else new_seed()
    if how == CHANCE:
        numbers, of = drawn(uses, size, given)
    elif how in RISKS:
        among = RISKS[how].among(uses, first, last)
        new = among.exclude(sampled__audit=audit).order_by("-happened_at", "-pk")
        numbers, of = list(new.values_list("pk", flat=True)[:size]), among.count()
    else:
        raise Unsound(
            what,
            _("“%(how)s” is no way of drawing.") % {"how": how},
            _("Give one of: %(said)s.") % {"said": ", ".join([CHANCE, *RISKS])},
            fields={"how": "No such way."},
        )
    held = set(audit.sampled.values_list("use_id", flat=True))
    wanted = [number for number in numbers if number not in held]
    if not wanted:
        raise Conflict(
            what,
            "There is none on that ground in these days that was not drawn before.",
            "Draw on another ground, or open an audit of other days.",
        )
    draw = AuditDraw.objects.create(
        audit=audit,
        how=how,
        seed=given.hex() if how == CHANCE else "",
        size=size,
        of=of,
        known_at=known_at,
    )
    rows = SampledUse.objects.bulk_create(
        [SampledUse(audit=audit, draw=draw, use_id=number) for number in wanted]
    )
    record(
        Verb.AUDIT_DRAW,
        audit,
        by=by,
        touched=[draw, *rows],
        how=how,
        seed=draw.seed,
        uses=wanted,
        of=of,
    )
    return audit


def _days(what: str, audit: Audit) -> tuple[date, date]:
    if audit.from_on is None or audit.to_on is None:
        raise Conflict(
            what,
            "The audit does not say which days it looks at.",
            "Open an audit with a first and a last day.",
        )
    return audit.from_on, audit.to_on


@transaction.atomic
def confirm_use(sampled: SampledUse, *, evidence: str, by: Person) -> SampledUse:
    """Confirm a use by what was held beside its record.

    Refused when: nothing is said of the evidence.
    """
    require(by, Verb.SAMPLED_USE_CONFIRM, sampled)
    sampled = locked(sampled)
    if not evidence.strip():
        raise Unsound(
            "The use was not confirmed.",
            "Nothing says by what.",
            "Name the diary, the data, the film or the person that you held beside it.",
            fields={"evidence": "Name the evidence."},
        )
    before, after = move(sampled, "confirm")
    sampled.evidence, sampled.looked_at = evidence.strip(), timezone.now()
    sampled.save(update_fields=["evidence", "looked_at"])
    record(
        Verb.SAMPLED_USE_CONFIRM,
        sampled,
        by=by,
        before=before,
        after=after,
        reason=sampled.evidence,
    )
    return sampled


@transaction.atomic
def doubt_use(sampled: SampledUse, *, reason: str, by: Person) -> SampledUse:
    """Say that a use is not as it was recorded, as far as the evidence goes.

    Refused when: there is no reason.
    """
    require(by, Verb.SAMPLED_USE_DOUBT, sampled)
    sampled = locked(sampled)
    reason = reasoned(sampled, "doubt", reason)
    before, after = move(sampled, "doubt")
    sampled.evidence, sampled.looked_at = reason, timezone.now()
    sampled.save(update_fields=["evidence", "looked_at"])
    record(Verb.SAMPLED_USE_DOUBT, sampled, by=by, before=before, after=after, reason=reason)
    return sampled


@transaction.atomic
def write_point(
    audit: Audit,
    *,
    text: str,
    addressee: Person,
    breach: Breach | None = None,
    use: Use | None = None,
    due_on: date | None = None,
    by: Person,
) -> Point:
    """Write a point that the addressee must answer, by a day where one is given.

    Refused when: it is about a use that the audit does not look at; the day has passed.
    """
    require(by, Verb.AUDIT_WRITE_POINT, audit)
    what = "The point was not written."
    if use is not None and not audit.sampled.filter(use=use).exists():
        raise Unsound(
            what,
            "The audit does not look at that use.",
            "Draw it first, or write the point without it.",
            fields={"use": "Not drawn in this audit."},
        )
    if due_on is not None and due_on < timezone.localdate():
        raise Unsound(
            what,
            "Its answer would be due on a day that has passed.",
            "Give a day from today on.",
            fields={"due_on": "This day has passed."},
        )
    point = Point.objects.create(
        audit=audit, text=text, addressee=addressee, breach=breach, use=use, due_on=due_on
    )
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
