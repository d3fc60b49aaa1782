"""A person's calendar: the dated things that Today knows of, as an iCalendar file.

References
----------
RFC 5545, Internet Calendaring and Scheduling Core Object Specification (iCalendar): sections 3.1
(folding), 3.3.4 and 3.3.5 (dates; date-times in UTC), 3.8.4.7 (UID), 3.8.7.3 (LAST-MODIFIED),
3.8.7.4 (SEQUENCE). RFC 7986, sections 5.1 (NAME) and 5.7 (REFRESH-INTERVAL).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.db.models import Exists, Model, OuterRef, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from icalendar import Calendar, Event

from registry.animals.models import Restriction
from registry.approvals.models import Approval
from registry.desk.models import CalendarKey
from registry.desk.needs import Need, approvals, oversight, questions
from registry.ledger.models import Entry, subject_of
from registry.moments import begin
from registry.oversight.models import Booking, Session
from registry.people.models import Person
from registry.people.tokens import digest_of, new_token
from registry.permissions import Verb, allowed, projects_of

BACK = timedelta(days=30)
"""How long what is over stays in the calendar: a house rule, no source."""
_FAR_DAYS = 3650
_OF_BOOKING = {"requested": "TENTATIVE", "offered": "TENTATIVE", "confirmed": "CONFIRMED"}
_OF_SESSION = {"missed": "CANCELLED"}


@dataclass(frozen=True, kw_only=True)
class Dated:
    """One thing with its time, as the calendar shows it.

    Parameters
    ----------
    about : Model
        The row that it is about: its name is the lasting half of the UID.
    what, why, url : str
    start, end : datetime or date
        A moment each, or days; the last day is within it.
    status : {"CONFIRMED", "TENTATIVE", "CANCELLED"}
    part : str
        Which of the dates of one row, where it has several.
    """

    about: Model
    what: str
    why: str
    url: str
    start: date
    end: date
    place: str = ""
    status: str = "CONFIRMED"
    part: str = ""


def dated_of(person: Any, today: date) -> list[Dated]:
    """Give what is dated and this person's: exactly what they may see now."""
    return [
        *_sessions(person, today),
        *_bookings(person, today),
        *_approvals(person, today),
        *_restrictions(person),
        *_from_needs(approvals.conditions(person, today, _FAR_DAYS), today),
        *_from_needs(questions.husbandry_due(person, today), today),
        *_from_needs(oversight.points_to_answer(person, today), today),
    ]


def _sessions(person: Any, today: date) -> Iterator[Dated]:
    observing = Session.observers.through.objects.filter(session=OuterRef("pk"), person=person.pk)
    mine = Q(Exists(observing)) | Q(project__in=projects_of(person))
    rows = Session.objects.filter(mine, planned_start__gte=begin(today - BACK))
    for one in allowed(rows, person, Verb.SESSION_SEE).select_related("project__study", "place"):
        yield Dated(
            about=one,
            what=_("Session %(code)s, %(place)s") % {"code": one.code, "place": one.place},
            why=_("%(project)s. It is %(state)s.")
            % {"project": one.project, "state": one.get_state_display()},
            url=one.get_absolute_url(),
            start=one.planned_start,
            end=one.planned_end,
            place=str(one.place),
            status=_OF_SESSION.get(one.state, "CONFIRMED"),
        )


def _bookings(person: Any, today: date) -> Iterator[Dated]:
    rows = Booking.objects.filter(
        project__in=projects_of(person), state__in=list(_OF_BOOKING), ends_on__gte=today - BACK
    )
    for one in allowed(rows, person, Verb.BOOKING_SEE).select_related("project__study"):
        yield Dated(
            about=one,
            what=_("Booking %(number)s of %(project)s")
            % {"number": one.pk, "project": one.project},
            why=_("It is %(state)s.") % {"state": one.get_state_display()},
            url=one.get_absolute_url(),
            start=one.starts_on,
            end=one.ends_on,
            status=_OF_BOOKING[one.state],
        )


def _approvals(person: Any, today: date) -> Iterator[Dated]:
    rows = Approval.objects.in_hand().filter(ends_on__gte=today - BACK)
    own = Approval.objects.filter(projects__in=projects_of(person)).values("pk")
    for one in allowed(rows.filter(pk__in=own), person, Verb.APPROVAL_SEE).select_related("body"):
        yield Dated(
            about=one,
            what=_("Last day of an approval: %(approval)s") % {"approval": one},
            why=_("After it nothing that it covers may go on; %(body)s decides on more time.")
            % {"body": one.body},
            url=one.get_absolute_url(),
            start=one.ends_on,
            end=one.ends_on,
        )


def _restrictions(person: Any) -> Iterator[Dated]:
    begun = Restriction.objects.filter(state="begun").exclude(expected_end_on=None)
    found = allowed(begun, person, Verb.RESTRICTION_END)
    for one in found.select_related("animal", "group", "enclosure"):
        if one.expected_end_on is not None:
            yield Dated(
                about=one,
                what=_("Keep off %(subject)s: expected to be over") % {"subject": one.subject},
                why=_("%(sort)s. It bars until it is ended.")
                % {"sort": one.get_sort_display().capitalize()},
                url=one.get_absolute_url(),
                start=one.expected_end_on,
                end=one.expected_end_on,
            )


def _from_needs(needs: Iterable[Need], today: date) -> Iterator[Dated]:
    for need in needs:
        # An audit point has no day by which: it stands on the day on which it was put.
        on = need.due or need.since
        if on is not None and need.about is not None:
            yield Dated(
                about=need.about, what=need.what, why=need.why, url=need.url, start=on, end=on
            )


# ------------------------------------------------------------------------------- the file


def calendar_of(person: Any, today: date) -> bytes:
    """Write a person's calendar; two reads of one state give the same bytes."""
    calendar = Calendar()
    calendar.add("prodid", "-//Strandline//Register and archive//EN")
    calendar.add("version", "2.0")
    name = _("Strandline, %(site)s") % {"site": settings.SITE_NAME}
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", timedelta(hours=1))
    found = dated_of(person, today)
    changes = _changes(found)
    for one in found:
        calendar.add_component(_event(one, *changes.get(subject_of(one.about), (0, None))))
    return bytes(calendar.to_ical())


def _changes(found: Iterable[Dated]) -> dict[str, tuple[int, datetime | None]]:
    """Give the number and moment of each subject's newest entry; the number only ever grows."""
    wanted = {subject_of(one.about) for one in found}
    rows = Entry.objects.filter(subject__in=wanted).order_by("number")
    return {name: (number, at) for name, number, at in rows.values_list("subject", "number", "at")}


def _event(one: Dated, sequence: int, changed_at: datetime | None) -> Event:
    event = Event()
    host = urlsplit(settings.SITE_ADDRESS).hostname or "localhost"
    event.add("uid", f"{subject_of(one.about).replace(':', '-')}{one.part}@{host}")
    stamp = (changed_at or timezone.now()).astimezone(UTC).replace(microsecond=0)
    event.add("dtstamp", stamp)
    event.add("last-modified", stamp)
    event.add("sequence", sequence)
    event.add("summary", one.what)
    event.add("description", one.why)
    event.add("url", _whole(one.url))
    event.add("status", one.status)
    if one.place:
        event.add("location", one.place)
    if isinstance(one.start, datetime) and isinstance(one.end, datetime):
        event.add("dtstart", one.start.astimezone(UTC))
        event.add("dtend", one.end.astimezone(UTC))
    else:
        event.add("dtstart", one.start)
        event.add("dtend", one.end + timedelta(days=1))  # the end is not within it
        event.add("transp", "TRANSPARENT")
    return event


def _whole(path: str) -> str:
    return path if "://" in path else f"{settings.SITE_ADDRESS.rstrip('/')}{path}"


# ------------------------------------------------------------------------------- its address


def new_secret(person: Any) -> str:
    """Make a person's calendar a new address, so that the old one dies; give its secret part."""
    secret = new_token()
    CalendarKey.objects.update_or_create(
        person=person, defaults={"digest": digest_of(secret), "made_at": timezone.now()}
    )
    return secret


def end_secret(person: Any) -> None:
    """Let the address of a person's calendar die, without a new one."""
    CalendarKey.objects.filter(person=person).update(digest=None)


def person_at(secret: str) -> Person | None:
    """Give whose calendar stands at a secret address: someone active, or nobody."""
    found = CalendarKey.objects.select_related("person").filter(
        digest=digest_of(secret), person__is_active=True
    )
    key = found.first()
    return key.person if key else None
