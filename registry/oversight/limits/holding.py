"""Hold an event against the limits of every permission that its project needs.

An approval is a set of limits. An enrolment, a session or a use is covered only when, for **every**
needed permission, an approval of that kind is live on the event's own day and covers its taxon,
stage, procedure, place, person, severity, weekday and numbers. None live is itself the refusal.

The functions say what is not covered, in sentences; they decide nothing. Before an event the
actions refuse with what is said here; after one they record it all the same and open a breach.

References
----------
Interfaces of this project, section 4: permission is needed, not merely checked; one approval may
cover several projects, and numbers count across all of them.
Animals (Scientific Procedures) Act 1986, s.5: a project licence names the programme of work, the
regulated procedures, the descriptions of animals and the places.
Standard condition 18 of project licences (from memory): a severity limit that is exceeded is told.
"""

from collections.abc import Iterable, Sequence
from datetime import date

from registry.approvals.rules.severity import NAMES as SEVERITIES
from registry.approvals.rules.severity import exceeds
from registry.oversight.counting import LineUse, Subject
from registry.oversight.limits.facts import (
    ApprovalFacts,
    Code,
    EventFacts,
    LimitFacts,
    NeededFacts,
    Shortfall,
    Used,
)

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def uncovered(event: EventFacts, needed: Sequence[NeededFacts], used: Used) -> list[Shortfall]:
    """Say every limit that an event does not keep; an empty list covers it.

    Parameters
    ----------
    event : EventFacts
    needed : sequence of NeededFacts
        Every permission that the project needs. Without any body's approval among them nothing
        limits the work, and that is itself a shortfall.
    used : mapping of int to LineUse
        What is used up of each limit line without this event.

    Returns
    -------
    list of Shortfall
        Where several approvals are of one kind, one that covers the event whole is enough, and
        else what is said is about the one that comes nearest.
    """
    found: list[Shortfall] = []
    if all(one.papers is not None or not one.is_said for one in needed):
        said = "The project needs no approval of a body, so nothing permits or limits the work."
        found.append(Shortfall(Code.NO_LIVE_PERMISSION, said))
    for permission in (one for one in needed if one.binds(event)):
        if not permission.is_said:
            said = f"{permission.name}: nobody has said whether it is needed."
            found.append(Shortfall(Code.NO_LIVE_PERMISSION, said))
        elif permission.papers is not None:
            found += _papers(event.day, permission)
        else:
            found += _nearest(event, permission, used)
    return list(dict.fromkeys(found))


def uncovered_each(
    events: Iterable[EventFacts], needed: Sequence[NeededFacts], used: Used
) -> list[list[Shortfall]]:
    """Hold events against the limits one after another, each counted before the next.

    Parameters
    ----------
    events : iterable of EventFacts
        In the order in which they take their places.
    needed, used
        As for `uncovered`.

    Returns
    -------
    list of list of Shortfall
        One list for each event.

    Notes
    -----
    An event counts for those after it though it falls short itself: of twelve animals where ten
    have a place, the last two are named.
    """
    return hold_each(((event, needed) for event in events), used)


def hold_each(
    events: Iterable[tuple[EventFacts, Sequence[NeededFacts]]], used: Used
) -> list[list[Shortfall]]:
    """Do the same with events of several days, each beside what its project needs on its day.

    Parameters
    ----------
    events : iterable of (EventFacts, sequence of NeededFacts)
    used : mapping of int to LineUse
    """
    animals = {number: dict(one.animals) for number, one in used.items()}
    contacts = {number: dict(one.contacts) for number, one in used.items()}
    now = {number: LineUse(animals[number], contacts[number]) for number in used}
    found: list[list[Shortfall]] = []
    for nth, (event, needed) in enumerate(events):
        found.append(uncovered(event, needed, now))
        lines = {
            line.number
            for permission in needed
            for approval in permission.approvals
            for line in lines_of(event, approval)
        }
        for number in lines:
            if number not in now:
                animals[number], contacts[number] = {}, {}
                now[number] = LineUse(animals[number], contacts[number])
            _add(animals[number], contacts[number], event, nth)
    return found


def _add(
    animals: dict[str, int], contacts: dict[Subject, int], event: EventFacts, nth: int
) -> None:
    """Count an event into what is used up of a line."""
    assert event.subject is not None
    lot = event.lot if not event.lot.endswith("being enrolled") else f"{event.lot} {nth}"
    animals[lot] = max(animals.get(lot, 0), event.animals)
    if event.contacts:
        contacts[event.subject] = contacts.get(event.subject, 0) + event.contacts


def _papers(day: date, permission: NeededFacts) -> list[Shortfall]:
    papers = permission.papers or ()
    code = Code.NO_LIVE_PERMISSION if permission.procedures is None else Code.UNTRAINED
    if not papers:
        said = f"{permission.name}: the project has no student who could hold it."
        return [Shortfall(code, said)]
    return [
        Shortfall(
            code,
            f"{permission.name}: {paper.person} does not hold it on {day_said(day)}.",
        )
        for paper in papers
        if not any(day in span for span in paper.live)
    ]


def _nearest(event: EventFacts, permission: NeededFacts, used: Used) -> list[Shortfall]:
    if not permission.approvals:
        said = f"{permission.name}: none was granted to this project."
        return [Shortfall(Code.NO_LIVE_PERMISSION, said)]
    each = [_held_to(event, approval, used) for approval in permission.approvals]
    # One that is in force comes nearer than one that is not, however few its faults.
    return min(each, key=lambda found: (any(one.code in _NOT_LIVE for one in found), len(found)))


_NOT_LIVE = frozenset({Code.OUTSIDE_DATES, Code.SUSPENDED, Code.NOT_IN_FORCE})


def _held_to(event: EventFacts, approval: ApprovalFacts, used: Used) -> list[Shortfall]:
    """Hold an event against one approval."""
    said = [
        *_days(event.day, approval),
        *_place_and_people(event, approval),
        *_animals(event, approval, used),
    ]
    return [
        Shortfall(code, f"{approval.said[0].upper()}{approval.said[1:]} {words}", approval.number)
        for code, words in said
    ]


type _Said = list[tuple[Code, str]]


def _days(day: date, approval: ApprovalFacts) -> _Said:
    if not approval.is_live_on(day):
        if any(day in span for span in approval.paused):
            return [(Code.SUSPENDED, f"is suspended on {day_said(day)}.")]
        if not approval.starts_on <= day <= approval.ends_on:
            span = f"{day_said(approval.starts_on)} to {day_said(approval.ends_on)}"
            return [(Code.OUTSIDE_DATES, f"holds from {span}, not on {day_said(day)}.")]
        return [(Code.NOT_IN_FORCE, f"is not in force on {day_said(day)}.")]
    if day.isoweekday() not in approval.weekdays:
        allowed = ", ".join(WEEKDAYS[one - 1] for one in sorted(approval.weekdays))
        name = WEEKDAYS[day.isoweekday() - 1]
        return [(Code.WEEKDAY, f"allows {allowed or 'no day'}; {day_said(day)} is a {name}.")]
    return []


def _place_and_people(event: EventFacts, approval: ApprovalFacts) -> _Said:
    said: _Said = []
    if event.place is not None and event.place.number not in approval.places:
        said.append((Code.PLACE, f"does not name {event.place.name}."))
    said += [
        (Code.PERSON, f"does not name {person.name} among those who may do the work.")
        for person in event.people
        if person.number not in approval.people
    ]
    return said + _severity(event, approval)


def severity_at_most(event: EventFacts, approval: ApprovalFacts) -> int:
    """Give the class that an approval allows an event: of its line, once it is done.

    A plan has one class for all that it does, so that before the event only the approval's own
    is asked; what a line allows is held against what one procedure of it reached.
    """
    own = [
        line.max_severity
        for line in lines_of(event, approval)
        if line.max_severity is not None and event.contacts
    ]
    open_lines = len(lines_of(event, approval)) - len(own)
    if not own or open_lines:
        return approval.max_severity
    return next((one for one in own if not exceeds(event.severity or 0, one)), max(own))


def _severity(event: EventFacts, approval: ApprovalFacts) -> _Said:
    most = severity_at_most(event, approval)
    if event.severity is None or not exceeds(event.severity, most):
        return []
    said = f"allows {SEVERITIES[most]} at most; this is {SEVERITIES[event.severity]}."
    return [(Code.OVER_SEVERITY, said)]


def lines_of(event: EventFacts, approval: ApprovalFacts) -> list[LimitFacts]:
    """Give the lines that an event falls under."""
    if event.kind is None or event.procedure is None:
        return []
    return [
        line
        for line in approval.limits
        if line.kind.holds(event.kind) and line.procedure == event.procedure.number
    ]


def _animals(event: EventFacts, approval: ApprovalFacts, used: Used) -> _Said:
    if event.kind is None:
        return []
    of_taxon = [line for line in approval.limits if line.kind.taxon == event.kind.taxon]
    if not of_taxon:
        return [(Code.TAXON, f"does not cover {event.taxon or 'this taxon'}.")]
    of_stage = [line for line in of_taxon if line.kind.holds(event.kind)]
    if not of_stage:
        stages = ", ".join(sorted({line.kind.stage for line in of_taxon}))
        stage = event.kind.stage or "of no known stage"
        return [(Code.STAGE, f"covers {event.taxon} as {stages}; {event.name} is {stage}.")]
    if event.procedure is None or event.subject is None:
        return []
    lines = lines_of(event, approval)
    if not lines:
        words = f"does not cover “{event.procedure.name}” of {event.taxon}."
        return [(Code.PROCEDURE, words)]
    # A line for the stage itself and one for any stage may both fit; one with room is enough.
    return min((_numbers(event, line, used.get(line.number, LineUse())) for line in lines), key=len)


def _numbers(event: EventFacts, line: LimitFacts, used: LineUse) -> _Said:
    assert event.subject is not None
    assert event.procedure is not None
    said: _Said = []
    more = max(0, event.animals - used.animals.get(event.lot, 0))
    if more and used.taken + more > line.max_animals:
        left = max(0, line.max_animals - used.taken)
        words = (
            f"allows {line.max_animals} {event.taxon} for “{event.procedure.name}”; "
            f"{used.taken} are taken, {left} left, and {event.name} would take {more}."
        )
        said.append((Code.OVER_ANIMALS, words))
    if event.contacts and line.max_contacts_each is not None:
        before = used.contacts.get(event.subject, 0)
        if before + event.contacts > line.max_contacts_each:
            words = (
                f"allows “{event.procedure.name}” {line.max_contacts_each} times each; for "
                f"{event.name} this would be time {before + event.contacts}."
            )
            said.append((Code.OVER_CONTACTS, words))
    return said


def day_said(day: date) -> str:
    """Write a day as the pages do.

    Examples
    --------
    >>> day_said(date(2026, 3, 3))
    '3 Mar 2026'
    """
    return f"{day.day} {day:%b} {day.year}"
