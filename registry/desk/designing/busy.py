"""What else is on at an enclosure: routines, sessions of other projects, what bars it, bookings."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Enclosure, Restriction, Routine
from registry.moments import after, begin
from registry.oversight.models import Booking, Session

type Busy = dict[str, Any]


def busy_at(place: Enclosure, first: date, last: date) -> list[Busy]:
    """Give when no session can be held at an enclosure, from one day to another; three queries.

    What bars all research bars whole days; what leaves observation open bars nothing. Planned
    sessions of every project count: two do not watch at one tank at once.
    """
    return [
        *_routines(place, first, last),
        *_sessions(place, first, last),
        *_restrictions(place, first, last),
    ]


def _days(first: date, last: date) -> Iterable[date]:
    return (first + timedelta(days=one) for one in range((last - first).days + 1))


def _told(begins: datetime, ends: datetime, what: str) -> Busy:
    """Give one busy time in the shape of the API; moments carry the collection's own zone."""
    here = timezone.get_current_timezone()
    return {
        "begins": begins.replace(tzinfo=here).isoformat(),
        "ends": ends.replace(tzinfo=here).isoformat(),
        "what": what,
    }


def _routines(place: Enclosure, first: date, last: date) -> list[Busy]:
    rows = list(Routine.objects.filter(enclosure=place).standing_between(first, last))
    return [
        _told(
            datetime.combine(day, one.begins),
            datetime.combine(day, one.ends),
            one.note or one.get_sort_display(),
        )
        for day in _days(first, last)
        for one in rows
        if one.is_on(day)
    ]


def _sessions(place: Enclosure, first: date, last: date) -> list[Busy]:
    rows = Session.objects.filter(
        place=place, state="planned", planned_start__lt=after(last), planned_end__gt=begin(first)
    )
    # Whose session it is stands where it may be seen: a schedule says the time alone.
    return [
        {
            "begins": one.planned_start.isoformat(),
            "ends": one.planned_end.isoformat(),
            "what": _("a session that is planned there"),
        }
        for one in rows
    ]


def _restrictions(place: Enclosure, first: date, last: date) -> list[Busy]:
    rows = (
        Restriction.objects.filter(enclosure=place, began_on__lte=last)
        .filter(Q(ended_on=None) | Q(ended_on__gt=first))
        .exclude(strength=Restriction.Strength.OBSERVATION_ONLY)
    )
    found = []
    for one in rows:
        expected = one.ended_on or one.expected_end_on
        end = min(last, expected - timedelta(days=1)) if expected else last
        found += [
            _told(
                datetime.combine(day, time.min),
                datetime.combine(day + timedelta(days=1), time.min),
                _("out of bounds, %(sort)s") % {"sort": one.get_sort_display()},
            )
            for day in _days(max(first, one.began_on), end)
        ]
    return found


def bookings_at(place: Enclosure, first: date, last: date) -> list[Booking]:
    """Give the bookings of an enclosure that were offered or confirmed for some of these days."""
    return list(
        Booking.objects.filter(places=place, state__in=("offered", "confirmed"))
        .filter(starts_on__lte=last, ends_on__gte=first)
        .distinct()
    )
