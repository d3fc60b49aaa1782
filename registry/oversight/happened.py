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
from registry.oversight.bars import restricted_on
from registry.oversight.facts import event_of, is_halted_at, needed_by, subject_of, used_of
from registry.oversight.limits import (
    SEVERITIES,
    Code,
    EventFacts,
    Shortfall,
    day_said,
    exceeds,
    uncovered,
    uncovered_each,
)
from registry.oversight.models import Booking, Breach, Enrolment, Session, Use, days_late
from registry.people.models import Person
from registry.projects.models import Procedure, Project


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


def judged(what: Happening, handled: Sequence[Handled]) -> list[list[Shortfall]]:
    """Say for each animal, in order, which limits were passed; an empty list is none."""
    needed = needed_by(what.project, what.day)
    events = [
        event_of(
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
        for one in handled
    ]
    found = uncovered_each(events, needed, used_of(needed, {what.procedure.pk}))
    restricted = restricted_on(
        [one.subject for one in handled],
        what.day,
        is_contact=what.procedure.is_contact,
        project=what.project,
    )
    of_house = _house(what)
    contacts = _contacts(handled) if what.procedure.is_contact else {}
    for one, here in zip(handled, found, strict=True):
        here.extend([*of_house, *_enrolled(what, one), *_booked(what, one, contacts)])
        bars = restricted[subject_of(one.subject)]
        here.extend(Shortfall(Code.RESTRICTED, said) for said in bars)
        here.extend(_severity(what, here))
    return found


def _house(what: Happening) -> list[Shortfall]:
    if is_halted_at(what.project, what.moment):
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


def _contacts(handled: Sequence[Handled]) -> _Contacts:
    """Count the hands-on contacts so far, by booking, animal and group; one query."""
    bookings = {one.enrolment.booking_id for one in handled if one.enrolment}
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
        row = one.enrolment
        nth = contacts.get((booking.pk, row.animal_id, row.group_id), 0) + 1
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
    found = judged(what, handled)
    uses, breaches = [], []
    for one, shortfalls in zip(handled, found, strict=True):
        animal = one.subject if isinstance(one.subject, Animal) else None
        group = one.subject if isinstance(one.subject, Group) else None
        now = timezone.now()
        use = Use.objects.create(
            project=what.project,
            animal=animal,
            group=group,
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
        uses.append(use)
        breaches += [
            Breach.objects.create(
                project=what.project,
                code=short.code,
                said=capfirst(
                    f"{what.procedure} of {one.subject}, {day_said(what.day)}. {short.said}"
                ),
                approval_id=short.approval,
                use=use,
                session=session,
                animal=animal,
                group=group,
                happened_on=what.day,
            )
            for short in shortfalls
        ]
    return uses, breaches
