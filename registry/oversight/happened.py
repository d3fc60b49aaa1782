"""Hold what happened with animals against every limit, and write it down whatever they say.

What happened is never refused into silence: it is written, and each limit that it passed opens a
breach that the lead supervisor must explain.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count
from django.utils import timezone
from django.utils.text import capfirst

from registry.animals.models import Animal, Enclosure, Group
from registry.errors import Unsound
from registry.oversight.bars import Bars, restricted_on, shared_units
from registry.oversight.facts import Permits, event_of, is_halted_at, needed_by, subject_of
from registry.oversight.limits import (
    SEVERITIES,
    Code,
    EventFacts,
    Shortfall,
    day_said,
    exceeds,
    hold_each,
    uncovered,
    unrested,
)
from registry.oversight.models import Booking, Breach, Enrolment, Session, Use, days_late
from registry.oversight.resting import hands_on_days, rules_within
from registry.oversight.used import used_of
from registry.people.models import Person
from registry.projects.models import Halt, Procedure, Project


@dataclass(frozen=True, slots=True)
class Handled:
    """One animal, or some of a group, in what happened."""

    subject: Animal | Group
    enrolment: Enrolment | None = None
    animals: int = 1


@dataclass(frozen=True, slots=True)
class Happening:
    """What happened: when, where, by which procedure, who did it, and how hard it was."""

    project: Project
    moment: datetime
    procedure: Procedure
    place: Enclosure | None
    people: Sequence[Person]
    severity: int

    @property
    def day(self) -> date:
        """Its day in local time."""
        return timezone.localdate(self.moment)


type Entered = tuple[Happening, Sequence[Handled]]
"""What happened, and with whom."""


def must_be_past(moment: datetime, what: str, then: str, *, field: str = "happened_at") -> None:
    """Refuse a moment that has not come: `what` was not written, and `then` is what to do.

    Raises
    ------
    Unsound
        With the complaint under the field.
    """
    if moment > timezone.now():
        raise Unsound(
            what,
            "It has not happened yet.",
            then,
            fields={field: "This moment has not come yet."},
        )


def judged(what: Happening, handled: Sequence[Handled]) -> list[list[Shortfall]]:
    """Say for each animal, in order, which limits were passed; an empty list is none."""
    return judged_all([(what, handled)])[0]


def judged_all(entered: Sequence[Entered]) -> list[list[list[Shortfall]]]:
    """Do the same for much that happened in one project by one procedure, in order of time.

    Each counts for those after it. What the register holds is read once, or once a day.
    """
    first = entered[0][0]
    permits = Permits(first.project)
    needed = {
        (what.day, _who(what)): permits.on(what.day, what.people) for what, _handled in entered
    }
    events = [[_event(what, one) for one in handled] for what, handled in entered]
    held = [
        (event, needed[what.day, _who(what)])
        for (what, _handled), here in zip(entered, events, strict=True)
        for event in here
    ]
    used = used_of(held[0][1] if held else (), {first.procedure.pk})
    flat = iter(hold_each(held, used))
    found = [[list(next(flat)) for _event in here] for here in events]
    if first.procedure.is_contact:
        _hands_on(entered, events, found)
    contacts = _contacts(entered) if first.procedure.is_contact else {}
    bars, halts = _restricted(entered), list(first.project.halts.all())
    for (what, handled), each in zip(entered, found, strict=True):
        of_house = _house(what, halts)
        for one, here in zip(handled, each, strict=True):
            here.extend([*of_house, *_enrolled(what, one), *_booked(what, one, contacts)])
            said = bars[what.day][subject_of(one.subject)]
            here.extend(Shortfall(Code.RESTRICTED, words) for words in said)
            here.extend(_severity(what, here))
    return found


def _who(what: Happening) -> frozenset[int]:
    return frozenset(one.pk for one in what.people)


def _event(what: Happening, one: Handled) -> EventFacts:
    return event_of(
        one.subject,
        project=what.project,
        day=what.day,
        procedure=what.procedure,
        place=what.place,
        people=what.people,
        severity=what.severity,
        animals=one.animals,
        enrolment=one.enrolment.pk if one.enrolment else None,
    )


def _by_day(entered: Sequence[Entered]) -> dict[date, list[Handled]]:
    days: dict[date, list[Handled]] = {}
    for what, handled in entered:
        days.setdefault(what.day, []).extend(handled)
    return days


def _restricted(entered: Sequence[Entered]) -> dict[date, Bars]:
    """Give what barred each subject on each day; a few queries a day."""
    first = entered[0][0]
    return {
        day: restricted_on(
            [one.subject for one in handled],
            day,
            is_contact=first.procedure.is_contact,
            project=first.project,
        )
        for day, handled in _by_day(entered).items()
    }


def _hands_on(
    entered: Sequence[Entered],
    events: Sequence[Sequence[EventFacts]],
    found: Sequence[Sequence[list[Shortfall]]],
) -> None:
    """Add what binds hands-on work alone: rest between events, units of other projects."""
    project, days = entered[0][0].project, _by_day(entered)
    rules = rules_within(min(days), max(days))
    subjects = [one.subject for handled in days.values() for one in handled]
    contacts = hands_on_days(subjects, min(days), max(days), rules)
    shared = {
        day: shared_units(
            project,
            [(one.subject, one.enrolment.unit if one.enrolment else "") for one in handled],
            day,
        )
        for day, handled in days.items()
    }
    passed = iter(unrested([event for here in events for event in here], contacts, rules))
    for (what, handled), each in zip(entered, found, strict=True):
        for one, here in zip(handled, each, strict=True):
            here.extend(next(passed))
            of_others = shared[what.day][subject_of(one.subject)]
            here.extend(Shortfall(Code.SHARED_UNIT, said) for said in of_others)


def _house(what: Happening, halts: Sequence[Halt]) -> list[Shortfall]:
    if is_halted_at(halts, what.moment):
        said = f"Data collection of “{what.project}” was halted for welfare at that time."
        return [Shortfall(Code.HALTED, said)]
    return []


def _enrolled(what: Happening, one: Handled) -> list[Shortfall]:
    subject, day = one.subject, what.day
    if day < subject.arrived_on or (subject.left_on is not None and day > subject.left_on):
        said = f"{subject} was not in the collection on {day_said(day)}."
        return [Shortfall(Code.NOT_HERE, said)]
    if one.enrolment is None:
        said = f"{subject} was never enrolled in this project for {day_said(day)}."
        return [Shortfall(Code.NOT_ENROLLED, said)]
    enrolment = one.enrolment
    if day < enrolment.from_on or (enrolment.left_on is not None and day > enrolment.left_on):
        until = f" to {day_said(enrolment.left_on)}" if enrolment.left_on else ""
        said = (
            f"{subject} was enrolled as {enrolment.code} from {day_said(enrolment.from_on)}"
            f"{until}, not on {day_said(day)}."
        )
        return [Shortfall(Code.NOT_ENROLLED, said)]
    return []


type _Contacts = dict[tuple[int, int | None, int | None], int]


def _contacts(entered: Sequence[Entered]) -> _Contacts:
    """Count the hands-on contacts so far, by booking, animal and group; one query."""
    bookings = {
        one.enrolment.booking_id for _what, handled in entered for one in handled if one.enrolment
    }
    rows = (
        Use.objects.standing()
        .filter(enrolment__booking__in=bookings, procedure__is_contact=True)
        .order_by()
        .values_list("enrolment__booking", "animal", "group")
        .annotate(times=Count("pk"))
    )
    return {(booking, animal, group): times for booking, animal, group, times in rows}


def _booked(what: Happening, one: Handled, contacts: _Contacts) -> list[Shortfall]:
    if one.enrolment is None:
        return []
    booking: Booking = one.enrolment.booking
    found: list[Shortfall] = []
    if not booking.starts_on <= what.day <= booking.ends_on:
        span = f"{day_said(booking.starts_on)} to {day_said(booking.ends_on)}"
        said = f"Booking {booking.pk} of {one.subject} is from {span}, not {day_said(what.day)}."
        found.append(Shortfall(Code.OUTSIDE_BOOKING, said))
    most = booking.max_contacts_each
    if most is not None and what.procedure.is_contact:
        key = (booking.pk, one.enrolment.animal_id, one.enrolment.group_id)
        nth = contacts[key] = contacts.get(key, 0) + 1
        if nth > most:
            said = (
                f"Booking {booking.pk} allows {most} contacts with each animal; for "
                f"{one.subject} this was contact {nth}."
            )
            found.append(Shortfall(Code.OVER_CONTACTS, said))
    return found


def _severity(what: Happening, already: Sequence[Shortfall]) -> list[Shortfall]:
    """Give the passing of the plan's own prospective severity, where no approval's says it."""
    most = what.project.plan.max_severity
    if not exceeds(what.severity, most) or any(one.code == Code.OVER_SEVERITY for one in already):
        return []
    said = f"The plan expects {SEVERITIES[most]} at most; this was {SEVERITIES[what.severity]}."
    return [Shortfall(Code.OVER_SEVERITY, said)]


def over_severity(project: Project, day: date, severity: int) -> list[Shortfall]:
    """Give the limits that an animal's actual severity passes at its end in a project."""
    event = EventFacts(day=day, severity=severity)
    found = [
        one
        for one in uncovered(event, needed_by(project, day), {})
        if one.code == Code.OVER_SEVERITY
    ]
    most = project.plan.max_severity
    if not found and exceeds(severity, most):
        said = f"The plan expects {SEVERITIES[most]} at most; this was {SEVERITIES[severity]}."
        found.append(Shortfall(Code.OVER_SEVERITY, said))
    return found


def write_uses(
    what: Happening,
    handled: Sequence[Handled],
    *,
    session: Session | None,
    note: str,
    by: Person,
) -> tuple[list[Use], list[Breach]]:
    """Write a use for each animal and a breach for each limit that it passed."""
    return write_all([(what, handled)], sessions=[session], note=note, by=by)


def write_all(
    entered: Sequence[Entered], *, sessions: Sequence[Session | None], note: str, by: Person
) -> tuple[list[Use], list[Breach]]:
    """Do the same for much that happened in one project by one procedure, with few queries."""
    found = judged_all(entered)
    now = timezone.now()
    uses = [
        _use(what, one, session, note, now, by)
        for (what, handled), session in zip(entered, sessions, strict=True)
        for one in handled
    ]
    uses = Use.objects.bulk_create(uses, batch_size=_AT_ONCE)
    shortfalls = [here for each in found for here in each]
    breaches = [
        _breach(use, short) for use, here in zip(uses, shortfalls, strict=True) for short in here
    ]
    return uses, Breach.objects.bulk_create(breaches, batch_size=_AT_ONCE)


_AT_ONCE = 500


def _use(
    what: Happening, one: Handled, session: Session | None, note: str, now: datetime, by: Person
) -> Use:
    return Use(
        project=what.project,
        animal=one.subject if isinstance(one.subject, Animal) else None,
        group=one.subject if isinstance(one.subject, Group) else None,
        number=one.animals,
        enrolment=one.enrolment,
        session=session,
        procedure=what.procedure,
        place=what.place,
        happened_at=what.moment,
        recorded_at=now,
        days_late=days_late(what.moment, now),
        recorded_by=by,
        severity=what.severity,
        note=note,
    )


def _breach(use: Use, short: Shortfall) -> Breach:
    day = timezone.localdate(use.happened_at)
    return Breach(
        project=use.project,
        code=short.code,
        said=capfirst(f"{use.procedure} of {use.subject}, {day_said(day)}. {short.said}"),
        approval_id=short.approval,
        use=use,
        session=use.session,
        animal=use.animal,
        group=use.group,
        happened_on=day,
    )
