"""On which days an approval is live: its dates, weekdays, suspensions and end, as known then.

All days are calendar days at the site. An interval holds its first and its last day.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

EVERY_DAY = "1234567"
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class PauseFacts:
    """A suspension.

    Parameters
    ----------
    began_on : date
        The first day on which the approval was not in force.
    ended_on : date or None
        The first day on which it was in force again; None while it lasts.
    recorded_at, end_recorded_at : datetime or None
        When its beginning and its end became known; None for always.
    """

    began_on: date
    ended_on: date | None = None
    recorded_at: datetime | None = None
    end_recorded_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class ApprovalFacts:
    """What decides on which days an approval is live.

    Parameters
    ----------
    granted_on : date or None
        The day of the decision to approve; None where there is none. Nothing is live before it.
    starts_on, ends_on : date
        Its first and its last day.
    weekdays : str
        The days of the week on which it holds, Monday is 1.
    superseded_on : date or None
        The first day of the amendment that replaced it, on which it is no longer live.
    ended_on : date or None
        The day on which it was withdrawn or closed, on which it is no longer live.
    pauses : tuple of PauseFacts
    granted_at, superseded_recorded_at, ended_recorded_at : datetime or None
        When each of these became known; None for always.
    """

    granted_on: date | None
    starts_on: date
    ends_on: date
    weekdays: str = EVERY_DAY
    superseded_on: date | None = None
    ended_on: date | None = None
    pauses: tuple[PauseFacts, ...] = ()
    granted_at: datetime | None = None
    superseded_recorded_at: datetime | None = None
    ended_recorded_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Days:
    """A run of days, both ends within it."""

    first: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


def live_days(facts: ApprovalFacts, known_by: datetime | None = None) -> tuple[Days, ...]:
    """Give the intervals on which an approval is live, weekdays left out of account.

    Parameters
    ----------
    facts : ApprovalFacts
    known_by : datetime, optional
        Only what was recorded by this moment counts.

    Returns
    -------
    tuple of Days
        In order, none touching another.

    Examples
    --------
    >>> year = ApprovalFacts(date(2026, 1, 5), date(2026, 1, 1), date(2026, 1, 31),
    ...                      pauses=(PauseFacts(date(2026, 1, 10), date(2026, 1, 12)),))
    >>> [(one.first.day, one.last.day) for one in live_days(year)]
    [(5, 9), (12, 31)]
    """
    if facts.granted_on is None or not _is_known(facts.granted_at, known_by):
        return ()
    first, last = max(facts.granted_on, facts.starts_on), facts.ends_on
    ends = (
        (facts.superseded_on, facts.superseded_recorded_at),
        (facts.ended_on, facts.ended_recorded_at),
    )
    for ended, recorded_at in ends:
        if ended is not None and _is_known(recorded_at, known_by):
            last = min(last, ended - _DAY)
    runs = [Days(first, last)] if first <= last else []
    for pause in facts.pauses:
        if _is_known(pause.recorded_at, known_by):
            runs = _without(runs, pause, known_by)
    return tuple(runs)


def live_on(facts: ApprovalFacts, day: date, known_by: datetime | None = None) -> bool:
    """Say whether an approval is live on a day, its weekdays included.

    Parameters
    ----------
    facts : ApprovalFacts
    day : date
        The day of the event, never today for an event of another day.
    known_by : datetime, optional
        Only what was recorded by this moment counts.
    """
    return str(day.isoweekday()) in facts.weekdays and any(
        day in run for run in live_days(facts, known_by)
    )


def why_not(facts: ApprovalFacts, day: date) -> str:
    """Give in words why an approval is not live on a day; empty where it is.

    Parameters
    ----------
    facts : ApprovalFacts
    day : date
    """
    if live_on(facts, day):
        return ""
    if facts.granted_on is None:
        return "it has not been granted"
    causes = (
        (day < facts.granted_on, f"it was granted on {_said(facts.granted_on)}"),
        (day < facts.starts_on, f"it begins on {_said(facts.starts_on)}"),
        (
            facts.ended_on is not None and day >= facts.ended_on,
            f"it was ended on {_said(facts.ended_on)}",
        ),
        (
            facts.superseded_on is not None and day >= facts.superseded_on,
            f"an amendment replaced it on {_said(facts.superseded_on)}",
        ),
        (day > facts.ends_on, f"it ran out on {_said(facts.ends_on)}"),
        (str(day.isoweekday()) not in facts.weekdays, "it does not hold on that day of the week"),
    )
    return next((said for holds, said in causes if holds), "it was suspended on that day")


def _said(day: date | None) -> str:
    return "" if day is None else f"{day.day} {day:%b} {day.year}"


def merged(days: Iterable[date]) -> tuple[Days, ...]:
    """Give days as the fewest runs that hold them.

    Parameters
    ----------
    days : iterable of date
        In any order.

    Examples
    --------
    >>> [(run.first.day, run.last.day) for run in merged([date(2026, 5, n) for n in (3, 1, 2, 7)])]
    [(1, 3), (7, 7)]
    """
    runs: list[Days] = []
    for day in sorted(set(days)):
        if runs and runs[-1].last + _DAY == day:
            runs[-1] = Days(runs[-1].first, day)
        else:
            runs.append(Days(day, day))
    return tuple(runs)


def each_day(first: date, last: date) -> list[date]:
    """Give every day from the first to the last.

    Parameters
    ----------
    first, last : date
        Both are given; none where the last is before the first.
    """
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


def _is_known(recorded_at: datetime | None, known_by: datetime | None) -> bool:
    return recorded_at is None or known_by is None or recorded_at <= known_by


def _without(runs: list[Days], pause: PauseFacts, known_by: datetime | None) -> list[Days]:
    """Take a suspension out of the runs; an end that is not known yet is no end."""
    end = pause.ended_on if _is_known(pause.end_recorded_at, known_by) else None
    kept: list[Days] = []
    for run in runs:
        before = Days(run.first, min(run.last, pause.began_on - _DAY))
        after = None if end is None else Days(max(run.first, end), run.last)
        if end is not None and end <= pause.began_on:
            kept.append(run)
            continue
        kept += [one for one in (before, after) if one is not None and one.first <= one.last]
    return kept
