"""Screen a procedure: not regulated, to be referred, or regulated. An aid; a named person decides.

References
----------
Animals (Scientific Procedures) Act 1986, s.2(1), (1A), (2) and (2A); Directive 2010/63/EU, art.
1(4) and 1(5)(a)-(f) (the exemptions are from memory).
"""

from dataclasses import dataclass
from enum import StrEnum

from registry.approvals.rules.law import Rules


class Purpose(StrEnum):
    """Why it is done."""

    SCIENTIFIC = "scientific"
    EDUCATIONAL = "educational"
    VETERINARY = "veterinary"
    HUSBANDRY = "husbandry"
    IDENTIFICATION = "identification"


EXEMPT = frozenset({Purpose.VETERINARY, Purpose.HUSBANDRY, Purpose.IDENTIFICATION})
"""Purposes that do not qualify; the same deed for the sake of a study does."""


class Effect(StrEnum):
    """What the animal may go through, the whole series taken together, against a skilled needle."""

    NONE = "none"
    BELOW = "below"
    MAY_REACH = "may reach"
    REACHES = "reaches"


class Answer(StrEnum):
    """What the screening says."""

    NOT_REGULATED = "not regulated"
    REFER = "refer"
    REGULATED = "regulated"


@dataclass(frozen=True, slots=True)
class ProcedureFacts:
    """What a screening goes by.

    Parameters
    ----------
    purpose : Purpose
    effect : Effect
        Of all steps together, for a series counts as one.
    is_protected : bool
        When the procedure is applied.
    can_be_protected : bool
        Whether its kind is ever protected: vertebrates and cephalopods.
    becomes_protected : bool
        Whether it reaches the protected stage while the series lasts.
    lives_past : bool
        Whether it is allowed to live past the stage at which it becomes protected.
    is_felt_later : bool
        Whether an effect is likely after that stage.
    """

    purpose: Purpose
    effect: Effect
    is_protected: bool
    can_be_protected: bool = True
    becomes_protected: bool = False
    lives_past: bool = False
    is_felt_later: bool = False


@dataclass(frozen=True, slots=True)
class Screened:
    """The answer of a screening, its reason, what is still to be done, and the rules' version."""

    answer: Answer
    why: str
    next: str
    version: str


_ETHICS = "The ethical review of the collection and of the university is still needed."
_ASK = "Ask the named person before any of it is planned with an animal."
_LICENCE = "It may be done only under the licences that the law asks for."


def screened(facts: ProcedureFacts, rules: Rules) -> Screened:
    """Screen a procedure on an animal.

    Parameters
    ----------
    facts : ProcedureFacts
    rules : Rules

    Examples
    --------
    >>> from datetime import date
    >>> from registry.approvals.rules.law import rules_on
    >>> watching = ProcedureFacts(Purpose.SCIENTIFIC, Effect.NONE, is_protected=True)
    >>> screened(watching, rules_on("uk", date(2026, 5, 1))).answer.value
    'not regulated'
    """
    answer, why, then = _screened(facts)
    if not rules.is_known and answer != Answer.REGULATED and facts.effect != Effect.NONE:
        answer, then = Answer.REFER, _ASK
        why = f"No rules of this place are held. Elsewhere: {why}"
    return Screened(answer, why, then, rules.version)


def _screened(facts: ProcedureFacts) -> tuple[Answer, str, str]:
    if not facts.can_be_protected:
        why = "Its kind is never protected; local ethics rules apply."
        return Answer.NOT_REGULATED, why, _ETHICS
    if facts.purpose in EXEMPT:
        why = f"It is done for {facts.purpose.value}, not for a study."
        return Answer.NOT_REGULATED, why, "Screen it anew as soon as a study asks for it."
    if not (facts.is_protected or facts.becomes_protected):
        return _too_young(facts)
    if facts.effect in {Effect.NONE, Effect.BELOW}:
        why = "All of it together stays below the effect of a skilled needle."
        return Answer.NOT_REGULATED, why, _ETHICS
    if facts.effect == Effect.MAY_REACH:
        return Answer.REFER, "It may reach the effect of a skilled needle.", _ASK
    why = "For science or teaching, on a protected animal, it reaches the effect of a needle."
    return Answer.REGULATED, why, _LICENCE


def _too_young(facts: ProcedureFacts) -> tuple[Answer, str, str]:
    if facts.lives_past and facts.is_felt_later:
        why = "It lives past the stage at which it becomes protected, and an effect is likely then."
        return Answer.REFER, why, _ASK
    if facts.lives_past:
        why = "It is not yet protected, and no effect is likely once it is."
        return Answer.NOT_REGULATED, why, f"Watch for effects that were not expected. {_ETHICS}"
    why = "It is not yet protected, and does not live to be."
    return Answer.NOT_REGULATED, why, f"Killing is still done humanely, and recorded. {_ETHICS}"
