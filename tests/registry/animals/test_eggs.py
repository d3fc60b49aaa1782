"""Egg cases with their embryos, and clutches whose eggs are counted."""

from typing import Any

import pytest

from registry.animals import actions
from registry.animals.models import Embryo, Group
from registry.animals.reads import numbers_on
from registry.errors import Conflict, Unsound
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import (
    days_ago,
    make_animal,
    make_case,
    make_enclosure,
    make_group,
    make_taxon,
)
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
TODAY = days_ago(0)


@pytest.fixture
def curator() -> Person:
    return make_person(Role.CURATOR)


def developing(case: Any) -> int:
    return int(sum(sum(event.changes) for event in case.events.standing()))


def test_a_case_is_recorded_once_where_and_when_it_could_be_laid(curator: Person) -> None:
    other = make_taxon("Sepia officinalis", "cuttlefish", "cephalopod")
    tank = actions.open_enclosure(code="nx", name="Next", opened_on=days_ago(9), by=curator)
    gone = actions.leave_animal(make_animal(), sort="died", happened_on=days_ago(90), by=curator)
    case = make_case(code="E-1", embryos=2)
    wrong: list[dict[str, Any]] = [
        {"code": "e-1"},
        {"laid_on": days_ago(-1)},
        {"laid_on": days_ago(10), "enclosure": tank},
        {"embryos": 0},
        {"dam": make_animal(sex="male")},
        {"dam": make_animal(taxon=other)},
        {"dam": gone},
        {"clutch": make_group(sort="clutch", taxon=other)},
    ]
    for facts in wrong:
        with pytest.raises(Unsound):
            make_case(**facts)
    assert (case.embryos.count(), developing(case)) == (2, 2)


def test_each_embryo_is_followed_to_its_end_and_none_is_lost(curator: Person) -> None:
    case = make_case(embryos=2, laid_on=days_ago(266))
    actions.find_embryo(case, happened_on=days_ago(200), by=curator)
    first, second, third = case.embryos.all()
    facts = {"happened_on": days_ago(150), "by": curator}
    actions.candle_embryo(first, is_fertile=True, **facts)
    actions.candle_embryo(second, is_fertile=False, **facts)
    actions.stage_embryo(first, stage=3.5, method="Invented table, 2020", **facts)
    actions.lose_embryo(third, cause="failed", happened_on=days_ago(100), by=curator)
    assert developing(case) == 1
    with pytest.raises(Conflict, match="developing by the record"):
        actions.end_case(case, ended_on=TODAY, by=curator)
    young = actions.hatch_embryo(first, code="H1", sex="male", happened_on=TODAY, by=curator)
    first.refresh_from_db()
    # Leopard catshark at 14 C: 266 days from laying to hatching (T1 of the trade's facts: the
    # abstract of Afr. Zool. 48(1); which species the row is was inferred).
    assert (first.incubation_d, first.animal, first.is_fertile) == (266, young, True)
    assert (young.life_stage, young.born_on, young.enclosure) == (
        "hatchling",
        TODAY,
        case.enclosure,
    )
    assert developing(case) == 0
    ended = {"happened_on": TODAY, "by": curator}
    deeds: list[Any] = [
        lambda: actions.candle_embryo(second, is_fertile=True, **ended),
        lambda: actions.stage_embryo(third, stage=4, method="x", **ended),
        lambda: actions.lose_embryo(first, cause="unknown", **ended),
        lambda: actions.hatch_embryo(third, code="H2", **ended),
    ]
    for deed in deeds:
        with pytest.raises(Conflict, match="by the record"):
            deed()
    case = actions.end_case(case, ended_on=TODAY, by=curator)
    assert (case.state, case.enclosure) == ("ended", None)
    with pytest.raises(Conflict, match="It is ended now"):
        actions.find_embryo(case, **ended)


def test_a_stage_is_a_number_of_a_table_that_is_named(curator: Person) -> None:
    embryo = make_case().embryos.get()
    for stage, method in ((1, " "), (-1, "A table")):
        with pytest.raises(Unsound, match="published table"):
            actions.stage_embryo(embryo, stage=stage, method=method, happened_on=TODAY, by=curator)


def test_a_case_is_followed_in_the_order_of_its_days(curator: Person) -> None:
    case, tank = make_case(laid_on=days_ago(60)), make_enclosure()
    embryo = case.embryos.get()
    actions.move_case(case, enclosure=tank, happened_on=days_ago(10), by=curator)
    late = actions.open_enclosure(code="lt", name="Late", opened_on=TODAY, by=curator)
    for day in (days_ago(11), days_ago(-1)):
        facts = {"happened_on": day, "by": curator}
        deeds: list[Any] = [
            lambda facts=facts: actions.move_case(case, enclosure=make_enclosure(), **facts),
            lambda facts=facts: actions.find_embryo(case, **facts),
            lambda facts=facts: actions.candle_embryo(embryo, is_fertile=True, **facts),
            lambda facts=facts: actions.stage_embryo(embryo, stage=1, method="x", **facts),
            lambda facts=facts: actions.lose_embryo(embryo, cause="unknown", **facts),
            lambda facts=facts: actions.hatch_embryo(embryo, code="Z", **facts),
        ]
        for deed in deeds:
            with pytest.raises(Unsound):
                deed()
    for place, day in ((tank, TODAY), (late, days_ago(1))):
        with pytest.raises(Unsound):
            actions.move_case(case, enclosure=place, happened_on=day, by=curator)
    with pytest.raises(Unsound, match="in the register already"):
        actions.hatch_embryo(embryo, code=make_animal().code, happened_on=TODAY, by=curator)
    assert Embryo.objects.get(pk=embryo.pk).outcome == "developing"


# ---------------------------------------------------------------------------------------- clutches


def test_eggs_of_a_clutch_are_no_animals_until_they_hatch(curator: Person) -> None:
    before = numbers_on(TODAY)
    laid = make_group(
        sort="clutch", life_stage="egg", males=0, females=0, unknown=40, arrived_on=days_ago(40)
    )
    assert numbers_on(TODAY) == before
    dam = make_animal(taxon=laid.taxon)
    actions.name_parent(laid, role="dam", parent=dam, evidence="seen_birth", by=curator)
    actions.candle_clutch(laid, number=31, happened_on=days_ago(20), by=curator)
    young = actions.hatch_clutch(
        laid, number=18, code="HG", name="Hatchlings", happened_on=days_ago(2), by=curator
    )
    laid.refresh_from_db()
    assert (laid.number, young.number, young.born_on) == (22, 18, days_ago(2))
    assert numbers_on(TODAY) == before + 1 + 18
    assert young.parentage.certain().get().parent == dam


def test_more_eggs_than_a_clutch_holds_are_neither_fertile_nor_hatched(curator: Person) -> None:
    laid = make_group(sort="clutch", males=0, females=0, unknown=10)
    shoal: Group = make_group()
    with pytest.raises(Unsound, match="held 10 eggs"):
        actions.candle_clutch(laid, number=11, happened_on=TODAY, by=curator)
    hatch = {"code": "HX", "name": "n", "by": curator}
    for number, day in ((11, TODAY), (0, TODAY), (1, days_ago(401)), (1, days_ago(-1))):
        with pytest.raises(Unsound):
            actions.hatch_clutch(laid, number=number, happened_on=day, **hatch)
    for deed in (
        lambda: actions.candle_clutch(shoal, number=1, happened_on=TODAY, by=curator),
        lambda: actions.hatch_clutch(shoal, number=1, happened_on=TODAY, **hatch),
    ):
        with pytest.raises(Unsound, match="not a clutch"):
            deed()


def standing(embryo: Embryo) -> tuple[Any, ...]:
    embryo.refresh_from_db()
    return embryo.outcome, embryo.is_fertile, embryo.ended_on, embryo.animal_id


@pytest.mark.postgres
def test_what_was_last_recorded_of_a_case_is_taken_back_step_by_step(curator: Person) -> None:
    first, other = make_enclosure(), make_enclosure()
    case = make_case(enclosure=first, laid_on=days_ago(60))
    (embryo,) = case.embryos.all()
    states = [standing(embryo)]
    actions.candle_embryo(embryo, is_fertile=True, happened_on=days_ago(50), by=curator)
    states.append(standing(embryo))
    actions.move_case(case, enclosure=other, happened_on=days_ago(40), by=curator)
    states.append(standing(embryo))
    actions.lose_embryo(embryo, cause="unknown", happened_on=days_ago(30), by=curator)
    actions.end_case(case, ended_on=days_ago(20), by=curator)
    assert standing(embryo) == ("died", True, days_ago(30), None)

    def back() -> None:
        case.refresh_from_db()
        actions.take_back_case_event(case, reason="another case was meant", by=curator)
        case.refresh_from_db()

    back()  # it is open again, and nothing else changed
    assert (case.state, case.ended_on, case.enclosure) == ("held", None, other)
    assert (standing(embryo)[0], developing(case)) == ("died", 0)
    back()
    assert (standing(embryo), developing(case)) == (states.pop(), 1)
    back()
    assert (standing(embryo), case.enclosure) == (states.pop(), first)
    back()
    assert standing(embryo) == states.pop()
    with pytest.raises(Conflict, match="but that it was laid"):
        back()
    with pytest.raises(Unsound, match="reason"):
        actions.take_back_case_event(case, reason=" ", by=curator)


@pytest.mark.postgres
def test_a_hatching_that_never_was_takes_its_young_with_it(curator: Person) -> None:
    case = make_case(embryos=2)
    actions.find_embryo(case, happened_on=days_ago(40), by=curator)
    first, _second, third = case.embryos.all()
    young = actions.hatch_embryo(first, code="Y-1", happened_on=days_ago(20), by=curator)
    actions.mark_animal(young, sort="tag", said="green", seen_on=days_ago(9), by=curator)
    actions.move_animal(young, enclosure=make_enclosure(), happened_on=days_ago(9), by=curator)
    before = numbers_on(TODAY)
    with pytest.raises(Conflict, match="something happened to it since"):
        actions.take_back_case_event(case, reason="it was the other", by=curator)
    assert numbers_on(TODAY) == before
    actions.take_back_animal_event(young, reason="it was not moved", by=curator)
    actions.take_back_case_event(case, reason="it was the other", by=curator)
    young.refresh_from_db()
    assert (young.state, young.code) == ("undone", f"Y-1 (undone {young.pk})")
    assert standing(first) == ("developing", None, None, None)
    assert (numbers_on(TODAY), developing(case)) == (before - 1, 3)
    again = actions.hatch_embryo(first, code="Y-1", happened_on=days_ago(20), by=curator)
    actions.take_back_case_event(case, reason="nor that", by=curator)
    again.refresh_from_db()
    assert again.state == "undone"
    actions.take_back_case_event(case, reason="there were two", by=curator)
    assert standing(third)[0] == "mistaken"
    assert developing(case) == 2
