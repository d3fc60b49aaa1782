"""RegisterFacts: what the register knows of a project, as plain values that a child may be handed.

Days are calendar days at the site; an interval holds its first and its last day, and None is open.
A part that is None was not asked for, and its check does not run; an empty part is an answer.
"""

import json
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class Enrolled:
    """An animal or group, by its enrolment code, in the project from `since` to `until`."""

    code: str
    since: date | None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Live:
    """Days on which every needed permission is live and covers the work.

    `weekdays` (Monday is 0) narrows the days; None allows each.
    """

    since: date | None
    until: date | None = None
    weekdays: tuple[int, ...] | None = None


@dataclass(frozen=True, slots=True)
class Restricted:
    """An enrolled animal that was to be left alone; `kind` and `strength` in the keepers' words."""

    code: str
    since: date | None
    until: date | None
    strength: str
    kind: str


@dataclass(frozen=True, slots=True)
class Held:
    """A session by its code, from `start` to `end` (both with a time zone, or both without)."""

    code: str
    start: datetime
    end: datetime | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """How many different values of a role the plan promised (24 animals, 12 sessions)."""

    role: str
    number: int


@dataclass(frozen=True, slots=True)
class Published:
    """A version of the study's dictionary, by its number, and the day on which it was published."""

    number: int
    on: date


@dataclass(frozen=True, slots=True)
class Passed:
    """Days on which an observer, by code, stands behind the gate of the dictionary."""

    code: str
    since: date
    until: date | None = None


@dataclass(frozen=True, slots=True)
class RegisterFacts:
    """What the register holds for one project, without Django.

    Parameters
    ----------
    project : str
        How people name the project, for messages.
    enrolments, approvals, restrictions, sessions, planned : tuple or None
        See the classes above; None where not asked for.
    places : tuple of str or None
        Codes of the enclosures that the project may use.
    enclosures : tuple of str or None
        Codes of all enclosures there are.
    observers : tuple of str or None
        Codes of the project's observers.
    tested : tuple of Passed or None
        Where the dictionary asks that observers pass a test; None where it asks for none.
    versions : tuple of Published or None
        Of the study's dictionary.
    people : tuple of str or None
        Names of those whom the register knows, which have no place in data.
    every_s : int or None
        Seconds from one planned scan to the next, where the plan has scans.
    """

    project: str = ""
    enrolments: tuple[Enrolled, ...] | None = None
    approvals: tuple[Live, ...] | None = None
    restrictions: tuple[Restricted, ...] | None = None
    places: tuple[str, ...] | None = None
    enclosures: tuple[str, ...] | None = None
    observers: tuple[str, ...] | None = None
    tested: tuple[Passed, ...] | None = None
    sessions: tuple[Held, ...] | None = None
    planned: tuple[Planned, ...] | None = None
    versions: tuple[Published, ...] | None = None
    people: tuple[str, ...] | None = None
    every_s: int | None = None

    def to_json(self) -> str:
        """Write the facts as JSON; times are ISO 8601."""
        return json.dumps(asdict(self), default=_iso, ensure_ascii=False)

    @classmethod
    def from_json(cls, text: str) -> "RegisterFacts":
        """Read back what `to_json` wrote.

        Examples
        --------
        >>> facts = RegisterFacts(enrolments=(Enrolled("CE-07", date(2026, 3, 1)),))
        >>> RegisterFacts.from_json(facts.to_json()) == facts
        True
        """
        shape = json.loads(text)
        return cls(
            project=shape["project"],
            enrolments=_each(shape["enrolments"], _enrolled),
            approvals=_each(shape["approvals"], _live),
            restrictions=_each(shape["restrictions"], _restricted),
            places=_each(shape["places"], str),
            enclosures=_each(shape["enclosures"], str),
            observers=_each(shape["observers"], str),
            tested=_each(shape.get("tested"), _tested),
            sessions=_each(shape["sessions"], _held),
            planned=_each(shape["planned"], lambda item: Planned(**item)),
            versions=_each(shape.get("versions"), _published),
            people=_each(shape.get("people"), str),
            every_s=shape.get("every_s"),
        )


def _iso(value: object) -> str:
    if isinstance(value, date):
        return value.isoformat()
    message = f"{value!r} cannot be handed to a child."
    raise TypeError(message)


def _each(items: list[Any] | None, read: Any) -> tuple[Any, ...] | None:
    return None if items is None else tuple(read(item) for item in items)


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _enrolled(item: dict[str, Any]) -> Enrolled:
    return Enrolled(item["code"], _day(item["since"]), _day(item["until"]))


def _live(item: dict[str, Any]) -> Live:
    weekdays = item["weekdays"]
    return Live(
        _day(item["since"]), _day(item["until"]), None if weekdays is None else tuple(weekdays)
    )


def _restricted(item: dict[str, Any]) -> Restricted:
    return Restricted(
        item["code"], _day(item["since"]), _day(item["until"]), item["strength"], item["kind"]
    )


def _held(item: dict[str, Any]) -> Held:
    end = item["end"]
    return Held(
        item["code"],
        datetime.fromisoformat(item["start"]),
        None if end is None else datetime.fromisoformat(end),
    )


def _tested(item: dict[str, Any]) -> Passed:
    return Passed(item["code"], date.fromisoformat(item["since"]), _day(item["until"]))


def _published(item: dict[str, Any]) -> Published:
    return Published(item["number"], date.fromisoformat(item["on"]))
