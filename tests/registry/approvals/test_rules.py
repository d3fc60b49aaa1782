"""The rules on animals used in science: what is not known, overridden, or not held."""

import doctest
from dataclasses import replace
from datetime import date, timedelta

import pytest

from registry.approvals.rules import law, protection, regulated, reuse, severity, stages
from registry.approvals.rules.protection import Override, StageFacts
from registry.approvals.rules.regulated import Answer, Effect, ProcedureFacts, Purpose

DAY = date(2026, 5, 1)
UK, OTHER = law.rules_on("uk", DAY), law.rules_on("other", DAY)


@pytest.mark.parametrize("module", [law, protection, regulated, reuse, severity, stages])
def test_the_examples_in_the_docstrings_hold(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]  # a module is one


def test_rules_older_than_any_that_is_held_are_asked_for_by_name() -> None:
    assert law.rules_on("uk", date(2013, 1, 1)).version == "uk-2013.1"
    with pytest.raises(LookupError, match="named person"):
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
