"""Limits, without a database."""

import doctest
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from registry.oversight.counting import Kind, LineUse, Subject
from registry.oversight.limits import (
    ApprovalFacts,
    Code,
    EventFacts,
    LimitFacts,
    NeededFacts,
    PaperFacts,
    Span,
    Thing,
    exceeds,
    facts,
    holding,
    rest,
    uncovered,
    uncovered_each,
)

# A Tuesday.
DAY = date(2026, 11, 24)
RAY, WEIGHING, POOL, STUDENT = 1, 2, 3, 4
LINE = LimitFacts(70, Kind(RAY, "adult"), WEIGHING, max_animals=3, max_contacts_each=2)
APPROVAL = ApprovalFacts(
    number=7,
    title="Weighing of rays",
    starts_on=date(2026, 1, 1),
    ends_on=date(2026, 12, 31),
    live=(Span(date(2026, 1, 5), date(2026, 12, 31)),),
    places=frozenset({POOL}),
    people=frozenset({STUDENT}),
    max_severity=1,
    limits=(LINE,),
)
NEEDED = NeededFacts("committee", (APPROVAL,))
EVENT = EventFacts(
    day=DAY,
    subject=Subject("animal", 12),
    name="Morwen",
    kind=Kind(RAY, "adult"),
    taxon="undulate ray",
    procedure=Thing(WEIGHING, "weighing"),
    place=Thing(POOL, "Ray pool"),
    people=(Thing(STUDENT, "Theo"),),
    severity=1,
    project=9,
)


def codes(event: EventFacts = EVENT, used: dict[int, LineUse] | None = None, **changes: Any) -> Any:
    needed = NeededFacts("committee", (replace(APPROVAL, **changes),))
    return [one.code for one in uncovered(event, [needed], used or {})]


def test_the_examples_in_the_docstrings_hold() -> None:
    assert not sum(doctest.testmod(one).failed for one in (facts, holding, rest))


def test_an_event_within_every_limit_is_covered() -> None:
    assert uncovered(EVENT, [NEEDED], {}) == []


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"day": date(2027, 1, 1)}, Code.OUTSIDE_DATES),
        ({"day": date(2026, 1, 4)}, Code.NOT_IN_FORCE),
        ({"kind": Kind(99, "adult"), "taxon": "lumpfish"}, Code.TAXON),
        ({"kind": Kind(RAY, "juvenile")}, Code.STAGE),
        ({"procedure": Thing(99, "tagging")}, Code.PROCEDURE),
        ({"place": Thing(99, "Tank 9")}, Code.PLACE),
        ({"people": (Thing(STUDENT, "Theo"), Thing(99, "Ann"))}, Code.PERSON),
        ({"severity": 2}, Code.OVER_SEVERITY),
    ],
)
def test_each_part_of_an_event_is_held_to_its_limit(changes: dict[str, Any], code: Code) -> None:
    found = uncovered(replace(EVENT, **changes), [NEEDED], {})
    assert [(one.code, one.approval) for one in found] == [(code, 7)]
    assert found[0].said.startswith("Approval 7 (“Weighing of rays”)")


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"live": (), "paused": (Span(date(2026, 11, 20), None),)}, Code.SUSPENDED),
        ({"weekdays": frozenset({1, 3})}, Code.WEEKDAY),
        ({"places": frozenset()}, Code.PLACE),
        ({"people": frozenset()}, Code.PERSON),
        ({"max_severity": 0}, Code.OVER_SEVERITY),
        ({"limits": ()}, Code.TAXON),
    ],
)
def test_each_part_of_an_approval_limits(changes: dict[str, Any], code: Code) -> None:
    assert codes() == []
    assert codes(**changes) == [code]


def test_what_is_not_known_is_not_held_to_a_limit() -> None:
    assert codes(EventFacts(day=DAY)) == []
    assert codes(replace(EVENT, procedure=None, subject=None, severity=None, place=None)) == []
    assert codes(replace(EVENT, procedure=None, kind=Kind(99))) == [Code.TAXON]


def test_every_needed_permission_must_cover_the_event() -> None:
    owner = NeededFacts("owner's consent", (replace(APPROVAL, number=8, places=frozenset()),))
    found = uncovered(EVENT, [NEEDED, owner], {})
    assert [(one.code, one.approval) for one in found] == [(Code.PLACE, 8)]
    assert uncovered(EVENT, [NEEDED, NEEDED], {}) == []


def test_none_live_is_itself_the_refusal() -> None:
    for needed in ([], [NeededFacts("committee")], [NeededFacts("committee", is_said=False)]):
        found = uncovered(EVENT, needed, {})
        assert {one.code for one in found} == {Code.NO_LIVE_PERMISSION}, needed
    assert (
        "nobody has said"
        in uncovered(EVENT, [NEEDED, NeededFacts("licence", is_said=False)], {})[0].said
    )


def test_a_paper_is_held_by_every_student_on_the_day() -> None:
    held = PaperFacts("Theo", (Span(date(2026, 9, 1), None),))
    lapsed = PaperFacts("Mirela", (Span(date(2025, 9, 1), date(2026, 8, 31)),))
    assert uncovered(EVENT, [NEEDED, NeededFacts("induction", papers=(held,))], {}) == []
    found = uncovered(EVENT, [NEEDED, NeededFacts("induction", papers=(held, lapsed))], {})
    assert [(one.code, "Mirela" in one.said) for one in found] == [(Code.NO_LIVE_PERMISSION, True)]
    nobody = uncovered(EVENT, [NEEDED, NeededFacts("induction", papers=())], {})
    assert [one.code for one in nobody] == [Code.NO_LIVE_PERMISSION]


def test_papers_alone_permit_no_work_with_animals() -> None:
    papers = NeededFacts("induction", papers=(PaperFacts("Theo", (Span(None, None),)),))
    assert [one.code for one in uncovered(EVENT, [papers], {})] == [Code.NO_LIVE_PERMISSION]


def test_of_several_approvals_one_that_covers_is_enough_and_else_the_nearest_speaks() -> None:
    expired = replace(APPROVAL, number=6, live=(), ends_on=date(2026, 6, 30))
    assert uncovered(EVENT, [NeededFacts("committee", (expired, APPROVAL))], {}) == []
    # The one in force has two faults, the one that ran out has one: the one in force speaks.
    strict = replace(APPROVAL, places=frozenset(), people=frozenset())
    found = uncovered(EVENT, [NeededFacts("committee", (expired, strict))], {})
    assert {one.code for one in found} == {Code.PLACE, Code.PERSON}


def test_the_last_place_of_a_limit_is_taken_once() -> None:
    two = {70: LineUse({"animal 1": 1, "animal 2": 1}, {})}
    three = {70: LineUse({"animal 1": 1, "animal 2": 1, "animal 3": 1}, {})}
    assert codes(used=two) == []
    assert codes(used=three) == [Code.OVER_ANIMALS]
    # An animal that has its place already takes no second one.
    with_it = {70: LineUse({"animal 1": 1, "animal 2": 1, "animal 12": 1}, {})}
    assert codes(used=with_it) == []


def test_contacts_with_each_animal_are_limited_and_an_enrolment_touches_nothing() -> None:
    used = {70: LineUse({"animal 12": 1}, {Subject("animal", 12): 2})}
    assert codes(used=used) == [Code.OVER_CONTACTS]
    assert codes(replace(EVENT, contacts=0), used=used) == []
    assert codes(used={70: LineUse({"animal 12": 1}, {Subject("animal", 12): 1})}) == []


def test_a_group_takes_as_many_places_as_it_has_animals() -> None:
    shoal = replace(EVENT, subject=Subject("group", 5), animals=3, contacts=0)
    assert codes(shoal) == []
    assert codes(replace(shoal, animals=4)) == [Code.OVER_ANIMALS]
    # More of it than were enrolled takes the difference.
    used = {70: LineUse({"group 5, enrolment 8": 2}, {})}
    assert codes(replace(shoal, enrolment=8, contacts=1), used=used) == []
    assert codes(replace(shoal, enrolment=8, contacts=1, animals=4), used=used) == [
        Code.OVER_ANIMALS
    ]


def test_a_line_for_any_stage_fits_every_stage() -> None:
    anyone = replace(LINE, kind=Kind(RAY))
    assert codes(replace(EVENT, kind=Kind(RAY, "pup")), limits=(anyone,)) == []


def test_of_several_animals_the_ones_without_a_place_are_named() -> None:
    events = [replace(EVENT, subject=Subject("animal", n), contacts=0) for n in range(5)]
    found = uncovered_each(events, [NEEDED], {})
    assert [[one.code for one in here] for here in found] == [
        [],
        [],
        [],
        [Code.OVER_ANIMALS],
        [Code.OVER_ANIMALS],
    ]


def test_contacts_add_up_within_one_session() -> None:
    found = uncovered_each([EVENT, EVENT, EVENT], [NEEDED], {})
    assert [[one.code for one in here] for here in found] == [[], [], [Code.OVER_CONTACTS]]


def test_two_groups_that_enter_together_are_different_animals() -> None:
    shoal = replace(EVENT, subject=Subject("group", 5), animals=2, contacts=0)
    found = uncovered_each([shoal, shoal], [NEEDED], {})
    assert [[one.code for one in here] for here in found] == [[], [Code.OVER_ANIMALS]]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("severity", "limit", "over"),
    # Directive 2010/63/EU, Annex VIII, section I: mild, moderate and severe in this order; the
    # order below mild is the United Kingdom's “sub-threshold” (trade notes; from memory).
    [(0, 0, False), (1, 0, True), (1, 1, False), (3, 2, True), (2, 3, False), (9, 3, True)],
)
def test_severity_is_over_a_limit_in_the_order_of_the_annex(
    severity: int, limit: int, over: bool
) -> None:
    assert exceeds(severity, limit) is over


def test_a_line_has_a_severity_of_its_own_once_the_event_has_happened() -> None:
    (approval,) = NEEDED.approvals

    def with_line_of(most: int | None) -> NeededFacts:
        lines = tuple(replace(line, max_severity=most) for line in approval.limits)
        return replace(NEEDED, approvals=(replace(approval, max_severity=3, limits=lines),))

    done = replace(EVENT, severity=2)
    for most, codes in ((None, set()), (2, set()), (1, {Code.OVER_SEVERITY})):
        assert {one.code for one in uncovered(done, [with_line_of(most)], {})} == codes
    # Before it happens the plan's one class for all that it does is held against the approval.
    assert uncovered(replace(done, contacts=0), [with_line_of(1)], {}) == []
