"""What is counted: animals and groups, their enrolments and uses, and the two clocks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

NON_RECOVERY = 9
"""The class that stands off the scale: nothing was felt, for the animal never woke."""


@dataclass(frozen=True, slots=True, order=True)
class Subject:
    """An animal, or a counted group.

    Parameters
    ----------
    sort : str
        "animal" or "group".
    number : int
        The number of its row.

    Examples
    --------
    >>> str(Subject("animal", 12))
    'animal 12'
    """

    sort: str
    number: int

    def __str__(self) -> str:
        return f"{self.sort} {self.number}"

    @property
    def is_group(self) -> bool:
        """Whether its members are counted, not told apart."""
        return self.sort == "group"


@dataclass(frozen=True, slots=True)
class Kind:
    """What a limit line is about: a taxon and the stage of life in which the animal is held.

    Parameters
    ----------
    taxon : int
        The number of the taxon's row.
    stage : str
        The stage of life; in a limit line, empty means any.
    """

    taxon: int
    stage: str = ""

    def holds(self, other: "Kind") -> bool:
        """Say whether the other is of this taxon, and of this stage where one is named."""
        return self.taxon == other.taxon and self.stage in {"", other.stage}


@dataclass(frozen=True, slots=True)
class EnrolmentRow:
    """One enrolment as it is stored.

    Parameters
    ----------
    number, project : int
        Numbers of the enrolment's and its project's rows.
    subject : Subject
    kind : Kind
    animals : int
        How many animals; 1 for one that is told apart.
    procedures : frozenset of int
        The procedures of the project's plan: what the enrolled animal is there for.
    from_on : date
        The first day in the project, in local time.
    recorded_at : datetime
        When that was recorded, with a time zone.
    left_on : date, optional
        The last day in the project.
    left_recorded_at : datetime, optional
        When that was recorded.
    """

    number: int
    project: int
    subject: Subject
    kind: Kind
    animals: int
    procedures: frozenset[int]
    from_on: date
    recorded_at: datetime
    left_on: date | None = None
    left_recorded_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class UseRow:
    """One use as it is stored, reversing entries too.

    Parameters
    ----------
    number, project : int
        Numbers of the use's and its project's rows.
    subject : Subject
    kind : Kind
    animals : int
        How many animals of a group it touched; 1 for one that is told apart.
    procedure : int
        The number of the procedure's row.
    is_contact : bool
        Whether the procedure touches, lifts, moves or feeds the animal; watching does not.
    happened_on : date
        In local time.
    recorded_at : datetime
        With a time zone.
    enrolment : int, optional
        The enrolment under which it was used.
    severity : int
        The actual class: 0 sub-threshold, 1 mild, 2 moderate, 3 severe, 9 non-recovery.
    reverses : int, optional
        The use that this entry takes back.
    """

    number: int
    project: int
    subject: Subject
    kind: Kind
    animals: int
    procedure: int
    is_contact: bool
    happened_on: date
    recorded_at: datetime
    enrolment: int | None = None
    severity: int = 0
    reverses: int | None = None


@dataclass(frozen=True, slots=True)
class UseSum:
    """The standing uses of one subject by one procedure under one enrolment, summed.

    Parameters
    ----------
    project : int
    subject : Subject
    kind : Kind
    procedure : int
    enrolment : int or None
    most : int
        The largest number of animals used at once.
    times : int
        How many uses there were.
    """

    project: int
    subject: Subject
    kind: Kind
    procedure: int
    enrolment: int | None
    most: int
    times: int


@dataclass(frozen=True, slots=True)
class AsOf:
    """Happened by `day`, known by `known_by`; None leaves that clock open.

    Parameters
    ----------
    day : date, optional
        The last day that counts, in local time.
    known_by : datetime, optional
        The last moment of recording that counts, with a time zone.
    """

    day: date | None = None
    known_by: datetime | None = None

    def has_happened(self, on: date) -> bool:
        """Say whether something of this day counts."""
        return self.day is None or on <= self.day

    def is_known(self, at: datetime | None) -> bool:
        """Say whether what was recorded at this moment counts; what never was does not."""
        return at is not None and (self.known_by is None or at <= self.known_by)


NOW = AsOf()
"""Everything that is known, whenever it happened."""


@dataclass(frozen=True, slots=True)
class LineUse:
    """What is used up of one limit line.

    Parameters
    ----------
    animals : mapping of lot to int
        How many animals each lot holds. A lot is what can be told apart from other lots.
    contacts : mapping of Subject to int
        How often each subject underwent the line's procedure.
    """

    animals: Mapping[str, int] = field(default_factory=dict)
    contacts: Mapping[Subject, int] = field(default_factory=dict)

    @property
    def taken(self) -> int:
        """Animals in all."""
        return sum(self.animals.values())


def lot_of(subject: Subject, enrolment: int | None, project: int) -> str:
    """Name the lot that an enrolment or a use of a subject belongs to."""
    if not subject.is_group:
        return str(subject)
    if enrolment is None:
        return f"{subject}, project {project}, not enrolled"
    return f"{subject}, enrolment {enrolment}"
