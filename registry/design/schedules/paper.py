"""What is carried to the tank: times of scans, a blank sheet, a printed schedule, a calendar."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from icalendar import Calendar, Event

from registry.design import bounds
from registry.design.schedules.evenness import cross_table, judged
from registry.design.schedules.sessions import Schedule, Session

EVERY = timedelta(minutes=5)
"""Five minutes between scans: common practice, no source. `interval_check` says what suits."""


def scan_times(begins: datetime, length: timedelta, every: timedelta = EVERY) -> list[datetime]:
    """Give the moments at which all animals are looked at.

    Parameters
    ----------
    begins : datetime.datetime
    length, every : datetime.timedelta
        Length of the session and distance of scans, both above 0.

    Examples
    --------
    >>> len(scan_times(datetime(2026, 5, 4, 10), timedelta(minutes=30)))
    6
    """
    for field, given in (("length", length), ("every", every)):
        if given <= timedelta(0):
            bounds.refuse(field, "A time must pass.", f"{given} was given.", "Give minutes.")
    if every > length:
        bounds.refuse(
            "every",
            "No scan falls into the session.",
            f"Scans are {every} apart, and the session takes {length}.",
            "Take shorter intervals, or longer sessions.",
        )
    return [begins + every * number for number in range(length // every)]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a blank sheet: what is known before the observer writes.

    Parameters
    ----------
    session : int
        Number of the session, from 1.
    at : datetime.datetime
    position : int
        Place of the animal in the order, from 1.
    animal : str
    """

    session: int
    at: datetime
    position: int
    animal: str


def scan_sheet(found: Schedule, length: timedelta, every: timedelta = EVERY) -> list[Line]:
    """Give the lines of scans: every animal at each moment, in the session's order.

    Examples
    --------
    >>> from datetime import date, time
    >>> from registry.design import Slot, Stream, schedule
    >>> found = schedule(["a", "b"], [date(2026, 5, 4)], [Slot(time(10))], Stream(bytes(32)))
    >>> len(scan_sheet(found, timedelta(minutes=30)))
    12
    """
    return [
        Line(number, at, place, animal)
        for number, one in enumerate(found.sessions, 1)
        for at in scan_times(one.begins, length, every)
        for place, animal in enumerate(one.order, 1)
    ]


def focal_sheet(found: Schedule, each: timedelta) -> list[Line]:
    """Give the lines of focal watches: each animal for so long, one after the other."""
    if each <= timedelta(0):
        bounds.refuse("each", "A watch takes time.", f"{each} was given.", "Give minutes.")
    return [
        Line(number, one.begins + each * (place - 1), place, animal)
        for number, one in enumerate(found.sessions, 1)
        for place, animal in enumerate(one.order, 1)
    ]


def printed_schedule(found: Schedule, title: str) -> str:
    """Give the schedule as a page of plain text, with its cross-table and what is not balanced."""
    head = [title, f"SHA-256 of the seed {found.commitment}", ""]
    body = [
        f"{number:>3}  {one.weekday[:3]} {one.day.isoformat()}  {one.slot.name}  "
        + " · ".join(one.order)
        for number, one in enumerate(found.sessions, 1)
    ]
    table = [
        f"{animal}  position {place}  {slot}  {weekday}: {count}"
        for (animal, place, slot, weekday, _), count in cross_table(found).items()
    ]
    left = [f"Not taken: {one.said}" for one in found.left_out]
    parts = [*head, *body, "", *(one.said for one in judged(found)), *left, "", *table]
    return "\n".join(parts) + "\n"


def calendar(
    sessions: Sequence[Session],
    length: timedelta,
    *,
    title: str,
    place: str,
    zone: tzinfo,
    made: datetime | None = None,
) -> bytes:
    """Give a calendar file of the sessions.

    Parameters
    ----------
    sessions : sequence of Session
    length : datetime.timedelta
    title, place : str
    zone : datetime.tzinfo
        Where the collection stands.
    made : datetime.datetime, optional
        Stamp; now by default.

    References
    ----------
    RFC 5545, iCalendar.
    """
    found = Calendar()
    found.add("prodid", "-//Strandline//schedule//EN")
    found.add("version", "2.0")
    stamp = made or datetime.now(tz=UTC)
    for number, one in enumerate(sessions, 1):
        begins = one.begins.replace(tzinfo=zone)
        event = Event()
        event.add("uid", f"{one.begins:%Y%m%dT%H%M}-{number}@strandline")
        event.add("dtstamp", stamp)
        event.add("dtstart", begins)
        event.add("dtend", begins + length)
        event.add("summary", f"{title}, session {number}")
        event.add("location", place)
        event.add("description", " · ".join(one.order))
        found.add_component(event)
    return bytes(found.to_ical())
