"""Margins of limits, without a database: they say of each limit what `uncovered` says of faults."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from registry.oversight.counting import Kind, LineUse, Subject
from registry.oversight.limits import (
    ApprovalFacts,
    EventFacts,
    LimitFacts,
    NeededFacts,
    PaperFacts,
    Span,
    Thing,
    uncovered,
    uncovered_each,
)
from registry.oversight.margins import Limited, Margin, margins

DAY = date(2026, 11, 24)
RAY = Subject("animal", 12)
LINE = LimitFacts(70, Kind(1, "adult"), 2, max_animals=3, max_contacts_each=2)
APPROVAL = ApprovalFacts(
    number=7,
    title="Weighing of rays",
    starts_on=date(2026, 1, 1),
    ends_on=date(2026, 12, 31),
    live=(Span(date(2026, 1, 5), date(2026, 12, 31)),),
    places=frozenset({3}),
    people=frozenset({4}),
    max_severity=2,
    limits=(LINE,),
)
NEEDED = NeededFacts("committee", (APPROVAL,))
EVENT = EventFacts(
    day=DAY,
    subject=RAY,
    name="Morwen",
    kind=Kind(1, "adult"),
    taxon="undulate ray",
    procedure=Thing(2, "weighing"),
    place=Thing(3, "Ray pool"),
    people=(Thing(4, "Theo"),),
    severity=1,
    project=9,
)
TWO_TAKEN = {70: LineUse({"animal 1": 1, "animal 2": 1}, {RAY: 1})}


def by_limit(found: list[Margin]) -> dict[Limited, Margin]:
    return {one.limited: one for one in found}


def test_each_limit_is_laid_out_with_what_is_left() -> None:
    found = by_limit(margins([EVENT], [NEEDED], TWO_TAKEN))
    assert all(one.is_kept and one.approval == 7 for one in found.values())
    assert {name: one.left for name, one in found.items() if one.left is not None} == {
        Limited.DAYS: 37,
        Limited.SEVERITY: 1,
        Limited.ANIMALS: 0,
        Limited.TIMES: 0,
    }
    animals = found[Limited.ANIMALS]
    assert (animals.allowed, animals.asked) == ("3, 2 of them taken", "1")
    assert found[Limited.PLACES].allowed == found[Limited.PEOPLE].allowed == "named"


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"day": date(2027, 1, 1)},
        {"day": date(2026, 1, 4)},
        {"kind": Kind(99, "adult"), "taxon": "lumpfish"},
        {"kind": Kind(1, "juvenile")},
        {"procedure": Thing(99, "tagging")},
        {"procedure": None},
        {"place": Thing(99, "Tank 9")},
        {"people": (Thing(4, "Theo"), Thing(99, "Ann"))},
        {"severity": 3},
        {"severity": 9},
        {"contacts": 2},
        {"contacts": 0, "animals": 2},
        {"animals": 2},
    ],
)
def test_a_limit_is_not_kept_where_and_only_where_the_event_is_not_covered(
    changes: dict[str, Any],
) -> None:
    event = replace(EVENT, **changes)
    falls_short = bool(uncovered(event, [NEEDED], TWO_TAKEN))
    assert any(not one.is_kept for one in margins([event], [NEEDED], TWO_TAKEN)) is falls_short


def test_a_suspension_and_a_day_of_the_week_leave_no_day() -> None:
    for changes in (
        {"live": (), "paused": (Span(DAY, None),)},
        {"weekdays": frozenset({1})},
    ):
        needed = NeededFacts("committee", (replace(APPROVAL, **changes),))
        assert not by_limit(margins([EVENT], [needed], {}))[Limited.DAYS].is_kept


def test_animals_that_come_together_are_asked_for_together() -> None:
    rays = [
        replace(EVENT, subject=Subject("animal", number), contacts=0) for number in (1, 12, 13, 14)
    ]
    animals = by_limit(margins(rays, [NEEDED], TWO_TAKEN))[Limited.ANIMALS]
    # Animal 1 has its place already.
    assert (animals.asked, animals.left, animals.is_kept) == ("3", -2, False)
    assert any(uncovered_each(rays, [NEEDED], TWO_TAKEN))


def test_two_parts_of_a_group_that_enter_are_different_animals() -> None:
    shoal = replace(EVENT, subject=Subject("group", 5), animals=2, contacts=0)
    animals = by_limit(margins([shoal, shoal], [NEEDED], {}))[Limited.ANIMALS]
    assert (animals.asked, animals.left) == ("4", -1)


def test_what_is_not_granted_not_said_or_not_held_is_laid_out_too() -> None:
    held = PaperFacts("Theo", (Span(date(2026, 1, 1), date(2026, 12, 4)),))
    needed = [
        NeededFacts("licence"),
        NeededFacts("owner", is_said=False),
        NeededFacts("induction", papers=(held, PaperFacts("Ann"))),
        NeededFacts("agreement", papers=()),
    ]
    found = margins([EVENT], needed, {})
    assert [(one.permission, one.left, one.is_kept) for one in found] == [
        ("licence", None, False),
        ("owner", None, False),
        ("induction", 10, True),
        ("induction", None, False),
        ("agreement", None, False),
    ]


def test_margins_are_of_one_day() -> None:
    with pytest.raises(ValueError, match="one day"):
        margins([], [NEEDED], {})
    with pytest.raises(ValueError, match="one day"):
        margins([EVENT, replace(EVENT, day=date(2026, 11, 25))], [NEEDED], {})
