"""Restrictions: who begins and ends them, what they bar, and how lists read them."""

import pytest

from registry.animals import actions
from registry.animals.models import Animal, Group, Restriction, Word
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.permissions import Role, can
from tests.worlds.animals import (
    STAY_D,
    days_ago,
    make_animal,
    make_animals,
    make_enclosure,
    make_group,
    make_restriction,
)
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def barring(animals: object, groups: object, day: object) -> list[Restriction]:
    return list(Restriction.objects.barring(animals, groups).in_force_on(day).order_by("pk"))


# ------------------------------------------------------------------------------------------- deeds


def test_a_restriction_begins_within_the_stay_and_before_its_expected_end() -> None:
    keeper, animal = make_person(Role.KEEPER), make_animal()
    with pytest.raises(Unsound, match="arrived") as refused:
        make_restriction(animal, began_on=days_ago(STAY_D + 1), by=keeper)
    assert "began_on" in refused.value.fields
    with pytest.raises(Unsound, match="when it begins") as refused:
        make_restriction(animal, expected_end_on=days_ago(1), by=keeper)
    assert "expected_end_on" in refused.value.fields
    restriction = make_restriction(animal, expected_end_on=days_ago(-3), by=keeper)
    assert restriction.subject == animal
    entry = Entry.objects.get(verb="animal.restrict")
    assert (entry.subject, entry.actor) == (f"animals.animal:{animal.pk}", keeper)
    assert f"animals.restriction:{restriction.pk}" in entry.text


def test_a_restriction_of_one_kind_stands_once_on_a_subject() -> None:
    animal = make_animal()
    first = make_restriction(animal, sort="moult")
    with pytest.raises(Conflict, match="stands on it already"):
        make_restriction(animal, sort="moult")
    make_restriction(animal, sort="welfare")
    actions.end_restriction(first, ended_on=days_ago(0), reason="r", by=make_person(Role.VET))
    assert make_restriction(animal, sort="moult").state == "begun"


def test_a_restriction_does_not_end_before_it_began_nor_in_the_future_nor_twice() -> None:
    vet = make_person(Role.VET)
    restriction = make_restriction(make_animal(), began_on=days_ago(5))
    for day in (days_ago(6), days_ago(-1)):
        with pytest.raises(Unsound) as refused:
            actions.end_restriction(restriction, ended_on=day, reason="r", by=vet)
        assert "ended_on" in refused.value.fields
    ended = actions.end_restriction(restriction, ended_on=days_ago(1), reason="healed", by=vet)
    assert (ended.state, ended.ended_by, ended.ended_on) == ("ended", vet, days_ago(1))
    assert Entry.objects.get(verb="restriction.end").reason == "healed"
    with pytest.raises(Conflict, match="It is ended now"):
        actions.end_restriction(restriction, ended_on=days_ago(0), reason="r", by=vet)


def test_one_that_is_still_to_come_can_be_called_off() -> None:
    restriction = make_restriction(make_animal(), began_on=days_ago(-7))
    vet = make_person(Role.VET)
    with pytest.raises(Unsound, match="it began"):
        actions.end_restriction(restriction, ended_on=days_ago(0), reason="r", by=vet)
    off = actions.end_restriction(restriction, ended_on=days_ago(-7), reason="r", by=vet)
    assert not barring([restriction.animal], [], days_ago(-8))
    assert off.state == "ended"


def test_only_a_veterinary_surgeon_ends_what_stands_by_their_word() -> None:
    vet, curator = make_person(Role.VET), make_person(Role.CURATOR)
    keeper, student = make_person(Role.KEEPER), make_person(Role.STUDENT)
    word = make_restriction(make_animal(), strength="vets_word")
    house = make_restriction(make_animal(), strength="observation_only")
    assert (can(word, vet), can(word, curator), can(house, curator)) == (["end"], [], ["end"])
    for restriction, person in [(word, curator), (house, keeper), (word, student)]:
        with pytest.raises(NotPermitted):
            actions.end_restriction(restriction, ended_on=days_ago(0), reason="r", by=person)
    assert actions.end_restriction(house, ended_on=days_ago(0), reason="r", by=curator)
    assert actions.end_restriction(word, ended_on=days_ago(0), reason="r", by=vet)


# ------------------------------------------------------------------------------------------- reads


def test_it_bars_from_its_first_day_and_its_last_day_is_free_again() -> None:
    animal, vet = make_animal(), make_person(Role.VET)
    restriction = make_restriction(animal, began_on=days_ago(5), expected_end_on=days_ago(3))
    assert not barring([animal], [], days_ago(6))
    # Past its expected end it still bars: somebody must end it.
    for day in (5, 3, 0, -30):
        assert barring([animal], [], days_ago(day)) == [restriction]
    assert restriction.is_overdue_on(days_ago(0))
    ended = actions.end_restriction(restriction, ended_on=days_ago(1), reason="r", by=vet)
    assert barring([animal], [], days_ago(2)) == [restriction]
    assert not barring([animal], [], days_ago(1))
    assert not ended.is_overdue_on(days_ago(0))


def test_what_a_veterinary_surgeon_ends_today_is_free_today() -> None:
    animal = make_animal()
    restriction = make_restriction(animal)
    assert barring([animal], [], days_ago(0))
    vet = make_person(Role.VET)
    actions.end_restriction(restriction, ended_on=days_ago(0), reason="r", by=vet)
    assert not barring([animal], [], days_ago(0))


def test_one_on_an_enclosure_bars_all_that_live_there_and_comes_once() -> None:
    tank = make_enclosure()
    animals = make_animals(3, enclosure=tank)
    groups = [make_group(enclosure=tank), make_group(enclosure=tank)]
    elsewhere, their_group = make_animal(), make_group()
    restriction = make_restriction(tank)
    today = days_ago(0)
    assert barring(animals, groups, today) == [restriction]
    assert barring([], groups, today) == [restriction]
    assert barring([animals[0].pk], [], today) == [restriction]
    assert barring(Animal.objects.all(), Group.objects.all(), today) == [restriction]
    assert barring([elsewhere], [their_group], today) == []
    assert restriction.reaches(animals[0])
    assert restriction.reaches(groups[0])
    assert not restriction.reaches(elsewhere)


def test_one_on_an_animal_or_a_group_bars_that_one_alone() -> None:
    tank = make_enclosure()
    animal, other = make_animals(2, enclosure=tank)
    group, other_group = make_group(enclosure=tank), make_group(enclosure=tank)
    on_animal, on_group = make_restriction(animal), make_restriction(group)
    today = days_ago(0)
    assert barring([animal, other], [group, other_group], today) == [on_animal, on_group]
    assert barring([other], [other_group], today) == []
    assert on_group.reaches(group)
    assert not on_group.reaches(animal)
    assert not on_animal.reaches(other)


def test_past_days_are_read_by_where_an_animal_lived_on_them() -> None:
    curator, tank, other = make_person(Role.CURATOR), make_enclosure(), make_enclosure()
    animal, group = make_animal(enclosure=tank), make_group(enclosure=tank)
    restriction = make_restriction(tank, began_on=days_ago(20))
    actions.move_animal(animal, enclosure=other, happened_on=days_ago(10), by=curator)
    actions.move_group(group, enclosure=other, happened_on=days_ago(10), by=curator)
    read = Restriction.objects.barring_on
    assert list(read([animal], [], days_ago(15))) == [restriction]
    assert list(read([], [group], days_ago(11))) == [restriction]
    assert not read([animal], [group], days_ago(10))
    assert not read([animal], [group], days_ago(21))
    assert not barring([animal], [group], days_ago(0))
    # A move that was taken back never happened.
    actions.take_back_animal_event(animal, reason="r", by=curator)
    assert list(read([animal], [], days_ago(5))) == [restriction]


def test_the_restrictions_of_many_cost_one_query(django_assert_num_queries: object) -> None:
    tank = make_enclosure()
    for subject in make_animals(10, enclosure=tank):
        make_restriction(subject)
    make_restriction(tank)
    animals = list(Animal.objects.all())
    with django_assert_num_queries(1):  # type: ignore[operator]
        found = list(Restriction.objects.barring(animals, []).in_force_on(days_ago(0)))
    assert len(found) == 11


def test_the_rows_that_bar_can_be_locked() -> None:
    animal = make_animal()
    make_restriction(animal.enclosure)
    assert Restriction.objects.barring([animal], []).select_for_update().get()


def test_the_word_says_what_comes_first() -> None:
    today, curator, tank = days_ago(0), make_person(Role.CURATOR), make_enclosure()
    free, barred, left = make_animal(), make_animal(), make_animal()
    housed = make_animal(enclosure=tank)
    group, tank_group = make_group(), make_group(enclosure=tank)
    make_restriction(barred)
    make_restriction(tank)
    make_restriction(free, began_on=days_ago(-2))
    actions.leave_animal(left, sort="died", happened_on=today, by=curator)
    words = dict(Animal.objects.with_word(today).values_list("pk", "word"))
    assert words == {
        free.pk: Word.AT_REST,
        barred.pk: Word.OUT_OF_BOUNDS,
        housed.pk: Word.OUT_OF_BOUNDS,
        left.pk: Word.LEFT,
    }
    words = dict(Group.objects.with_word(today).values_list("pk", "word"))
    assert words == {group.pk: Word.AT_REST, tank_group.pk: Word.OUT_OF_BOUNDS}
