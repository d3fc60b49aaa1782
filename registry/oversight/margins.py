"""Lay out each limit beside what is asked of it and the margin that is left.

What `limits` says in sentences where something falls short, this says of every limit, kept or not,
so that a person sees how near the work comes before it comes too near.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from registry.oversight.counting import NON_RECOVERY, LineUse, Subject
from registry.oversight.limits import (
    SEVERITIES,
    ApprovalFacts,
    EventFacts,
    LimitFacts,
    NeededFacts,
    RestFacts,
    day_said,
    exceeds,
    lines_of,
    rested,
)


class Limited(StrEnum):
    """What a limit is about."""

    SAID = "whether it is needed"
    HELD = "held by"
    DAYS = "days"
    PLACES = "places"
    PEOPLE = "people"
    SEVERITY = "severity"
    PROCEDURE = "procedure"
    ANIMALS = "animals"
    TIMES = "times each"
    AGAIN = "use again"
    REST = "rest between hands-on events"
    BARS = "keep off"
    UNITS = "units of other projects"


@dataclass(frozen=True, slots=True)
class Margin:
    """One limit of one permission.

    Parameters
    ----------
    permission : str
        The needed permission.
    approval : int or None
        The number of the approval; None where none was granted, or where papers satisfy it.
    limited : Limited
    about : str
        What the limit is about by name, such as the procedure; may be empty.
    allowed, asked : str
    left : int or None
        What would be left afterwards, in days, classes, animals or times; below 0 where the limit
        is passed. None where nothing can be left over.
    is_kept : bool
    """

    permission: str
    approval: int | None
    limited: Limited
    about: str
    allowed: str
    asked: str
    left: int | None
    is_kept: bool


def margins(
    events: Sequence[EventFacts], needed: Sequence[NeededFacts], used: Mapping[int, LineUse]
) -> list[Margin]:
    """Give each limit, what it allows, what these events together ask, and what is left.

    Parameters
    ----------
    events : sequence of EventFacts
        All of one day; at least one.
    needed : sequence of NeededFacts
        Every permission that the project needs.
    used : mapping of int to LineUse
        What is used up of each limit line without these events.

    Returns
    -------
    list of Margin
        By permission, then by approval. Of several approvals of one kind, and of several lines
        that an event falls under, each is laid out; one with room is enough (see `limits`).

    Raises
    ------
    ValueError
        When there is no event, or they are not of one day.
    """
    if len({one.day for one in events}) != 1:
        raise ValueError("margins are of the events of one day, and of at least one")
    found: list[Margin] = []
    for permission in needed:
        if not any(permission.binds(event) for event in events):
            continue
        if not permission.is_said:
            said = ("", "nobody has said", None, False)
            found.append(Margin(permission.name, None, Limited.SAID, "", *said))
        elif permission.papers is not None:
            found += _papers(events[0], permission)
        elif not permission.approvals:
            said = ("none granted", day_said(events[0].day), None, False)
            found.append(Margin(permission.name, None, Limited.DAYS, "", *said))
        for approval in permission.approvals:
            found += _of_approval(events, permission.name, approval, used)
    return found


def _papers(event: EventFacts, permission: NeededFacts) -> list[Margin]:
    found = []
    for paper in permission.papers or ():
        spans = [span for span in paper.live if event.day in span]
        last = max((one.last for one in spans if one.last), default=None)
        is_open = any(one.last is None for one in spans)
        left = (last - event.day).days if last and not is_open else None
        allowed = "held" if is_open else f"held to {day_said(last)}" if last else "not held"
        row = (paper.person, allowed, day_said(event.day), left, bool(spans))
        found.append(Margin(permission.name, None, Limited.HELD, *row))
    if not found:
        row = ("", "no student", day_said(event.day), None, False)
        found.append(Margin(permission.name, None, Limited.HELD, *row))
    return found


def _of_approval(
    events: Sequence[EventFacts],
    permission: str,
    approval: ApprovalFacts,
    used: Mapping[int, LineUse],
) -> list[Margin]:
    rows = [
        _days(events[0], approval),
        *_named(events, approval),
        *_severity(events, approval),
        *_uncovered(events, approval),
        *_lines(events, approval, used),
    ]
    return [Margin(permission, approval.number, *row) for row in rows]


type _Row = tuple[Limited, str, str, str, int | None, bool]


def _days(event: EventFacts, approval: ApprovalFacts) -> _Row:
    allowed = f"{day_said(approval.starts_on)} to {day_said(approval.ends_on)}"
    is_live = approval.is_live_on(event.day) and event.day.isoweekday() in approval.weekdays
    if any(event.day in span for span in approval.paused):
        allowed += ", suspended"
    left = (approval.ends_on - event.day).days
    return (Limited.DAYS, approval.title, allowed, day_said(event.day), left, is_live)


def _named(events: Sequence[EventFacts], approval: ApprovalFacts) -> list[_Row]:
    places = {one.place for one in events if one.place is not None}
    people = {person for one in events for person in one.people}
    return [
        (
            limited,
            thing.name,
            "named" if thing.number in among else "not named",
            thing.name,
            None,
            thing.number in among,
        )
        for limited, things, among in (
            (Limited.PLACES, places, approval.places),
            (Limited.PEOPLE, people, approval.people),
        )
        for thing in sorted(things, key=lambda one: one.name)
    ]


def _severity(events: Sequence[EventFacts], approval: ApprovalFacts) -> list[_Row]:
    asked = {one.severity for one in events if one.severity is not None}
    most = approval.max_severity
    return [
        (
            Limited.SEVERITY,
            "",
            SEVERITIES[most],
            SEVERITIES[severity],
            None if NON_RECOVERY in {severity, most} else most - severity,
            not exceeds(severity, most),
        )
        for severity in sorted(asked)
    ]


def _uncovered(events: Sequence[EventFacts], approval: ApprovalFacts) -> list[_Row]:
    """Give what falls under no line of the approval, once for each taxon, stage and procedure."""
    rows: list[_Row] = []
    for one in events:
        if one.kind is None or (one.procedure is not None and lines_of(one, approval)):
            continue
        what = one.procedure.name if one.procedure else "any procedure"
        asked = f"{one.taxon} as {one.kind.stage}" if one.kind.stage else one.taxon
        is_kept = one.procedure is None and any(
            line.kind.holds(one.kind) for line in approval.limits
        )
        if not is_kept:
            rows.append((Limited.PROCEDURE, what, "not covered", asked, None, False))
    return list(dict.fromkeys(rows))


def _lines(
    events: Sequence[EventFacts], approval: ApprovalFacts, used: Mapping[int, LineUse]
) -> list[_Row]:
    rows: list[_Row] = []
    for line in approval.limits:
        here = [one for one in events if line in lines_of(one, approval)]
        if here:
            rows += _line(here, line, used.get(line.number, LineUse()))
    return rows


def _line(events: Sequence[EventFacts], line: LimitFacts, used: LineUse) -> list[_Row]:
    """Give the animals and the times of one line; a lot that has its place asks for none."""
    first = events[0]
    about = f"{first.procedure.name if first.procedure else ''}: {first.taxon}"
    asked: dict[str, int] = {}
    for nth, one in enumerate(events):
        # Members of a group that is being enrolled are different animals each time.
        lot = f"{one.lot} {nth}" if one.lot.endswith("being enrolled") else one.lot
        more = max(0, one.animals - used.animals.get(lot, 0))
        asked[lot] = max(asked.get(lot, 0), more)
    total = sum(asked.values())
    left = line.max_animals - used.taken - total
    allowed = f"{line.max_animals}, {used.taken} of them taken"
    rows: list[_Row] = [
        (Limited.ANIMALS, about, allowed, str(total), left, left >= 0 or total == 0)
    ]
    if line.max_contacts_each is not None:
        times: dict[object, int] = {}
        for one in events:
            done = times.get(one.subject, used.contacts.get(one.subject, 0) if one.subject else 0)
            times[one.subject] = done + one.contacts
        most = max(times.values())
        spare = line.max_contacts_each - most
        is_kept = spare >= 0 or not any(one.contacts for one in events)
        row = (str(line.max_contacts_each), str(most), spare, is_kept)
        rows.append((Limited.TIMES, about, *row))
    return rows


HOUSE = "the house"
"""Who lays down what no approval does."""


def rest_margins(
    events: Sequence[EventFacts],
    contacts: Mapping[Subject, Sequence[date]],
    rules: Sequence[RestFacts],
) -> list[Margin]:
    """Give each rule of rest that binds hands-on events, by the animal that comes nearest to it.

    Parameters
    ----------
    events : sequence of EventFacts
        One for each subject; those of one subject by several procedures count once.
    contacts : mapping of Subject to sequence of date
        The days of each subject's other hands-on events.
    rules : sequence of RestFacts
    """
    fullest: dict[int, tuple[RestFacts, int, str]] = {}
    for event in {one.subject: one for one in events}.values():
        assert event.subject is not None
        for one in rested(event, contacts.get(event.subject, ()), rules):
            before = fullest.get(one.rule.number)
            if before is None or before[1] < one.asked:
                fullest[one.rule.number] = (one.rule, one.asked, event.name)
    return [
        Margin(
            HOUSE,
            None,
            Limited.REST,
            f"rule {rule.number} of {rule.owner}",
            rule.said,
            f"{asked} for {name}",
            rule.most - asked,
            asked <= rule.most,
        )
        for rule, asked, name in fullest.values()
    ]


def barred_margins(limited: Limited, bars: Mapping[str, Sequence[str]], day: date) -> list[Margin]:
    """Give what bars each subject by name as limits that are passed; one row that none is.

    Parameters
    ----------
    limited : Limited
    bars : mapping of str to sequence of str
        Subject to sentences.
    day : date
    """
    found = [
        Margin(HOUSE, None, limited, name, said, day_said(day), None, False)
        for name, sentences in bars.items()
        for said in sentences
    ]
    none = Margin(HOUSE, None, limited, "", "none in the way", day_said(day), None, True)
    return found or [none]
