"""Deeds on taxa, enclosures, animals and counted groups."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from registry.animals import actions
from registry.animals.models import Animal, Event, Group, Mark
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.people.models import Person
from registry.permissions import Role, can
from tests.worlds.animals import (
    STAY_D,
    days_ago,
    make_animal,
    make_case,
    make_enclosure,
    make_group,
    make_taxon,
)
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
CHIP = "826098410227316"


@pytest.fixture
def curator() -> Person:
    return make_person(Role.CURATOR)


def numbers(group: Group) -> tuple[int, int, int]:
    group.refresh_from_db()
    return group.males, group.females, group.unknown


# ---------------------------------------------------------------------------------------- arrivals


def test_a_scientific_name_stands_once_in_the_register(curator: Person) -> None:
    facts = {"common_name": "lumpfish", "taxon_class": "bony_fish", "by": curator}
    taxon = actions.add_taxon(scientific_name=" Cyclopterus  lumpus ", **facts)
    assert taxon.scientific_name == "Cyclopterus lumpus"
    with pytest.raises(Unsound, match="in the register already") as refused:
        actions.add_taxon(scientific_name="cyclopterus lumpus", **facts)
    assert "scientific_name" in refused.value.fields


def test_a_code_of_an_enclosure_an_animal_or_a_group_stands_once(curator: Person) -> None:
    make_enclosure("T-1")
    with pytest.raises(Unsound, match="in the register already"):
        make_enclosure("t-1")
    make_animal(code="ray 7")
    with pytest.raises(Unsound, match="in the register already"):
        make_animal(code="RAY 7")
    make_group(code="shoal 1")
    with pytest.raises(Unsound, match="in the register already"):
        make_group(code="Shoal 1")
    assert (Animal.objects.count(), Group.objects.count()) == (1, 1)


def test_an_animal_does_not_arrive_in_the_future_nor_before_its_birth(curator: Person) -> None:
    with pytest.raises(Unsound, match="has not come yet") as refused:
        make_animal(arrived_on=days_ago(-1))
    assert "arrived_on" in refused.value.fields
    with pytest.raises(Unsound, match="when it was born"):
        make_animal(arrived_on=days_ago(10), born_on=days_ago(9))
    born_here = make_animal(arrived_on=days_ago(10), born_on=days_ago(10))
    assert born_here.events.get().sort == "born"
    brought = make_animal(arrived_on=days_ago(10), born_on=days_ago(11))
    assert brought.events.get().sort == "arrived"


def test_a_group_is_not_empty_and_holds_no_negative_number() -> None:
    with pytest.raises(Unsound, match="Nobody is in it"):
        make_group(males=0, females=0, unknown=0)
    with pytest.raises(Unsound, match="cannot be -1"):
        make_group(males=-1)
    with pytest.raises(Unsound, match="has not come yet"):
        make_group(arrived_on=days_ago(-1))
    assert make_group().number == 9


def test_the_arrival_is_an_event_and_an_entry(curator: Person) -> None:
    animal = make_animal(by=curator)
    event = animal.events.get()
    assert (event.enclosure, event.happened_on) == (animal.enclosure, animal.arrived_on)
    entry = Entry.objects.about(animal).get()
    assert (entry.verb, entry.actor, entry.after) == ("animal.receive", curator, "kept")
    assert f"animals.event:{event.pk}" in entry.text


# ------------------------------------------------------------------------------------------- moves


def test_a_move_changes_where_it_lives_and_keeps_the_order_of_days(curator: Person) -> None:
    keeper = make_person(Role.KEEPER)
    animal, there = make_animal(), make_enclosure()
    moved = actions.move_animal(
        animal, enclosure=there, happened_on=days_ago(5), note="calmer", by=keeper
    )
    assert moved.enclosure == there
    with pytest.raises(Unsound, match=r"lives in .* already"):
        actions.move_animal(animal, enclosure=there, happened_on=days_ago(4), by=keeper)
    other = make_enclosure()
    for day, why in [
        (days_ago(6), "moves are recorded in their order"),
        (days_ago(STAY_D + 1), "arrived"),
        (days_ago(-1), "has not come yet"),
    ]:
        with pytest.raises(Unsound, match=why) as refused:
            actions.move_animal(animal, enclosure=other, happened_on=day, by=keeper)
        assert "happened_on" in refused.value.fields
    assert actions.move_animal(animal, enclosure=other, happened_on=days_ago(0), by=keeper)


def test_a_group_moves_as_an_animal_does() -> None:
    keeper, group = make_person(Role.KEEPER), make_group()
    there = make_enclosure()
    with pytest.raises(Unsound, match="has not come yet"):
        actions.move_group(group, enclosure=there, happened_on=days_ago(-1), by=keeper)
    group = actions.move_group(group, enclosure=there, happened_on=days_ago(1), by=keeper)
    with pytest.raises(Unsound, match="already"):
        actions.move_group(group, enclosure=there, happened_on=days_ago(0), by=keeper)
    with pytest.raises(Unsound, match="in their order"):
        actions.move_group(group, enclosure=make_enclosure(), happened_on=days_ago(2), by=keeper)
    assert (group.enclosure, numbers(group)) == (there, (2, 3, 4))


# ----------------------------------------------------------------------------------------- leaving


def test_an_animal_that_has_left_takes_no_further_deed_until_that_is_taken_back(
    curator: Person,
) -> None:
    animal, home = make_animal(), make_enclosure()
    animal = actions.move_animal(animal, enclosure=home, happened_on=days_ago(9), by=curator)
    with pytest.raises(Unsound, match="departed or died"):
        actions.leave_animal(animal, sort="moved", happened_on=days_ago(1), by=curator)
    with pytest.raises(Unsound, match="something later was recorded"):
        actions.leave_animal(animal, sort="died", happened_on=days_ago(10), by=curator)
    with pytest.raises(Unsound, match="has not come yet"):
        actions.leave_animal(animal, sort="died", happened_on=days_ago(-1), by=curator)
    left = actions.leave_animal(animal, sort="died", happened_on=days_ago(1), by=curator)
    assert (left.state, left.left_on, left.enclosure) == ("left", days_ago(1), None)
    today = days_ago(0)
    deeds: list[Any] = [
        lambda: actions.leave_animal(animal, sort="died", happened_on=today, by=curator),
        lambda: actions.move_animal(
            animal, enclosure=make_enclosure(), happened_on=today, by=curator
        ),
        lambda: actions.mark_animal(animal, sort="tag", said="red", by=curator),
        lambda: actions.begin_restriction(animal, sort="moult", began_on=today, by=curator),
    ]
    for deed in deeds:
        with pytest.raises(Conflict, match="It is left now"):
            deed()
    assert not {"move", "mark", "restrict", "leave"} & set(can(left, curator))
    back = actions.take_back_animal_event(animal, reason="another ray", by=curator)
    assert (back.state, back.left_on, back.enclosure) == ("kept", None, home)
    for deed in deeds[1:]:
        deed()


def test_a_group_that_has_left_takes_its_animals_with_it_and_no_further_deed(
    curator: Person,
) -> None:
    group = make_group()
    with pytest.raises(Unsound, match="departed or died"):
        actions.leave_group(group, sort="counted", happened_on=days_ago(1), by=curator)
    with pytest.raises(Unsound, match="has not come yet"):
        actions.leave_group(group, sort="departed", happened_on=days_ago(-1), by=curator)
    actions.count_group(group, unknown=1, sort="born", happened_on=days_ago(3), by=curator)
    with pytest.raises(Unsound, match="something later was recorded"):
        actions.leave_group(group, sort="departed", happened_on=days_ago(4), by=curator)
    group = actions.leave_group(group, sort="departed", happened_on=days_ago(1), by=curator)
    assert (numbers(group), group.state, group.enclosure) == ((0, 0, 0), "left", None)
    today = days_ago(0)
    deeds: list[Any] = [
        lambda: actions.leave_group(group, sort="died", happened_on=today, by=curator),
        lambda: actions.count_group(group, unknown=1, sort="born", happened_on=today, by=curator),
        lambda: actions.move_group(
            group, enclosure=make_enclosure(), happened_on=today, by=curator
        ),
        lambda: actions.begin_restriction(group, sort="moult", began_on=today, by=curator),
    ]
    for deed in deeds:
        with pytest.raises(Conflict, match="It is left now"):
            deed()
    group = actions.take_back_group_event(group, reason="they stay", by=curator)
    assert (numbers(group), group.state) == ((2, 3, 5), "kept")
    for deed in deeds[1:]:
        deed()


# ------------------------------------------------------------------------------------------ counts


def test_the_arithmetic_of_a_year_holds(curator: Person) -> None:
    # The worked example of the trade's notation: 2.3.4, five hatched, two sexed, one male leaves.
    group = make_group(males=2, females=3, unknown=4)
    for change, sort, day in [
        ({"unknown": 5}, "born", 30),
        ({"males": 1, "females": 1, "unknown": -2}, "sexed", 20),
        ({"males": -1}, "departed", 10),
    ]:
        actions.count_group(group, **change, sort=sort, happened_on=days_ago(day), by=curator)
    assert numbers(group) == (2, 4, 7)
    assert group.number == 13


def test_a_group_never_holds_fewer_than_none_on_any_day(curator: Person) -> None:
    group = make_group(males=0, females=0, unknown=10)
    actions.count_group(group, unknown=5, sort="born", happened_on=days_ago(5), by=curator)
    with pytest.raises(Unsound, match="of unknown sex") as refused:
        actions.count_group(group, unknown=-16, sort="died", happened_on=days_ago(0), by=curator)
    assert "unknown" in refused.value.fields
    # Fifteen are there today, but six days ago there were ten.
    with pytest.raises(Unsound, match="of unknown sex"):
        actions.count_group(group, unknown=-12, sort="died", happened_on=days_ago(6), by=curator)
    assert numbers(group) == (0, 0, 10 + 5)
    actions.count_group(group, unknown=-12, sort="died", happened_on=days_ago(4), by=curator)
    assert numbers(group) == (0, 0, 3)


def test_a_count_taken_back_leaves_the_group_as_it_was_before(curator: Person) -> None:
    group = make_group(males=0, females=0, unknown=1)
    actions.count_group(group, unknown=-1, sort="died", happened_on=days_ago(0), by=curator)
    actions.count_group(group, unknown=4, sort="born", happened_on=days_ago(9), by=curator)
    actions.take_back_group_event(group, reason="counted twice", by=curator)
    assert numbers(group) == (0, 0, 0)
    actions.take_back_group_event(group, reason="it lives", by=curator)
    assert numbers(group) == (0, 0, 1)


def test_a_count_that_changes_nothing_or_contradicts_itself_is_refused(curator: Person) -> None:
    group, today = make_group(), days_ago(0)
    with pytest.raises(Unsound, match="Nothing changed"):
        actions.count_group(group, happened_on=today, by=curator)
    for change, sort in [
        (-1, "born"),
        (-1, "arrived"),
        (1, "died"),
        (1, "departed"),
        (1, "moved"),
        (1, "sexed"),
        (-1, "counted"),
    ]:
        with pytest.raises(Unsound, match="do not go together"):
            actions.count_group(group, unknown=change, sort=sort, happened_on=today, by=curator)
    for day in (days_ago(STAY_D + 1), days_ago(-1)):
        with pytest.raises(Unsound) as refused:
            actions.count_group(group, unknown=1, sort="born", happened_on=day, by=curator)
        assert "happened_on" in refused.value.fields
    assert numbers(group) == (2, 3, 4)


# --------------------------------------------------------------------------------------- take back


def test_only_what_came_after_the_arrival_is_taken_back_and_nothing_is_lost(
    curator: Person,
) -> None:
    animal, group = make_animal(), make_group()
    first, there = animal.enclosure, make_enclosure()
    with pytest.raises(Conflict, match="but that it came"):
        actions.take_back_animal_event(animal, reason="r", by=curator)
    with pytest.raises(Conflict, match="but that it came"):
        actions.take_back_group_event(group, reason="r", by=curator)
    actions.move_animal(animal, enclosure=there, happened_on=days_ago(1), by=curator)
    animal = actions.take_back_animal_event(animal, reason="wrong tank", by=curator)
    assert animal.enclosure == first
    assert animal.events.count() == 3
    assert animal.events.standing().count() == 1
    reversing = animal.events.get(reverses__isnull=False)
    assert (reversing.reverses.sort, reversing.note) == ("moved", "wrong tank")
    assert Entry.objects.get(verb="animal.take_back").reason == "wrong tank"
    with pytest.raises(Conflict, match="but that it came"):
        actions.take_back_animal_event(animal, reason="r", by=curator)


# ------------------------------------------------------------------------------------------- marks


def test_a_chip_is_read_by_its_standard_and_borne_by_one_animal() -> None:
    keeper, animal, other = make_person(Role.KEEPER), make_animal(), make_animal()
    with pytest.raises(Unsound, match="no country") as refused:
        actions.mark_animal(animal, sort="chip", said="001098410227316", by=keeper)
    assert "said" in refused.value.fields
    mark = actions.mark_animal(animal, sort="chip", said="826 098 410 227 316", by=keeper)
    assert mark.said == CHIP
    with pytest.raises(Conflict, match="bears it"):
        actions.mark_animal(other, sort="chip", said=CHIP, by=keeper)
    assert actions.mark_animal(other, sort="other_code", said="00-0635-1A2B", by=keeper)


def test_the_same_mark_is_not_recorded_twice() -> None:
    keeper, animal = make_person(Role.KEEPER), make_animal()
    actions.mark_animal(animal, sort="natural", said="Nick in the right edge", by=keeper)
    with pytest.raises(Conflict, match="has it already"):
        actions.mark_animal(animal, sort="natural", said="nick in the  right edge", by=keeper)
    assert animal.marks.count() == 1


def test_the_database_itself_holds_one_animal_to_a_chip() -> None:
    keeper, animal, other = make_person(Role.KEEPER), make_animal(), make_animal()
    actions.mark_animal(animal, sort="chip", said=CHIP, by=keeper)
    with pytest.raises(IntegrityError), transaction.atomic():
        Mark.objects.create(animal=other, sort="chip", said=CHIP, recorded_by=keeper)
    with pytest.raises(IntegrityError), transaction.atomic():
        Event.objects.create(
            animal=animal,
            group=make_group(),
            sort="counted",
            happened_on=timezone.localdate() - timedelta(days=1),
            recorded_by=keeper,
        )


# ------------------------------------------------------------------------------------- permissions


def test_who_may_follows_the_table() -> None:
    keeper, vet = make_person(Role.KEEPER), make_person(Role.VET)
    student, curator = make_person(Role.STUDENT), make_person(Role.CURATOR)
    animal, group, tank = make_animal(), make_group(), make_enclosure()
    # Deeds of the slices above are in each list too.
    of_all = {"mark", "restrict", "sex", "measure", "bear"}
    of_curator = {"move", "stage", "leave", "take_back", "scan", "name_parent", "join"}
    assert of_all | of_curator <= set(can(animal, curator))
    assert of_all | {"move", "stage"} == set(can(animal, keeper)) & (of_all | of_curator)
    assert of_all | {"leave", "scan"} == set(can(animal, vet)) & (of_all | of_curator)
    assert {"recount", "stage", "draw", "split", "merge", "candle", "hatch"} <= set(
        can(group, keeper)
    )
    assert "name_parent" not in can(group, keeper)
    assert set(can(make_case(), keeper)) == {
        "candle", "find", "stage", "hatch", "lose", "move", "end"
    }  # fmt: skip
    assert can(tank, keeper) == ["add_routine", "end_routine", "restrict"]
    assert can(make_taxon(), curator) == []
    for subject in (animal, group, tank):
        assert can(subject, student) == []
    day = days_ago(0)
    for deed in (
        lambda: make_animal(by=keeper, taxon=animal.taxon, enclosure=tank),
        lambda: make_group(by=vet, taxon=animal.taxon, enclosure=tank),
        lambda: make_enclosure(by=keeper),
        lambda: make_taxon("Octopus vulgaris", by=keeper),
        lambda: actions.move_animal(animal, enclosure=tank, happened_on=day, by=vet),
        lambda: actions.leave_animal(animal, sort="died", happened_on=day, by=keeper),
        lambda: actions.mark_animal(animal, sort="tag", said="red", by=student),
        lambda: actions.count_group(group, unknown=1, sort="born", happened_on=day, by=vet),
        lambda: actions.move_group(group, enclosure=tank, happened_on=day, by=vet),
        lambda: actions.leave_group(group, sort="died", happened_on=day, by=keeper),
        lambda: actions.take_back_animal_event(animal, reason="r", by=keeper),
        lambda: actions.take_back_group_event(group, reason="r", by=vet),
        lambda: actions.begin_restriction(animal, sort="moult", began_on=day, by=student),
    ):
        with pytest.raises(NotPermitted):
            deed()
