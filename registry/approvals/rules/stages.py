"""From which day on an animal is protected while a study lasts, with what is known of it today.

Notes
-----
An egg that the register holds today may have hatched by a later day: from the shortest published
period on, or from tomorrow where that is not known, it is treated as protected.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil

from registry.approvals.rules.law import Rules
from registry.approvals.rules.protection import Override, Protection, StageFacts, protection

_DAY = timedelta(days=1)
_UNHATCHED = frozenset({"egg", "embryo"})


@dataclass(frozen=True, slots=True)
class Told:
    """What a named person decided of an animal for some days.

    Parameters
    ----------
    override : Override
    from_on : date
    until_on : date or None
        Its last day; None while it lasts.
    """

    override: Override
    from_on: date
    until_on: date | None = None

    def __contains__(self, day: date) -> bool:
        return self.from_on <= day and (self.until_on is None or day <= self.until_on)


@dataclass(frozen=True, slots=True)
class Known:
    """What the register knows of an animal's development.

    Parameters
    ----------
    facts : StageFacts
        `at` and `stage` are not asked of it.
    stages : sequence of (date, str)
        Its stages with the first day of each, in order; the first holds before that day too.
    known_on : date
        The day on which this was read: what is later is not known.
    told : sequence of Told
        In the order in which it was decided; the newest that holds on a day counts.
    """

    facts: StageFacts
    stages: Sequence[tuple[date, str]]
    known_on: date
    told: Sequence[Told] = ()


@dataclass(frozen=True, slots=True)
class Spell:
    """Whether an animal is protected while a study lasts.

    Parameters
    ----------
    from_on : date or None
        The first day of the study on which it is; None where it never is.
    is_throughout : bool
        Whether that is the study's first day.
    then : Protection
        What is said of it on that day, or on the last day where it never is.
    """

    from_on: date | None
    is_throughout: bool
    then: Protection


def protected_on(known: Known, day: date, rules: Rules) -> Protection:
    """Say whether an animal is protected on a day.

    Parameters
    ----------
    known : Known
    day : date
    rules : Rules

    Examples
    --------
    >>> from registry.approvals.rules.law import rules_on
    >>> laid, uk = date(2026, 5, 1), rules_on("uk", date(2026, 5, 1))
    >>> string = Known(StageFacts("cephalopod", laid, laid, period_least_d=60),
    ...                [(laid, "egg")], known_on=date(2026, 5, 10))
    >>> [protected_on(string, date(2026, month, 1), uk).is_protected for month in (5, 6, 7)]
    [False, False, True]
    """
    override = next((one.override for one in reversed(known.told) if day in one), None)
    return protection(_on(known, day), rules, override)


def _on(known: Known, day: date) -> StageFacts:
    """Give what is known for a day, what may have come since today on the cautious side."""
    stage = known.stages[0][1] if known.stages else known.facts.stage
    for first, one in known.stages:
        if first <= day:
            stage = one
    facts = replace(known.facts, at=day, stage=stage)
    if day > known.known_on and stage in _UNHATCHED and facts.born is None:
        hatches = _earliest_hatch(known)
        if day >= hatches:
            return replace(facts, began=None, stage="")
    return facts


def _earliest_hatch(known: Known) -> date:
    began, period = known.facts.began, known.facts.period_least_d
    if began is None or period is None:
        return known.known_on + _DAY
    return began + timedelta(days=period)


def spell(known: Known, first: date, last: date, rules: Rules) -> Spell:
    """Say from which day of a study on an animal is protected.

    Parameters
    ----------
    known : Known
    first, last : date
        Of the study, both within it.
    rules : Rules

    Raises
    ------
    ValueError
        When the last day is before the first.
    """
    if last < first:
        raise ValueError(f"a study that begins on {first} cannot end on {last}")
    for day in sorted({first, last, *_turns(known, rules, first, last)}):
        found = protected_on(known, day, rules)
        if found.is_protected:
            return Spell(day, day == first, found)
    return Spell(None, False, found)


def _turns(known: Known, rules: Rules, first: date, last: date) -> Iterable[date]:
    """Give the days within a study on which the answer may change: it is the same between them."""
    facts = known.facts
    days = [day for day, _ in known.stages]
    days += [one for one in (facts.born, facts.feeds_from) if one is not None]
    days += [known.known_on + _DAY, _earliest_hatch(known)]
    if facts.began is not None and facts.period_least_d is not None:
        share = rules.late_share * facts.period_least_d
        days += [facts.began + timedelta(days=n) for n in (int(share), ceil(share))]
    for one in known.told:
        days += [one.from_on] + ([one.until_on + _DAY] if one.until_on else [])
    return [day for day in days if first <= day <= last]
