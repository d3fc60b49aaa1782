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

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from registry.oversight.counting import (
    NON_RECOVERY,
    Kind,
    LineUse,
    Subject,
    lot_of,
)

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SEVERITIES = {
    0: "sub-threshold",
    1: "mild",
    2: "moderate",
    3: "severe",
    NON_RECOVERY: "non-recovery",
}


class Code(StrEnum):
    """What is not covered, as breaches and the API name it."""

    NO_LIVE_PERMISSION = "no-live-permission"
    OUTSIDE_DATES = "outside-dates"
    SUSPENDED = "suspended"
    NOT_IN_FORCE = "not-in-force"
    WEEKDAY = "weekday"
    TAXON = "taxon-not-covered"
    STAGE = "stage-not-covered"
    PROCEDURE = "procedure-not-covered"
    PLACE = "place-not-approved"
    PERSON = "person-not-named"
    OVER_SEVERITY = "over-severity"
    OVER_ANIMALS = "over-animals"
    OVER_CONTACTS = "over-contacts"
    # What is outside the house's own order, whatever the approvals say.
    NOT_ENROLLED = "not-enrolled"
    RESTRICTED = "restricted"
    OUTSIDE_BOOKING = "outside-booking"
    HALTED = "halted"
    NOT_HERE = "not-in-collection"


@dataclass(frozen=True, slots=True)
class Span:
    """Days from `first` to `last`, both included; None is open.

    Examples
    --------
    >>> date(2026, 3, 1) in Span(date(2026, 3, 1), None)
    True
    """

    first: date | None
    last: date | None

    def __contains__(self, day: date) -> bool:
        return (self.first is None or self.first <= day) and (self.last is None or day <= self.last)


@dataclass(frozen=True, slots=True)
class Thing:
    """A row by its number, and by the name that sentences give it."""

    number: int
    name: str


@dataclass(frozen=True, slots=True)
class LimitFacts:
    """One line of an approval: of this kind, by this procedure, so many and no more.

    Parameters
    ----------
    number : int
        The number of the line's row.
    kind : Kind
        Taxon and stage; an empty stage is any.
    procedure : int
    max_animals : int
        Distinct animals, over all the projects that the approval covers.
    max_contacts_each : int, optional
        Times that one animal may undergo the procedure; None is no limit.
    """

    number: int
    kind: Kind
    procedure: int
    max_animals: int
    max_contacts_each: int | None = None


@dataclass(frozen=True, slots=True)
class ApprovalFacts:
    """An approval that was granted, as a set of limits.

    Parameters
    ----------
    number : int
        The number of its row.
    title : str
        As people name it.
    starts_on, ends_on : date
        The dates that were granted, both included.
    live : tuple of Span
        The days on which it is in force: the dates granted, less suspensions and what came after
        its end.
    paused : tuple of Span
        The days on which it is suspended.
    weekdays : frozenset of int
        ISO days of the week, Monday is 1.
    places : frozenset of int
        The enclosures named; none named covers none.
    people : frozenset of int
        Who may do the work: the people named, or the project's members where none is.
    max_severity : int
        0 sub-threshold, 1 mild, 2 moderate, 3 severe, 9 non-recovery.
    limits : tuple of LimitFacts
        No line covers no animal.
    """

    number: int
    title: str
    starts_on: date
    ends_on: date
    live: tuple[Span, ...]
    paused: tuple[Span, ...] = ()
    weekdays: frozenset[int] = frozenset(range(1, 8))
    places: frozenset[int] = frozenset()
    people: frozenset[int] = frozenset()
    max_severity: int = 0
    limits: tuple[LimitFacts, ...] = ()

    @property
    def said(self) -> str:
        """How sentences name it."""
        return f"approval {self.number} (“{self.title}”)"

    def is_live_on(self, day: date) -> bool:
        """Say whether it is in force on this day."""
        return any(day in span for span in self.live)


@dataclass(frozen=True, slots=True)
class PaperFacts:
    """What a student must hold where a permission is no body's approval: agreement or induction.

    Parameters
    ----------
    person : str
        The student's name.
    live : tuple of Span
        The days on which it holds; empty where there is none.
    """

    person: str
    live: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class NeededFacts:
    """A permission that the project says it needs, and what it holds of it.

    Parameters
    ----------
    name : str
        The permission's name.
    approvals : tuple of ApprovalFacts
        Those of this kind that were granted to the project, whether or not they still hold.
    papers : tuple of PaperFacts, optional
        One for each student of the project, where papers satisfy it and no approval does.
    is_said : bool
        Whether somebody said that it is needed; one that must be asked and was not is in the way.
    """

    name: str
    approvals: tuple[ApprovalFacts, ...] = ()
    papers: tuple[PaperFacts, ...] | None = None
    is_said: bool = True


@dataclass(frozen=True, slots=True)
class EventFacts:
    """What is to happen, or did. A part that is None is not known, and is not held to a limit.

    Parameters
    ----------
    day : date
        In local time.
    subject : Subject, optional
        The animal or group.
    name : str
        How sentences name it.
    kind : Kind, optional
        Its taxon and stage.
    taxon : str
        The taxon's name for sentences.
    procedure : Thing, optional
    place : Thing, optional
    people : tuple of Thing
        Who does it; each must be named.
    severity : int, optional
        The class expected, or reached.
    animals : int
        How many of a group; 1 for an animal that is told apart.
    contacts : int
        1 for a use; 0 for an enrolment, which takes a place but touches nothing.
    project : int
        The number of the project.
    enrolment : int, optional
        The enrolment under which it happens; one that is being made has none yet.
    """

    day: date
    subject: Subject | None = None
    name: str = ""
    kind: Kind | None = None
    taxon: str = ""
    procedure: Thing | None = None
    place: Thing | None = None
    people: tuple[Thing, ...] = ()
    severity: int | None = None
    animals: int = 1
    contacts: int = 1
    project: int = 0
    enrolment: int | None = None

    @property
    def lot(self) -> str:
        """The lot that it belongs to; see `counting.places_taken`."""
        assert self.subject is not None
        if self.enrolment is None and self.contacts == 0 and self.subject.is_group:
            return f"{self.subject}, being enrolled"
        return lot_of(self.subject, self.enrolment, self.project)


@dataclass(frozen=True, slots=True)
class Shortfall:
    """One limit that an event does not keep.

    Parameters
    ----------
    code : Code
    said : str
        The limit and what passes it, as one sentence.
    approval : int, optional
        The number of the approval whose limit it is.
    """

    code: Code
    said: str
    approval: int | None = None


type Used = Mapping[int, LineUse]
"""What is used up of each limit line, by the line's number."""


def exceeds(severity: int, limit: int) -> bool:
    """Say whether a class of severity is over a limit.

    Parameters
    ----------
    severity, limit : int
        0 sub-threshold, 1 mild, 2 moderate, 3 severe, 9 non-recovery.

    Notes
    -----
    Non-recovery stands off the scale: it is covered only where it was approved itself, and an
    approval of it covers nothing else but what is below the threshold (the cautious reading).

    References
    ----------
    Directive 2010/63/EU, Annex VIII, section I.

    Examples
    --------
    >>> exceeds(2, 1), exceeds(1, 2), exceeds(9, 3), exceeds(9, 9), exceeds(1, 9)
    (True, False, True, False, True)
    """
    if severity in {limit, 0}:
        return False
    if NON_RECOVERY in {severity, limit}:
        return True
    return severity > limit


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
    for permission in needed:
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
    now = dict(used)
    found: list[list[Shortfall]] = []
    for nth, event in enumerate(events):
        found.append(uncovered(event, needed, now))
        for permission in needed:
            for approval in permission.approvals:
                for line in lines_of(event, approval):
                    now[line.number] = _with(now.get(line.number, LineUse()), event, nth)
    return found


def _with(used: LineUse, event: EventFacts, nth: int) -> LineUse:
    assert event.subject is not None
    lot = event.lot if not event.lot.endswith("being enrolled") else f"{event.lot} {nth}"
    animals, contacts = dict(used.animals), dict(used.contacts)
    animals[lot] = max(animals.get(lot, 0), event.animals)
    if event.contacts:
        contacts[event.subject] = contacts.get(event.subject, 0) + event.contacts
    return LineUse(animals, contacts)


def _papers(day: date, permission: NeededFacts) -> list[Shortfall]:
    papers = permission.papers or ()
    if not papers:
        said = f"{permission.name}: the project has no student who could hold it."
        return [Shortfall(Code.NO_LIVE_PERMISSION, said)]
    return [
        Shortfall(
            Code.NO_LIVE_PERMISSION,
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
    if event.severity is not None and exceeds(event.severity, approval.max_severity):
        limit, given = SEVERITIES[approval.max_severity], SEVERITIES[event.severity]
        said.append((Code.OVER_SEVERITY, f"allows {limit} at most; this is {given}."))
    return said


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
