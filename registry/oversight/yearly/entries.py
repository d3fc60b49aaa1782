"""From the uses of animals in regulated work to the procedures that a return counts.

All uses of one animal in one programme are one procedure, from its first step to its last. A
continued use, for which the animal is needed because of its earlier steps, adds to the procedure
that it continues; any other programme is a re-use: a procedure more, and no animal more.

References
----------
Animals (Scientific Procedures) Act 1986, s.14 (re-use); that a continued use is one use in the
return is from memory. That members of a group which cannot be told apart are counted on the
cautious side is our reading.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from registry.oversight.counting import NON_RECOVERY, Subject
from registry.oversight.yearly.sums import Procedure

EMBRYOS = frozenset({"egg", "embryo"})


@dataclass(frozen=True, slots=True)
class Lot:
    """The regulated uses of one animal or group in one project under one enrolment, summed.

    Parameters
    ----------
    subject : Subject
    project : int
    first_on, last_on : date
        The days of its first and of its last use.
    ended_on : date or None
        Its last day in the project; None while it is enrolled.
    species, purpose, origin : str
        As the lists of the return name them.
    severity : int or None
        The actual class.
    stage : str
        The stage of life in which it was enrolled.
    most, total : int
        The largest number of a group used at once, and the sum over its uses.
    enrolled : int
        How many of a group were enrolled; 0 outside any enrolment.
    is_continued : bool
        Whether a person said that it continues the use before it.
    """

    subject: Subject
    project: int
    first_on: date
    last_on: date
    ended_on: date | None
    species: str
    purpose: str
    origin: str
    severity: int | None
    stage: str = ""
    most: int = 1
    total: int = 1
    enrolled: int = 0
    is_continued: bool = False

    @property
    def animals(self) -> int:
        """How many animals it is at most: never fewer than were used at once.

        Examples
        --------
        >>> from dataclasses import replace
        >>> day = date(2026, 5, 1)
        >>> lot = Lot(Subject("group", 1), 4, day, day, day, "fish", "", "", 1, "", 3, 6, 10)
        >>> lot.animals, replace(lot, total=30).animals, replace(lot, enrolled=0).animals
        (6, 10, 3)
        """
        return 1 if not self.subject.is_group else min(self.total, max(self.enrolled, self.most))


def procedures_of(lots: Iterable[Lot]) -> Iterator[Procedure]:
    """Give the procedures of a return, one subject after another; nothing else of it is kept.

    Parameters
    ----------
    lots : iterable of Lot
        In order of their subjects, those of one subject together.
    """
    for _subject, here in groupby(lots, key=lambda one: one.subject):
        uses = _joined(sorted(here, key=lambda one: (one.first_on, one.project)))
        for nth, one in enumerate(uses):
            before = uses[:nth]
            yield Procedure(
                species=one.species,
                purpose=one.purpose,
                origin=one.origin,
                severity=one.severity if one.ended_on else None,
                is_reuse=any(
                    other.ended_on is not None and other.ended_on <= one.first_on
                    for other in before
                ),
                ended_on=one.ended_on,
                animals=one.animals,
                is_late_embryo=one.stage in EMBRYOS,
            )


def _joined(lots: list[Lot]) -> list[Lot]:
    """Join what one programme did with one animal, and what continues an earlier use.

    Members of a group are not told apart: each of its lots stands by itself.
    """
    found: list[Lot] = []
    for one in lots:
        if not one.subject.is_group:
            nth = _continues(found, one)
            if nth is not None:
                found[nth] = _together(found[nth], one)
                continue
        found.append(one)
    return found


def _continues(found: list[Lot], one: Lot) -> int | None:
    same = [nth for nth, other in enumerate(found) if other.project == one.project]
    if same:
        return same[-1]
    return len(found) - 1 if found and one.is_continued else None


def _together(first: Lot, then: Lot) -> Lot:
    ends = [one for one in (first.ended_on, then.ended_on) if one is not None]
    return replace(
        first,
        last_on=max(first.last_on, then.last_on),
        ended_on=max(ends) if len(ends) == 2 else None,
        severity=_highest(first.severity, then.severity),
        total=first.total + then.total,
    )


def _highest(one: int | None, other: int | None) -> int | None:
    """Give the higher class; what was felt goes before what was not, as animals wake once."""
    if one is None or other is None:
        return None
    on_scale = [severity for severity in (one, other) if severity != NON_RECOVERY]
    return max(on_scale, default=NON_RECOVERY)
