"""Deeds on bodies that decide: how they work, who sits on them, when they meet."""

from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Body, BodyKind, Institution, Meeting, Person, Seat
from registry.permissions import Verb, require
from registry.transitions import day_said, locked


@transaction.atomic
def open_body(
    *,
    name: str,
    institution: Institution,
    is_ethics: bool,
    quorum: int,
    lead_time_d: int = 0,
    sort: BodyKind | None = None,
    by: Person,
) -> Body:
    """Set up a body that decides.

    Refused when: there is one of that name.
    """
    require(by, Verb.BODY_OPEN)
    if Body.objects.filter(name__iexact=name).exists():
        raise Unsound(
            "The body was not set up.",
            "There is one of that name.",
            "Give another name.",
            fields={"name": "It is taken."},
        )
    body = Body.objects.create(
        name=name,
        institution=institution,
        sort=sort,
        is_ethics=is_ethics,
        quorum=quorum,
        lead_time_d=lead_time_d,
    )
    record(Verb.BODY_OPEN, body, by=by)
    return body


@transaction.atomic
def seat_member(body: Body, *, person: Person, is_chair: bool, by: Person) -> Seat:
    """Seat a person on a body.

    Refused when: they have a seat; there is a chair already.
    """
    require(by, Verb.BODY_SEAT, body)
    body = locked(body)
    live = body.seats.filter(ended_on=None)
    seated = live.filter(person=person).first()
    if seated is not None:
        raise Conflict(
            "Nobody was seated.",
            _("%(person)s has a seat on %(body)s since %(began_on)s.")
            % {"person": person, "body": body, "began_on": day_said(seated.began_on)},
            "End that seat first.",
        )
    chair = live.filter(is_chair=True).select_related("person").first() if is_chair else None
    if chair is not None:
        raise Conflict(
            "Nobody was seated.",
            _("%(body)s has a chair: %(person)s, since %(began_on)s.")
            % {"body": body, "person": chair.person, "began_on": day_said(chair.began_on)},
            "End the chair's seat first.",
        )
    seat = Seat.objects.create(body=body, person=person, is_chair=is_chair)
    record(Verb.BODY_SEAT, body, by=by, touched=[seat], person=person.pk, is_chair=is_chair)
    return seat


@transaction.atomic
def end_seat(body: Body, *, person: Person, reason: str, by: Person) -> Seat:
    """End a person's seat on a body.

    Refused when: they have none.
    """
    require(by, Verb.BODY_UNSEAT, body)
    body = locked(body)
    seat = body.seats.filter(person=person, ended_on=None).first()
    if seat is None:
        raise Conflict(
            "No seat was ended.",
            _("%(person)s has none.") % {"person": person},
            "Look at the page again.",
        )
    seat.ended_on = timezone.localdate()
    seat.save(update_fields=["ended_on"])
    record(Verb.BODY_UNSEAT, body, by=by, reason=reason, touched=[seat], person=person.pk)
    return seat


@transaction.atomic
def describe_body(body: Body, *, quorum: int, lead_time_d: int, by: Person) -> Body:
    """Change how a body works: its quorum, and how early it wants papers; planned meetings stay.

    Refused when: the quorum is nobody.
    """
    require(by, Verb.BODY_DESCRIBE, body)
    body = locked(body)
    if quorum < 1:
        raise Unsound(
            "Nothing was changed.",
            "Nobody at all cannot decide.",
            "Give a quorum of 1 or more.",
            fields={"quorum": "1 or more."},
        )
    before = {"quorum": body.quorum, "lead_time_d": body.lead_time_d}
    body.quorum, body.lead_time_d = quorum, lead_time_d
    body.save(update_fields=["quorum", "lead_time_d"])
    record(Verb.BODY_DESCRIBE, body, by=by, was=before)
    return body


@transaction.atomic
def plan_meeting(
    body: Body, *, held_on: date, papers_by: date | None = None, by: Person
) -> Meeting:
    """Plan a day on which a body meets; its papers are due as early as the body says, or by a day.

    Refused when: the day has passed; it meets on that day already; papers would be due after it.
    """
    require(by, Verb.BODY_PLAN_MEETING, body)
    body = locked(body)
    what = "The meeting was not planned."
    papers_by = papers_by or held_on - timedelta(days=body.lead_time_d)
    if held_on < timezone.localdate():
        raise Unsound(
            what,
            _("%(held_on)s has passed.") % {"held_on": day_said(held_on)},
            "Give a day to come.",
            fields={"held_on": "It has passed."},
        )
    if papers_by > held_on:
        raise Unsound(
            what,
            "Papers would be due after the meeting.",
            "Give that day or an earlier one.",
            fields={"papers_by": "After the meeting."},
        )
    if body.meetings.filter(held_on=held_on, called_off_on=None).exists():
        raise Conflict(
            what,
            _("%(body)s meets on %(held_on)s already.")
            % {"body": body, "held_on": day_said(held_on)},
            "Choose another day.",
        )
    meeting = Meeting.objects.create(body=body, held_on=held_on, papers_by=papers_by)
    record(Verb.BODY_PLAN_MEETING, body, by=by, touched=[meeting], held_on=held_on)
    return meeting


@transaction.atomic
def call_off_meeting(body: Body, *, meeting: Meeting, reason: str, by: Person) -> Meeting:
    """Call a meeting off; what it was to decide waits for the next one.

    Refused when: it is another body's, was called off already, or has been held.
    """
    require(by, Verb.BODY_CALL_OFF, body)
    body = locked(body)
    meeting = locked(meeting)
    is_over = meeting.held_on < timezone.localdate()
    if meeting.body_id != body.pk or meeting.called_off_on is not None or is_over:
        raise Conflict(
            "The meeting was not called off.",
            "It is not to come, or not of this body.",
            "Look at the page again.",
        )
    meeting.called_off_on = timezone.localdate()
    meeting.save(update_fields=["called_off_on"])
    record(Verb.BODY_CALL_OFF, body, by=by, reason=reason, touched=[meeting])
    return meeting
