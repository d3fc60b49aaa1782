"""What bookings, sessions, breaches, concerns and audit points need."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from django.conf import settings
from django.db.models import Count, F, Max
from django.urls import reverse
from django.utils import timezone

from registry.desk.needs.need import Need, on, step_url
from registry.oversight.models import Booking, Breach, Concern, Point, Session, Use
from registry.permissions import Role, Verb, allowed
from registry.tags import count, day

_BACK_DAYS = 30
"""How far back late entries and severe uses are told: a house rule, no source."""
_LONGEST_SAID = 200


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST_SAID else f"{text[:_LONGEST_SAID].rstrip()} …"


def bookings(person: Any, today: date) -> Iterator[Need]:
    """Bookings that were asked for, or offered and not confirmed."""
    waiting = Booking.objects.filter(state__in=["requested", "offered"])
    for one in allowed(waiting, person, Verb.BOOKING_OFFER).select_related(
        "project__study", "asked_by"
    ):
        is_asked = one.state == "requested"
        yield Need(
            what=f"{one.project} asks for animals"
            if is_asked
            else f"Offered and not confirmed: booking {one.pk} for {one.project}",
            why=f"{one.asked_by.name}: {_cut(one.wish)}",
            step="Offer a booking" if is_asked else "Confirm it",
            url=step_url(one, "offer" if is_asked else "confirm"),
            due=one.starts_on,
        )


def sessions(person: Any, today: date) -> Iterator[Need]:
    """Sessions of one's own that are planned for today, or that nobody entered."""
    planned = Session.objects.filter(state="planned", planned_start__date__lte=today)
    for one in allowed(planned, person, Verb.SESSION_HOLD).select_related(
        "project__study", "place"
    ):
        begins = timezone.localtime(one.planned_start)
        is_today = begins.date() == today
        yield Need(
            what=f"Session {one.code} at {begins:%H:%M}, {one.place}"
            if is_today
            else f"What became of session {one.code}, {one.place}?",
            why=str(one.project),
            step="Enter the session",
            url=step_url(one, "hold"),
            due=begins.date(),
        )


def breaches_to_explain(person: Any, today: date) -> Iterator[Need]:
    """Breaches in one's own projects that one has to explain."""
    opened = allowed(Breach.objects.filter(state="opened"), person, Verb.BREACH_EXPLAIN)
    for one in opened.select_related("project__study"):
        yield Need(
            what=f"Explain breach {one.pk}: {one.project}",
            why=_cut(one.said),
            step="Explain it",
            url=step_url(one, "explain"),
            since=on(one.found_at),
        )


def breaches_to_settle(person: Any, today: date) -> Iterator[Need]:
    """Explained breaches that an auditor or the chair has to settle or to query."""
    explained = allowed(Breach.objects.filter(state="explained"), person, Verb.BREACH_SETTLE)
    for one in explained.select_related("project__study"):
        yield Need(
            what=f"Breach {one.pk} was explained: {one.project}",
            why=_cut(one.explanation),
            step="Settle or query",
            url=one.get_absolute_url(),
            since=on(one.explained_at),
        )


def new_breaches(person: Any, today: date) -> Iterator[Need]:
    """Breaches that nobody has explained, for the auditor."""
    if Role.AUDITOR not in person.roles:
        return
    opened = allowed(Breach.objects.filter(state="opened"), person, Verb.BREACH_SEE)
    for one in opened.select_related("project__study"):
        yield Need(
            what=f"Breach {one.pk}, not explained yet: {one.project}",
            why=_cut(one.said),
            step="Look at it",
            url=one.get_absolute_url(),
            since=on(one.found_at),
        )


def late_entries(person: Any, today: date) -> Iterator[Need]:
    """How many uses were lately recorded later than the house allows, for the auditor."""
    if Role.AUDITOR not in person.roles:
        return
    wait = timedelta(days=settings.LATE_ENTRY_DAYS + 1)
    since = timezone.now() - timedelta(days=_BACK_DAYS)
    late = Use.objects.filter(
        reverses=None, recorded_at__gte=since, happened_at__lte=F("recorded_at") - wait
    ).aggregate(number=Count("pk"), newest=Max("recorded_at"))
    if late["number"]:
        yield Need(
            what=f"{count(late['number'], 'use was,uses were')} entered late",
            why=f"Recorded in the last {_BACK_DAYS} days, more than {settings.LATE_ENTRY_DAYS} "
            "days after they happened.",
            step="Look at them",
            url=f"{reverse('oversight:uses')}?which=late",
            since=on(late["newest"]),
        )


def severe_uses(person: Any, today: date) -> Iterator[Need]:
    """Projects in which animals lately went through more than was planned, for the vet."""
    if Role.VET not in person.roles:
        return
    since = timezone.now() - timedelta(days=_BACK_DAYS)
    severe = (
        Use.objects.standing()
        .filter(happened_at__gte=since, severity__gt=F("project__plan__max_severity"))
        .order_by()
        .values("project", "project__study__title", "project__cohort")
        .annotate(number=Count("pk"), newest=Max("happened_at"))
    )
    for one in severe:
        title = f"{one['project__study__title']}, {one['project__cohort']}"
        yield Need(
            what=f"More severe than planned: {title}",
            why=f"{count(one['number'], 'use,uses')} in the last {_BACK_DAYS} days, the newest on "
            f"{day(one['newest'])}. Look at the animals; anyone may halt the work.",
            step="See the uses",
            url=f"{reverse('oversight:uses')}?project={one['project']}",
            since=on(one["newest"]),
        )


def concerns(person: Any, today: date) -> Iterator[Need]:
    """Concerns that one handles; what they say stands on their own page alone."""
    raised = allowed(Concern.objects.filter(state="raised"), person, Verb.CONCERN_TAKE_UP)
    reviewing = allowed(Concern.objects.filter(state="reviewing"), person, Verb.CONCERN_RESOLVE)
    for one in raised | reviewing:
        is_new = one.state == "raised"
        yield Need(
            what=f"Concern {one.pk} {'was raised' if is_new else 'is under review'}",
            why="Confidential: only those who handle it see it.",
            step="Read it" if is_new else "Go on with it",
            url=one.get_absolute_url(),
            since=on(one.raised_at),
        )


def points_to_answer(person: Any, today: date) -> Iterator[Need]:
    """Audit points put to oneself."""
    written = allowed(Point.objects.filter(state="written"), person, Verb.POINT_ANSWER)
    for one in written.select_related("audit__opener"):
        yield Need(
            what=f"An audit point is put to you: {_cut(one.text)}",
            why=f"By {one.audit.opener.name}, in “{one.audit}”. It must be answered.",
            step="Answer it",
            url=step_url(one, "answer"),
            since=on(one.audit.opened_at),
        )


def points_to_settle(person: Any, today: date) -> Iterator[Need]:
    """Audit points that were answered."""
    answered = allowed(Point.objects.filter(state="answered"), person, Verb.POINT_SETTLE)
    for one in answered.select_related("audit", "addressee"):
        yield Need(
            what=f"{one.addressee.name} answered an audit point: {_cut(one.text)}",
            why=f"In “{one.audit}”.",
            step="Settle or put again",
            url=one.get_absolute_url(),
            since=on(one.audit.opened_at),
        )
