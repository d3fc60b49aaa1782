"""The life of an animal: where it lived, what barred it, and what it was used for."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from registry.animals import actions, life
from registry.animals.models import Animal, Word
from registry.oversight import actions as oversight_actions
from registry.permissions import Role
from tests.worlds.animals import (
    STAY_D,
    days_ago,
    make_animal,
    make_enclosure,
    make_group,
    make_restriction,
)
from tests.worlds.oversight import make_enrolled, make_handling, make_held_session, make_use
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def test_residences_follow_the_events_that_stand() -> None:
    curator = make_person(Role.CURATOR)
    first, second, third = make_enclosure(), make_enclosure(), make_enclosure()
    animal = make_animal(enclosure=first)
    actions.move_animal(animal, enclosure=second, happened_on=days_ago(30), by=curator)
    actions.move_animal(animal, enclosure=third, happened_on=days_ago(20), by=curator)
    actions.take_back_animal_event(animal, reason="it stayed", by=curator)
    actions.leave_animal(animal, sort="departed", happened_on=days_ago(5), by=curator)
    animal.refresh_from_db()
    homes = life.residences(animal, life.events_of(animal))
    assert [(home.enclosure, home.begun_on, home.ended_on) for home in homes] == [
        (first, days_ago(STAY_D), days_ago(30)),
        (second, days_ago(30), days_ago(5)),
    ]


def test_an_enclosure_bars_only_while_one_lives_in_it() -> None:
    curator, vet = make_person(Role.CURATOR), make_person(Role.VET)
    tank, other = make_enclosure(), make_enclosure()
    animal = make_animal(enclosure=tank)
    on_tank = make_restriction(tank, began_on=days_ago(60))
    ended = make_restriction(other, began_on=days_ago(60))
    actions.end_restriction(ended, ended_on=days_ago(40), reason="r", by=vet)
    own = make_restriction(animal, sort="moult", began_on=days_ago(10))
    for day, home in [(30, other), (20, tank)]:
        actions.move_animal(animal, enclosure=home, happened_on=days_ago(day), by=curator)
    found = sorted(life.barred_days_of(animal), key=lambda one: one[1])
    assert found == [
        (on_tank, days_ago(60), days_ago(30)),
        (on_tank, days_ago(20), None),
        (own, days_ago(10), None),
    ]


def test_a_change_is_written_in_the_order_of_the_sexes() -> None:
    curator, group = make_person(Role.CURATOR), make_group()
    actions.count_group(group, males=1, females=1, unknown=-2, happened_on=days_ago(0), by=curator)
    assert life.change_said(group.events.standing().last()) == "+1.+1.-2"


def test_contacts_are_summed_by_windows_and_reversed_ones_left_out() -> None:
    world = make_handling()
    enrolment = make_enrolled(world, 1)[0]
    animal = enrolment.animal
    assert animal is not None
    assert life.load_of(animal) == [(7, 0), (28, 0), (365, 0)]
    for days in (0, 6, 7, 27, 28):
        make_use(world, enrolment, happened_at=timezone.now() - timedelta(days=days))
    assert life.load_of(animal) == [(7, 2), (28, 4), (365, 5)]
    reversed_one = animal.uses.standing().order_by("-happened_at")[0]
    oversight_actions.reverse_use(reversed_one, reason="entered twice", by=world.student)
    assert life.load_of(animal) == [(7, 1), (28, 3), (365, 4)]


def test_an_enrolled_animal_is_in_use_unless_something_bars_it(client: Client) -> None:
    world, today = make_handling(), days_ago(0)
    enrolment = make_enrolled(world, 1)[0]
    animal = enrolment.animal
    assert animal is not None

    def word() -> str:
        said: str = Animal.objects.with_word(today).get(pk=animal.pk).word
        return said

    assert word() == Word.IN_USE
    make_held_session(world, [enrolment])
    client.force_login(world.student)
    page = client.get(animal.get_absolute_url()).content.decode()
    for said in ("in use", f"Enrolled: {world.project}", "Uses by project", "hands-on"):
        assert said in page
    # Someone who is in no project sees how much it has borne, and not for whom.
    client.force_login(make_person(Role.STUDENT))
    page = client.get(animal.get_absolute_url()).content.decode()
    assert "in use" in page
    assert "Last 365 days" in page
    assert str(world.project) not in page
    assert "Uses by project" not in page
    make_restriction(animal)
    assert word() == Word.OUT_OF_BOUNDS
