"""What is protected, regulated and may be used again, held against the law and its readings.

Sources: Animals (Scientific Procedures) Act 1986, ss. 1, 2 and 14 as amended by S.I. 2012/3039;
Directive 2010/63/EU, art. 1(3), 1(5) and 16 (16 read in its German text, 1(5) from memory).
The incubation periods of penguins and the days of the zebrafish larva are from memory; chick eggs
from day 16, three quarters of 21 days: the guidance of an Illinois animal care committee.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import pytest

from registry.approvals.rules.law import MILD, MODERATE, NON_RECOVERY, SEVERE, Rules, rules_on
from registry.approvals.rules.protection import StageFacts, protection
from registry.approvals.rules.regulated import Answer, Effect, ProcedureFacts, Purpose, screened
from registry.approvals.rules.reuse import EarlierUse, NextUse, Sort, reuse
from registry.approvals.rules.severity import class_of, exceeds, may_add_up_to
from registry.oversight.counting import least_severity

pytestmark = pytest.mark.outside

LAID = datetime(2026, 5, 1, 6, tzinfo=UTC)
UK, EU = (rules_on(place, LAID.date()) for place in ("uk", "eu"))


def egg(animal_class: str, period_d: int | None, elapsed_d: int) -> StageFacts:
    """Give an embryo in its egg, laid at a known moment."""
    at = LAID + timedelta(days=elapsed_d)
    return StageFacts(animal_class, at, began=LAID, period_least_d=period_d, stage="egg")


@pytest.mark.parametrize(
    ("facts", "in_uk", "in_eu"),
    [
        pytest.param(egg("bird", 21, 13), False, False, id="chick egg of 21 days, day 13"),
        pytest.param(egg("bird", 21, 14), True, False, id="chick egg of 21 days, day 14"),
        pytest.param(egg("bird", 40, 26), False, False, id="penguin egg of 40 days, day 26"),
        pytest.param(egg("bird", 40, 27), True, False, id="penguin egg of 40 days, day 27"),
        pytest.param(egg("bird", 35, 23), False, False, id="gentoo egg of 35 days, day 23"),
        pytest.param(egg("bird", 35, 24), True, False, id="gentoo egg of 35 days, day 24"),
        pytest.param(egg("reptile", 60, 40), True, False, id="reptile egg, two-thirds"),
        pytest.param(egg("mammal", 21, 13), False, False, id="mammal, before two-thirds"),
        pytest.param(egg("mammal", 21, 14), True, True, id="mammal, last third in both"),
        pytest.param(
            StageFacts(
                "bony_fish",
                LAID + timedelta(days=4),
                LAID,
                LAID + timedelta(days=3),
                LAID + timedelta(days=5),
                stage="larva",
            ),
            *(False, False),
            id="zebrafish larva, day 4",
        ),
        pytest.param(
            StageFacts(
                "bony_fish",
                LAID + timedelta(days=5),
                LAID,
                LAID + timedelta(days=3),
                LAID + timedelta(days=5),
                stage="larva",
            ),
            *(True, True),
            id="zebrafish larva, day 5",
        ),
        pytest.param(egg("cartilaginous_fish", 180, 1), False, False, id="catshark egg, young"),
        pytest.param(egg("cartilaginous_fish", 180, 179), False, False, id="catshark egg, old"),
        pytest.param(
            StageFacts("cartilaginous_fish", LAID, stage="hatchling"), True, True, id="with a yolk"
        ),
        pytest.param(
            StageFacts("cartilaginous_fish", LAID, stage="embryo"), False, False, id="ray in utero"
        ),
        pytest.param(
            StageFacts("cartilaginous_fish", LAID, stage="adult"), True, True, id="its mother"
        ),
        pytest.param(egg("cephalopod", 60, 59), False, False, id="cuttlefish egg"),
        pytest.param(
            StageFacts("cephalopod", LAID, stage="hatchling"), True, True, id="cuttlefish hatchling"
        ),
        pytest.param(
            StageFacts("decapod", LAID, stage="adult"), False, False, id="crab, lobster, prawn"
        ),
        pytest.param(
            StageFacts("other_invertebrate", LAID, stage="adult"), False, False, id="coral, urchin"
        ),
    ],
)
def test_each_row_of_the_table_of_protected_stages(
    facts: StageFacts, in_uk: bool, in_eu: bool
) -> None:
    assert protection(facts, UK).is_protected is in_uk
    assert protection(facts, EU).is_protected is in_eu


def test_where_only_days_are_known_the_cautious_day_counts() -> None:
    laid = date(2026, 5, 1)
    for elapsed, expected in ((22, False), (23, True)):
        at = laid + timedelta(days=elapsed)
        facts = StageFacts("bird", at, began=laid, period_least_d=35, stage="egg")
        assert protection(facts, UK).is_protected is expected


def test_a_committee_may_ask_from_another_share_than_the_law_of_the_kingdom() -> None:
    three_quarters = replace(UK, version="local", late_share=Fraction(3, 4))
    for rules, first in ((UK, 14), (three_quarters, 16)):
        is_protected = [protection(egg("bird", 21, day), rules).is_protected for day in range(21)]
        assert is_protected.index(True) == first


RAY = ProcedureFacts(Purpose.SCIENTIFIC, Effect.NONE, is_protected=True)
EMBRYO = replace(RAY, effect=Effect.MAY_REACH, is_protected=False)
CRAB = replace(RAY, is_protected=False, can_be_protected=False)


@pytest.mark.parametrize(
    ("facts", "answer"),
    [
        pytest.param(RAY, Answer.NOT_REGULATED, id="1 watching from the public side"),
        pytest.param(EMBRYO, Answer.NOT_REGULATED, id="2 warm egg cases, killed at stage 4"),
        pytest.param(
            replace(EMBRYO, lives_past=True, is_felt_later=True), Answer.REFER, id="3 let hatch"
        ),
        pytest.param(
            replace(RAY, purpose=Purpose.VETERINARY, effect=Effect.MAY_REACH),
            Answer.NOT_REGULATED,
            id="4 ultrasound for the vet",
        ),
        pytest.param(
            replace(RAY, effect=Effect.MAY_REACH), Answer.REFER, id="4 ultrasound for the thesis"
        ),
        pytest.param(
            replace(RAY, purpose=Purpose.IDENTIFICATION, effect=Effect.REACHES),
            Answer.NOT_REGULATED,
            id="5 chip to tell it apart",
        ),
        pytest.param(
            replace(RAY, effect=Effect.MAY_REACH), Answer.REFER, id="5 chip to log passes"
        ),
        pytest.param(
            replace(RAY, effect=Effect.BELOW), Answer.NOT_REGULATED, id="6 two good diets"
        ),
        pytest.param(replace(RAY, effect=Effect.MAY_REACH), Answer.REFER, id="6 short ration"),
        pytest.param(replace(RAY, effect=Effect.MAY_REACH), Answer.REFER, id="7 loud sound"),
        pytest.param(RAY, Answer.NOT_REGULATED, id="7 logging noise that is there"),
        pytest.param(
            replace(CRAB, effect=Effect.MAY_REACH), Answer.NOT_REGULATED, id="8 shelters of crabs"
        ),
    ],
)
def test_each_of_the_eight_cases_of_screening(facts: ProcedureFacts, answer: Answer) -> None:
    said = screened(facts, UK)
    assert (said.answer, said.version) == (answer, UK.version)
    assert said.why
    assert said.next


def test_a_series_that_ends_in_the_protected_stage_counts_as_on_a_protected_animal() -> None:
    facts = replace(EMBRYO, effect=Effect.REACHES)
    assert screened(facts, UK).answer == Answer.NOT_REGULATED
    assert screened(replace(facts, becomes_protected=True), UK).answer == Answer.REGULATED


ASKED = NextUse(MODERATE, is_consented=True, vet_advises=True)
NAMED = replace(ASKED, names_animal=True, vet_examined=True)


@pytest.mark.parametrize(
    ("severities", "then", "is_allowed"),
    [
        pytest.param([MILD, MODERATE], ASKED, True, id="recovered"),
        pytest.param([MILD, MODERATE], replace(ASKED, severity=NON_RECOVERY), True, id="asleep"),
        pytest.param([MILD, MODERATE], replace(ASKED, severity=SEVERE), False, id="next severe"),
        pytest.param([MILD], replace(ASKED, is_consented=False), False, id="no consent"),
        pytest.param([MILD], replace(ASKED, vet_advises=False), False, id="no advice"),
        pytest.param([None], ASKED, False, id="not classified"),
        pytest.param([SEVERE, SEVERE], NAMED, False, id="twice severe"),
        pytest.param([SEVERE], ASKED, False, id="severe, and a class of animals named"),
        pytest.param([SEVERE], NAMED, True, id="severe, the animal named and examined"),
    ],
)
def test_re_use_is_allowed_as_section_14_has_it(
    severities: list[int | None], then: NextUse, is_allowed: bool
) -> None:
    answer = reuse([EarlierUse(one) for one in severities], then, UK)
    assert answer.sort == Sort.REUSE
    assert answer.is_allowed is is_allowed


def test_watching_is_no_re_use_and_a_step_more_of_the_same_is_continued_use() -> None:
    assert reuse([EarlierUse(0, is_regulated=False)], NextUse(SEVERE), UK).sort == Sort.FIRST
    continued = reuse([EarlierUse(MODERATE)], NextUse(SEVERE, is_continued=True), UK)
    assert continued.sort == Sort.CONTINUED


def test_a_country_may_allow_less_than_the_directive() -> None:
    """Italy since 2017: the next use mild or without recovery (D.lgs. 26/2014, art. 16)."""
    strict: Rules = replace(EU, reuse_next=frozenset({MILD, NON_RECOVERY}))
    assert reuse([EarlierUse(MILD)], ASKED, EU).is_allowed
    assert not reuse([EarlierUse(MILD)], ASKED, strict).is_allowed


@pytest.mark.parametrize(
    ("effect", "is_lasting", "expected"),
    [
        pytest.param(MILD, False, MILD, id="short-term mild"),
        pytest.param(MODERATE, False, MODERATE, id="short-term moderate"),
        pytest.param(MILD, True, MODERATE, id="long-lasting mild"),
        pytest.param(SEVERE, False, SEVERE, id="severe"),
        pytest.param(MODERATE, True, SEVERE, id="long-lasting moderate"),
    ],
)
def test_each_class_of_severity_as_annex_viii_describes_it(
    effect: int, is_lasting: bool, expected: int
) -> None:
    """Directive 2010/63/EU, Annex VIII, section I, read at legislation.gov.uk."""
    assert class_of(effect, is_lasting=is_lasting) == expected
    assert class_of(effect, is_lasting=is_lasting, recovers=False) == NON_RECOVERY


def test_the_actual_class_is_the_highest_and_an_excess_of_the_prospective_one_is_told() -> None:
    """Home Office advisory notes of January 2014: mild, mild, moderate make moderate.

    That the regulator is told when a limit is exceeded: standard condition 18 (from memory).
    """
    assert least_severity([MILD, MILD, MODERATE]) == MODERATE
    assert may_add_up_to([MILD, MILD]) == MODERATE
    assert may_add_up_to([MILD, MILD, MODERATE]) is None
    assert exceeds(MODERATE, MILD)
    assert not exceeds(MODERATE, MODERATE)
