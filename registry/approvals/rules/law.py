"""What the rules say where, each edition with its version, its first day and its source.

References
----------
Animals (Scientific Procedures) Act 1986, sections 1, 2 and 14, as amended by S.I. 2012/3039 from
1 January 2013. Directive 2010/63/EU, articles 1, 5, 16 and Annex VIII, applied from 1 January 2013.
Both were read in the copies at legislation.gov.uk; exemptions of art. 1(5) are from memory.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction

from registry.errors import Unsound

MILD, MODERATE, SEVERE, NON_RECOVERY = 1, 2, 3, 9


class Jurisdiction(StrEnum):
    """Where the work is done."""

    UK = "uk"
    EU = "eu"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Rules:
    """One edition of the rules of a place.

    Parameters
    ----------
    jurisdiction : Jurisdiction
    version : str
        Stored beside each answer that was given by it.
    from_on : date
        The first day on which it holds.
    source : str
    late_share : Fraction
        The share of gestation or incubation after which an embryo is protected, 0 to 1.
    late_classes : frozenset of str
        The classes to which that share applies; never sharks, skates or fish.
    reuse_next : frozenset of int
        Classes of severity that a procedure with an animal used before may have.
    is_known : bool
        Whether these are the rules of the place itself; else everything stays on the cautious side
        until somebody has looked them up.
    """

    jurisdiction: Jurisdiction
    version: str
    from_on: date
    source: str
    late_share: Fraction = Fraction(2, 3)
    late_classes: frozenset[str] = frozenset()
    reuse_next: frozenset[int] = frozenset({MILD, MODERATE, NON_RECOVERY})
    is_known: bool = True


EDITIONS = (
    Rules(
        Jurisdiction.UK,
        "uk-2013.1",
        date(2013, 1, 1),
        "Animals (Scientific Procedures) Act 1986 as amended by S.I. 2012/3039",
        late_classes=frozenset({"mammal", "bird", "reptile"}),
    ),
    Rules(
        Jurisdiction.EU,
        "eu-2013.1",
        date(2013, 1, 1),
        "Directive 2010/63/EU",
        late_classes=frozenset({"mammal"}),
    ),
    Rules(
        Jurisdiction.OTHER,
        "other-2026.1",
        date(1900, 1, 1),
        "no law is held for this place: protected throughout, and a named person is asked",
        is_known=False,
    ),
)


def held_from(jurisdiction: str) -> date:
    """Give the first day on which an edition holds."""
    return min(one.from_on for one in EDITIONS if one.jurisdiction == jurisdiction)


def rules_on(jurisdiction: str, day: date) -> Rules:
    """Give the newest edition that holds on a day.

    Raises
    ------
    Unsound
        When no edition as old as that is held.

    Examples
    --------
    >>> rules_on("uk", date(2026, 5, 1)).version
    'uk-2013.1'
    """
    held = [one for one in EDITIONS if one.jurisdiction == jurisdiction and one.from_on <= day]
    if not held:
        raise Unsound(
            "What the law asks on that day cannot be said.",
            f"No rules for “{jurisdiction}” on {day.isoformat()} are held.",
            "Give a later day; where the day is right, look the rules up and let a named person"
            " decide.",
        )
    return max(held, key=lambda one: one.from_on)
