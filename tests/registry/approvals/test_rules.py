"""The rules on animals used in science: what is not known, overridden, or not held."""

import doctest
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.approvals.rules import law, protection, regulated, reuse, severity, stages
from registry.approvals.rules.protection import Override, StageFacts
from registry.approvals.rules.regulated import Answer, Effect, ProcedureFacts, Purpose
from registry.approvals.rules.reuse import EarlierUse, NextUse
from registry.approvals.rules.reuse import reuse as use_again
from registry.errors import Unsound

DAY = date(2026, 5, 1)
UK, OTHER = law.rules_on("uk", DAY), law.rules_on("other", DAY)


@pytest.mark.parametrize("module", [law, protection, regulated, reuse, severity, stages])
def test_the_examples_in_the_docstrings_hold(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]  # a module is one


def test_rules_older_than_any_that_is_held_are_asked_for_by_name() -> None:
    assert law.rules_on("uk", date(2013, 1, 1)).version == "uk-2013.1"
    with pytest.raises(Unsound, match="named person"):
        law.rules_on("uk", date(2012, 12, 31))


@pytest.mark.parametrize(
    "facts",
    [
        StageFacts("bird", DAY, began=DAY - timedelta(days=1), stage="egg"),
        StageFacts("bird", DAY, period_least_d=35, stage="egg"),
        StageFacts("bird", DAY),
        StageFacts("cephalopod", DAY),
        StageFacts("bony_fish", DAY, stage="larva"),
        StageFacts("bony_fish", DAY, stage="hatchling"),
        StageFacts("amphibian", DAY),
        StageFacts("cartilaginous_fish", DAY, born=DAY),
    ],
)
def test_what_is_not_known_is_treated_as_protected_and_said_to_be_uncertain(
    facts: StageFacts,
) -> None:
    found = protection.protection(facts, UK)
    assert found.is_protected
    assert not found.is_certain


def test_a_named_person_may_decide_otherwise_with_a_reason() -> None:
    facts = StageFacts("cartilaginous_fish", DAY, stage="hatchling")
    said = Override(False, "Ada Tern", "still fed by its yolk")
    assert protection.protection(facts, UK).is_protected
    found = protection.protection(facts, UK, said)
    assert not found.is_protected
    assert "Ada Tern" in found.why
    with pytest.raises(ValueError, match="reason"):
        Override(False, "Ada Tern", " ")


def test_the_longest_known_day_never_frees_an_animal_that_was_protected() -> None:
    began = DAY - timedelta(days=40)
    facts = StageFacts("bird", DAY, began=began, period_least_d=35, stage="egg")
    days = [
        protection.protection(replace(facts, at=began + timedelta(days=day)), UK).is_protected
        for day in range(60)
    ]
    assert days == sorted(days)


def test_where_no_rule_is_held_all_but_watching_is_referred() -> None:
    egg = StageFacts("cephalopod", DAY, stage="egg")
    assert not protection.protection(egg, UK).is_protected
    assert protection.protection(egg, OTHER).is_protected
    facts = ProcedureFacts(Purpose.SCIENTIFIC, Effect.BELOW, is_protected=True)
    assert regulated.screened(facts, UK).answer == Answer.NOT_REGULATED
    assert regulated.screened(facts, OTHER).answer == Answer.REFER
    watching = replace(facts, effect=Effect.NONE)
    assert regulated.screened(watching, OTHER).answer == Answer.NOT_REGULATED


def test_what_reaches_a_needle_for_a_study_is_regulated() -> None:
    facts = ProcedureFacts(Purpose.EDUCATIONAL, Effect.REACHES, is_protected=True)
    assert regulated.screened(facts, UK).answer == Answer.REGULATED
    husbandry = replace(facts, purpose=Purpose.HUSBANDRY)
    assert regulated.screened(husbandry, UK).answer == Answer.NOT_REGULATED


# ---------------------------------------------------------------------------- of any facts at all

CLASSES = st.sampled_from(sorted(protection.VERTEBRATES | {"cephalopod", "decapod"}))
SEVERITIES = st.sampled_from([0, 1, 2, 3, 9])
ORDER = [Answer.NOT_REGULATED, Answer.REFER, Answer.REGULATED]


@given(
    animal_class=CLASSES,
    elapsed=st.integers(0, 200),
    period=st.integers(1, 200),
    forgotten=st.sampled_from(["began", "period_least_d"]),
    place=st.sampled_from(["uk", "eu", "other"]),
)
def test_to_know_less_of_an_egg_never_takes_its_protection_away(
    animal_class: str, elapsed: int, period: int, forgotten: str, place: str
) -> None:
    rules = law.rules_on(place, DAY)
    began = DAY - timedelta(days=elapsed)
    facts = StageFacts(animal_class, DAY, began, period_least_d=period, stage="egg")
    if protection.protection(facts, rules).is_protected:
        less = replace(facts, **{forgotten: None})  # type: ignore[arg-type]  # why: either may be None
        assert protection.protection(less, rules).is_protected


@given(
    purpose=st.sampled_from(list(Purpose)),
    flags=st.tuples(*[st.booleans()] * 5),
    place=st.sampled_from(["uk", "eu", "other"]),
)
def test_a_harder_effect_never_makes_the_answer_milder(
    purpose: Purpose, flags: tuple[bool, ...], place: str
) -> None:
    rules = law.rules_on(place, DAY)
    answers = [
        ORDER.index(regulated.screened(ProcedureFacts(purpose, effect, *flags), rules).answer)
        for effect in (Effect.NONE, Effect.BELOW, Effect.MAY_REACH, Effect.REACHES)
    ]
    assert answers == sorted(answers)


@given(
    earlier=st.lists(st.none() | SEVERITIES, max_size=4),
    more=st.none() | SEVERITIES,
    then=SEVERITIES,
    said=st.tuples(*[st.booleans()] * 4),
)
def test_one_use_more_never_makes_use_again_easier(
    earlier: list[int | None], more: int | None, then: int, said: tuple[bool, ...]
) -> None:
    asked = NextUse(then, *said)
    before = use_again([EarlierUse(one) for one in earlier], asked, UK)
    after = use_again([EarlierUse(one) for one in [*earlier, more]], asked, UK)
    assert before.is_allowed or not after.is_allowed


@given(effect=st.sampled_from([0, 1, 2, 3]), is_lasting=st.booleans())
def test_what_lasts_is_never_of_a_lower_class(effect: int, is_lasting: bool) -> None:
    assert severity.class_of(effect, is_lasting=is_lasting) >= effect
