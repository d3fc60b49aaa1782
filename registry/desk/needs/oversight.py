"""What bookings, sessions, breaches, concerns and audit points need."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from django.conf import settings
from django.db.models import Count, Exists, F, Max, OuterRef, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.desk.needs.need import Need, first, on, step_url
from registry.moments import after, begin
from registry.oversight.models import AdverseEvent, Booking, Breach, Concern, Point, Session, Use
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
    mine = allowed(waiting, person, Verb.BOOKING_OFFER)
    for one in first(mine.select_related("project__study", "asked_by"), "starts_on"):
        is_asked = one.state == "requested"
        yield Need(
            what=_("%(project)s asks for animals") % {"project": one.project}
            if is_asked
            else _("Offered and not confirmed: booking %(number)s for %(project)s")
            % {"number": one.pk, "project": one.project},
            why=_("%(name)s: %(wish)s") % {"name": one.asked_by.name, "wish": _cut(one.wish)},
            step=_("Offer a booking") if is_asked else _("Confirm it"),
            url=step_url(one, "offer" if is_asked else "confirm"),
            due=one.starts_on,
        )


def sessions(person: Any, today: date) -> Iterator[Need]:
    """Sessions of today in which one observes; those that nobody entered, for all who may."""
    late = Q(planned_start__lt=begin(today))
    mine = Q(planned_start__gte=begin(today), planned_start__lt=after(today)) & Exists(
        Session.observers.through.objects.filter(session=OuterRef("pk"), person=person.pk)
    )
    planned = Session.objects.filter(late | mine, state="planned")
    held = allowed(planned, person, Verb.SESSION_HOLD)
    for one in first(held.select_related("project__study", "place"), "planned_start"):
        begins = timezone.localtime(one.planned_start)
        has_begun = begins <= timezone.localtime()
        yield Need(
            what=_("Session %(code)s at %(time)s, %(place)s")
            % {"code": one.code, "time": f"{begins:%H:%M}", "place": one.place}
            if begins.date() == today
            else _("What became of session %(code)s, %(place)s?")
            % {"code": one.code, "place": one.place},
            why=str(one.project),
            step=_("Enter the session") if has_begun else _("Get ready for it"),
            url=f"{reverse('sessions')}#session-{one.pk}",
            due=begins.date(),
            about=one,
        )


def breaches_to_explain(person: Any, today: date) -> Iterator[Need]:
    """Breaches in one's own projects that one has to explain."""
    opened = allowed(Breach.objects.filter(state="opened"), person, Verb.BREACH_EXPLAIN)
    for one in first(opened.select_related("project__study"), "found_at"):
        yield Need(
            what=_("Explain breach %(number)s: %(project)s")
            % {"number": one.pk, "project": one.project},
            why=_cut(one.said),
            step=_("Explain it"),
            url=step_url(one, "explain"),
            since=on(one.found_at),
        )


def breaches_to_settle(person: Any, today: date) -> Iterator[Need]:
    """Explained breaches that an auditor or the chair has to settle or to query."""
    explained = allowed(Breach.objects.filter(state="explained"), person, Verb.BREACH_SETTLE)
    for one in first(explained.select_related("project__study"), "explained_at"):
        yield Need(
            what=_("Breach %(number)s was explained: %(project)s")
            % {"number": one.pk, "project": one.project},
            why=_cut(one.explanation),
            step=_("Settle or query"),
            url=one.get_absolute_url(),
            since=on(one.explained_at),
        )


def new_breaches(person: Any, today: date) -> Iterator[Need]:
    """Breaches that nobody has explained, for the auditor."""
    if Role.AUDITOR not in person.roles:
        return
    opened = allowed(Breach.objects.filter(state="opened"), person, Verb.BREACH_SEE)
    for one in first(opened.select_related("project__study"), "found_at"):
        yield Need(
            what=_("Breach %(number)s, not explained yet: %(project)s")
            % {"number": one.pk, "project": one.project},
            why=_cut(one.said),
            step=_("Look at it"),
            url=one.get_absolute_url(),
            since=on(one.found_at),
        )


def late_entries(person: Any, today: date) -> Iterator[Need]:
    """How many uses were lately recorded later than the house allows, for the auditor."""
    if Role.AUDITOR not in person.roles:
        return
    since = timezone.now() - timedelta(days=_BACK_DAYS)
    late = (
        Use.objects.told()
        .filter(recorded_at__gte=since, days_late__gt=settings.LATE_ENTRY_DAYS)
        .aggregate(number=Count("pk"), newest=Max("recorded_at"))
    )
    if late["number"]:
        yield Need(
            what=_("%(counted)s entered late")
            % {"counted": count(late["number"], _("use was,uses were"))},
            why=_(
                "Recorded in the last %(back_days)s days, more than %(late_entry_days)s days "
                "after they happened."
            )
            % {"back_days": _BACK_DAYS, "late_entry_days": settings.LATE_ENTRY_DAYS},
            step=_("Look at them"),
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
            what=_("More severe than planned: %(title)s") % {"title": title},
            why=_(
                "%(counted)s in the last %(back_days)s days, the newest on %(day)s. Look at the "
                "animals; anyone may halt the work."
            )
            % {
                "counted": count(one["number"], _("use,uses")),
                "back_days": _BACK_DAYS,
                "day": day(one["newest"]),
            },
            step=_("See the uses"),
            url=f"{reverse('oversight:uses')}?project={one['project']}",
            since=on(one["newest"]),
        )


def concerns(person: Any, today: date) -> Iterator[Need]:
    """Concerns that one handles; what they say stands on their own page alone."""
    raised = allowed(Concern.objects.filter(state="raised"), person, Verb.CONCERN_TAKE_UP)
    reviewing = allowed(Concern.objects.filter(state="reviewing"), person, Verb.CONCERN_RESOLVE)
    for one in first(raised | reviewing, "raised_at"):
        is_new = one.state == "raised"
        yield Need(
            what=(
                _("Concern %(number)s was raised")
                if is_new
                else _("Concern %(number)s is under review")
            )
            % {"number": one.pk},
            why=_("Confidential: only those who handle it see it."),
            step=_("Read it") if is_new else _("Go on with it"),
            url=one.get_absolute_url(),
            since=on(one.raised_at),
            is_confidential=True,
        )


def events_to_assess(person: Any, today: date) -> Iterator[Need]:
    """Adverse events that a veterinary surgeon has yet to assess."""
    reported = AdverseEvent.objects.filter(state="reported")
    mine = allowed(reported, person, Verb.ADVERSE_EVENT_ASSESS)
    for one in first(mine.select_related("project__study", "animal", "group"), "happened_at"):
        yield Need(
            what=_("Adverse event in %(project)s: %(sort)s")
            % {"project": one.project, "sort": one.get_sort_display()},
            why=_cut(one.text),
            step=_("Assess it"),
            url=step_url(one, "assess"),
            since=on(one.happened_at),
            about=one,
        )


def points_to_answer(person: Any, today: date) -> Iterator[Need]:
    """Audit points put to oneself."""
    written = allowed(Point.objects.filter(state="written"), person, Verb.POINT_ANSWER)
    for one in first(written.select_related("audit__opener"), "written_at"):
        yield Need(
            what=_("An audit point is put to you: %(text)s") % {"text": _cut(one.text)},
            why=_("By %(opener)s, in “%(audit)s”. It must be answered.")
            % {"opener": one.audit.opener.name, "audit": one.audit},
            step=_("Answer it"),
            url=step_url(one, "answer"),
            since=on(one.written_at),
            due=one.due_on,
            about=one,
        )


def points_to_settle(person: Any, today: date) -> Iterator[Need]:
    """Audit points that were answered."""
    answered = allowed(Point.objects.filter(state="answered"), person, Verb.POINT_SETTLE)
    for one in first(answered.select_related("audit", "addressee"), "written_at"):
        yield Need(
            what=_("%(addressee)s answered an audit point: %(text)s")
            % {"addressee": one.addressee.name, "text": _cut(one.text)},
            why=_("In “%(audit)s”.") % {"audit": one.audit},
            step=_("Settle or put again"),
            url=one.get_absolute_url(),
            since=on(one.audit.opened_at),
        )
