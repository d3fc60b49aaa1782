"""What limits are held against, and what they say: approvals, papers, events, shortfalls."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from registry.oversight.counting import Kind, LineUse, Subject, lot_of


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
    REST = "rest-not-kept"
    UNTRAINED = "untrained"
    SHARED_UNIT = "shared-unit"
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
    max_severity : int, optional
        The class that this procedure may reach at most; None is the approval's own.
    """

    number: int
    kind: Kind
    procedure: int
    max_animals: int
    max_contacts_each: int | None = None
    max_severity: int | None = None


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
    """What a person must hold where a permission is no body's approval: agreement or induction.

    Parameters
    ----------
    person : str
        Who must hold it: a student of the project, or who does the work.
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
        One for each who must hold it, where papers satisfy it and no approval does.
    is_said : bool
        Whether somebody said that it is needed; one that must be asked and was not is in the way.
    procedures : frozenset of int, optional
        By which procedures alone it is needed, as a training is; None is by all.
    """

    name: str
    approvals: tuple[ApprovalFacts, ...] = ()
    papers: tuple[PaperFacts, ...] | None = None
    is_said: bool = True
    procedures: frozenset[int] | None = None

    def binds(self, event: "EventFacts") -> bool:
        """Say whether an event needs it; what is done by no known procedure needs no training."""
        if self.procedures is None:
            return True
        return event.procedure is not None and event.procedure.number in self.procedures


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
