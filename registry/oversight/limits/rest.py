"""Hold hands-on events against the house's rules of rest between them.

References
----------
No statute gives days of rest for behaviour work: these are rules of the house, each with an owner,
a reason and a date. The days that count are those of the event itself, never of its entry.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from registry.oversight.counting import Subject
from registry.oversight.limits.facts import Code, EventFacts, Shortfall
from registry.oversight.limits.holding import day_said


@dataclass(frozen=True, slots=True)
class RestFacts:
    """A rule of the house: so many hands-on events in so many days, and no more.

    Parameters
    ----------
    number : int
        The number of its row.
    most : int
        Hands-on events in any window, 1 or more.
    days : int
        Length of the window in days, 1 to 365; 1 event in 3 days leaves two days of rest between.
    since : date
        The first day on which it holds.
    owner : str
        Who set it.
    taxon : int, optional
        The taxon that it is for; None is every one.
    until : date, optional
        The first day on which it held no longer.
    """

    number: int
    most: int
    days: int
    since: date
    owner: str
    taxon: int | None = None
    until: date | None = None

    @property
    def said(self) -> str:
        """What it allows, in words."""
        days = "day" if self.days == 1 else f"{self.days} days"
        return f"{self.most} in {'any' if self.days > 1 else 'a'} {days}"

    def is_for(self, event: EventFacts) -> bool:
        """Say whether it binds an event: of its taxon, on a day on which it holds."""
        taxon = event.kind.taxon if event.kind else None
        return (
            self.taxon in {None, taxon}
            and self.since <= event.day
            and (self.until is None or event.day < self.until)
        )


@dataclass(frozen=True, slots=True)
class Rested:
    """How an event stands to one rule of rest; `asked` is what its fullest window would hold."""

    rule: RestFacts
    asked: int

    @property
    def left(self) -> int:
        """Hands-on events that its fullest window would still take; below 0 where it is passed."""
        return self.rule.most - self.asked


def fullest(contacts: Sequence[date], day: date, days: int) -> int:
    """Count the events of the fullest window of so many days that holds a day.

    Parameters
    ----------
    contacts : sequence of date
        In order; one entry for each event.
    day : date
    days : int
        Length of a window, 1 or more.

    Examples
    --------
    >>> of = [date(2026, 5, n) for n in (1, 3, 4, 9)]
    >>> fullest(of, date(2026, 5, 3), 3), fullest(of, date(2026, 5, 6), 3)
    (2, 1)
    """
    length = timedelta(days=days - 1)
    begins = [one for one in contacts if day - length <= one <= day]
    return max(
        bisect_right(contacts, first + length) - bisect_left(contacts, first)
        for first in [*begins, day]
    )


def rested(event: EventFacts, contacts: Iterable[date], rules: Iterable[RestFacts]) -> list[Rested]:
    """Hold one hands-on event against the rules that bind it.

    Parameters
    ----------
    event : EventFacts
    contacts : iterable of date
        The days of the subject's other hands-on events, in every project, before it and after.
    rules : iterable of RestFacts
    """
    days = sorted([*contacts, event.day])
    return [
        Rested(rule, fullest(days, event.day, rule.days)) for rule in rules if rule.is_for(event)
    ]


def unrested(
    events: Iterable[EventFacts],
    contacts: Mapping[Subject, Sequence[date]],
    rules: Sequence[RestFacts],
) -> list[list[Shortfall]]:
    """Say for each hands-on event, one after another, which rules of rest it passes.

    Parameters
    ----------
    events : iterable of EventFacts
        Each counts for those after it.
    contacts : mapping of Subject to sequence of date
    rules : sequence of RestFacts
    """
    now = {subject: list(days) for subject, days in contacts.items()}
    found: list[list[Shortfall]] = []
    for event in events:
        assert event.subject is not None
        here = now.setdefault(event.subject, [])
        found.append([_passed(event, one) for one in rested(event, here, rules) if one.left < 0])
        here.append(event.day)
    return found


def _passed(event: EventFacts, one: Rested) -> Shortfall:
    rule = one.rule
    return Shortfall(
        Code.REST,
        f"The house allows {rule.said} of hands-on work with each animal (rule {rule.number} of "
        f"{rule.owner}, since {day_said(rule.since)}); {event.name} would have {one.asked}.",
    )
