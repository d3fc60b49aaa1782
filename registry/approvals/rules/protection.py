"""Say whether an animal is protected on a day: by its class, its stage and the rules of a place.

Notes
-----
Two-thirds of the gestation or incubation is for mammals, birds and reptiles (in the EU for mammals
alone). In any other case it is the capability of independent feeding: to apply two-thirds to
sharks, skates or fish is wrong in law. What is not known is treated as protected.

References
----------
Animals (Scientific Procedures) Act 1986, s.1(1), (2) and (2A); Directive 2010/63/EU, art. 1(3).
That a hatchling shark with a yolk is treated as protected from the egg on is our reading.
"""

from dataclasses import dataclass
from datetime import date, datetime
from math import floor

from registry.approvals.rules.law import Rules

VERTEBRATES = frozenset({"mammal", "bird", "reptile", "amphibian", "bony_fish"}) | {
    "cartilaginous_fish"
}
_INSIDE = frozenset({"egg", "embryo"})
_OUTSIDE = frozenset({"hatchling", "pup", "juvenile", "subadult", "adult"})
_FEEDING = frozenset({"pup", "juvenile", "subadult", "adult"})
_DAY_S = 86_400


@dataclass(frozen=True, slots=True)
class Override:
    """What a named person decided of one animal, whatever the rule would say.

    Raises
    ------
    ValueError
        Without a person or a reason.
    """

    is_protected: bool
    by: str
    reason: str

    def __post_init__(self) -> None:
        if not (self.by.strip() and self.reason.strip()):
            raise ValueError("an override needs the person who decided, and the reason")


@dataclass(frozen=True, slots=True)
class StageFacts:
    """What is known of an animal's stage.

    Parameters
    ----------
    animal_class : str
        As the register names classes, such as "bird" or "cartilaginous_fish".
    at : date or datetime
        The moment asked about. Where it or `began` is only a day, whole days are compared with the
        whole part of the share, which is the cautious side.
    began : date or datetime, optional
        When it was laid, fertilised or mated.
    born : date or datetime, optional
        When it hatched or was born.
    feeds_from : date or datetime, optional
        From when it can feed independently: the capability, not the first meal.
    period_least_d : int, optional
        The shortest published gestation or incubation, days.
    stage : str
        The stage in which the register holds it; empty where that is not known.
    """

    animal_class: str
    at: date
    began: date | None = None
    born: date | None = None
    feeds_from: date | None = None
    period_least_d: int | None = None
    stage: str = ""


@dataclass(frozen=True, slots=True)
class Protection:
    """Whether an animal is protected, why, and by which edition of the rules.

    `is_certain` is False where something was not known, or the law leaves it to a reading; a named
    person should decide.
    """

    is_protected: bool
    why: str
    version: str
    is_certain: bool = True


def protection(facts: StageFacts, rules: Rules, override: Override | None = None) -> Protection:
    """Say whether an animal is protected at a moment.

    Parameters
    ----------
    facts : StageFacts
    rules : Rules
        Of the place, on that day.
    override : Override, optional
        What a named person decided instead.

    Examples
    --------
    >>> from registry.approvals.rules.law import rules_on
    >>> egg = StageFacts("bird", date(2026, 5, 15), began=date(2026, 5, 1), period_least_d=21)
    >>> protection(egg, rules_on("uk", egg.at)).is_protected
    True
    >>> protection(egg, rules_on("eu", egg.at)).is_protected
    False
    """
    if override is not None:
        said = f"{override.by} decided so: {override.reason}"
        return Protection(override.is_protected, said, rules.version)
    is_protected, is_certain, why = _by_class(facts, rules)
    return Protection(is_protected, why, rules.version, is_certain)


type _Found = tuple[bool, bool, str]


def _by_class(facts: StageFacts, rules: Rules) -> _Found:
    if not rules.is_known and facts.animal_class != "other_invertebrate":
        return True, False, "No rule of this place is held, so it is treated as protected."
    if facts.animal_class == "decapod":
        return False, True, "A decapod is not a protected animal; local ethics rules apply."
    if facts.animal_class == "cephalopod":
        return _cephalopod(facts)
    if facts.animal_class not in VERTEBRATES:
        return False, True, "It is neither a vertebrate nor a cephalopod."
    if facts.animal_class in {"mammal", "bird", "reptile"}:
        return _by_period(facts, rules)
    return _by_feeding(facts)


def _is_out(facts: StageFacts) -> bool | None:
    """Say whether it has hatched or been born; None where that is not known."""
    if facts.born is not None:
        return not _before(facts.at, facts.born)
    if facts.stage in _OUTSIDE | {"larva"}:
        return True
    if facts.stage in _INSIDE or facts.began is not None:
        return False
    return None


def _cephalopod(facts: StageFacts) -> _Found:
    out = _is_out(facts)
    if out:
        return True, True, "A cephalopod is protected from hatching."
    if out is None:
        return True, False, "Whether it has hatched is not known, so it is treated as protected."
    return False, True, "A cephalopod in its egg is not protected."


def _by_period(facts: StageFacts, rules: Rules) -> _Found:
    out = _is_out(facts)
    if out:
        return True, True, "A vertebrate that has hatched or been born is protected."
    if out is None:
        return True, False, "Its stage is not known, so it is treated as protected."
    if facts.animal_class not in rules.late_classes:
        return False, True, f"A {facts.animal_class} is protected from hatching here."
    if facts.began is None or facts.period_least_d is None:
        unknown = "start" if facts.began is None else "period"
        return True, False, f"The {unknown} of its development is not known: treated as protected."
    limit = rules.late_share * facts.period_least_d
    elapsed, is_exact = _elapsed_d(facts.began, facts.at)
    is_late = elapsed >= (limit if is_exact else floor(limit))
    said = (
        f"{elapsed:g} of {facts.period_least_d} days have passed; it is protected after "
        f"{float(limit):.4g}."
    )
    return is_late, True, said


def _by_feeding(facts: StageFacts) -> _Found:
    out = _is_out(facts)
    if out and facts.animal_class == "cartilaginous_fish":
        is_certain = facts.stage in _FEEDING or _can_feed(facts)
        why = "A shark, skate or ray that has hatched is treated as able to feed."
        return True, is_certain, why
    if facts.feeds_from is not None:
        can_feed = _can_feed(facts)
        why = "It can feed independently." if can_feed else "It cannot feed independently yet."
        return can_feed, True, why
    if facts.stage in _FEEDING:
        return True, True, "At this stage it feeds independently."
    if out is False:
        return False, True, "In its egg, or its mother, it cannot feed independently."
    return True, False, "From when it can feed is not known, so it is treated as protected."


def _can_feed(facts: StageFacts) -> bool:
    return facts.feeds_from is not None and not _before(facts.at, facts.feeds_from)


def _before(one: date, other: date) -> bool:
    """Compare moments as moments, and days as days."""
    if isinstance(one, datetime) and isinstance(other, datetime):
        return one < other
    return _day(one) < _day(other)


def _day(moment: date) -> date:
    return moment.date() if isinstance(moment, datetime) else moment


def _elapsed_d(began: date, at: date) -> tuple[float, bool]:
    """Give the days between, and whether that is to the moment."""
    if isinstance(began, datetime) and isinstance(at, datetime):
        return (at - began).total_seconds() / _DAY_S, True
    return float((_day(at) - _day(began)).days), False
