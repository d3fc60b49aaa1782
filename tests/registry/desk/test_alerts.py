"""Told at once: an animal of a running study is kept off; each person once for each restriction."""

from collections.abc import Sequence
from datetime import timedelta

import pytest
import time_machine
from django.core.mail import EmailMessage
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from registry.animals.actions import (
    bear_young,
    end_restriction,
    move_animal,
    name_keepers,
    scan_animal,
)
from registry.animals.models import Animal, Enclosure
from registry.desk import alerts
from registry.desk.letters import choose
from registry.desk.models import Alert
from registry.desk.needs.animals import kept_off_in_a_study
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_enclosure, make_restriction
from tests.worlds.approvals import World
from tests.worlds.oversight import make_enrolled, make_handling
from tests.worlds.people import fresh, make_person

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]
Box = list[EmailMessage]


@pytest.fixture
def world() -> World:
    return make_handling()


@pytest.fixture
def animal(world: World) -> Animal:
    animal = make_enrolled(world, 1)[0].animal
    assert isinstance(animal, Animal)
    return animal


def home_of(animal: Animal) -> Enclosure:
    assert animal.enclosure is not None
    return animal.enclosure


def letters_to(person: Person, box: Sequence[EmailMessage]) -> list[EmailMessage]:
    return [letter for letter in box if letter.to == [person.email]]


def send() -> None:
    alerts.open_alerts()
    alerts.send_all()


def test_all_concerned_are_written_to_at_once_and_once(
    world: World, animal: Animal, mailoutbox: Box
) -> None:
    keeper, vet, stranger = make_person(Role.KEEPER), make_person(Role.VET), make_person()
    make_restriction(make_animal())  # of no study
    assert not alerts.enqueue_when_due()
    scan_animal(animal, is_pregnant=True, happened_on=days_ago(0), by=vet)
    assert alerts.enqueue_when_due()
    assert not alerts.enqueue_when_due()  # it is queued already
    assert DBTaskResult.objects.count() == 1
    alerts.send_alerts.call()
    concerned = [keeper, world.curator, world.student, world.lead]
    for one in concerned:
        (letter,) = letters_to(one, mailoutbox)
        assert letter.subject == "1 new restriction bars animals of a running study"
        assert f"Keep off {animal}" in letter.body
        assert "gravid or brooding" in letter.body.replace("\n  ", " ")
        assert "Switch these letters off: http" in letter.body
        assert "List-Unsubscribe" in letter.extra_headers
        assert len(list(kept_off_in_a_study(fresh(one), days_ago(0)))) == 1  # and it is on Today
    assert [letters_to(one, mailoutbox) for one in (vet, stranger)] == [[], []]
    send()
    assert [len(letters_to(one, mailoutbox)) for one in concerned] == [1, 1, 1, 1]
    assert not alerts.enqueue_when_due()


def test_what_befalls_together_is_one_letter_and_what_comes_later_another(
    world: World, animal: Animal, mailoutbox: Box
) -> None:
    make_restriction(animal, sort="moult")
    make_restriction(home_of(animal), sort="welfare")
    send()
    (letter,) = letters_to(world.student, mailoutbox)
    assert letter.subject == "2 new restrictions bar animals of a running study"
    scan_animal(animal, is_pregnant=True, happened_on=days_ago(0), by=world.curator)
    bear_young(animal, code="PUP-1", unknown=1, happened_on=days_ago(0), by=world.curator)
    send()
    letter = letters_to(world.student, mailoutbox)[-1]
    assert "rearing young" in letter.body.replace("\n  ", " ")
    assert "gravid" not in letter.body  # it was over before anyone was written to
    assert len(letters_to(world.curator, mailoutbox)) == 1  # who began it knows


def test_only_keepers_of_the_enclosure_are_told_where_some_are_named(
    world: World, animal: Animal, mailoutbox: Box
) -> None:
    named, other = make_person(Role.KEEPER), make_person(Role.KEEPER)
    name_keepers(home_of(animal), keepers=[named], by=world.curator)
    make_restriction(animal)
    send()
    assert [len(letters_to(one, mailoutbox)) for one in (named, other)] == [1, 0]
    assert [len(list(kept_off_in_a_study(fresh(one), days_ago(0)))) for one in (named, other)] == [
        1,
        0,
    ]


def test_whoever_chose_never_is_not_written_to_and_what_was_ended_is_not_told(
    world: World, animal: Animal, mailoutbox: Box
) -> None:
    choose(world.student, "never")
    begun = make_restriction(animal)
    send()
    assert letters_to(world.student, mailoutbox) == []
    assert Alert.objects.get(person=world.student).outcome == "nothing"
    assert len(letters_to(world.lead, mailoutbox)) == 1
    end_restriction(begun, ended_on=days_ago(0), reason="well", by=world.curator)
    again = make_restriction(animal)
    alerts.open_alerts()
    end_restriction(again, ended_on=days_ago(0), reason="well", by=world.curator)
    alerts.send_all()
    assert len(letters_to(world.lead, mailoutbox)) == 1


def test_what_was_recorded_long_ago_is_left_to_the_morning(
    world: World, animal: Animal, mailoutbox: Box
) -> None:
    make_restriction(animal)
    with time_machine.travel(timezone.now() + timedelta(days=2), tick=False):
        assert alerts.open_alerts() == 0
        send()
    assert letters_to(world.student, mailoutbox) == []


def test_an_animal_that_is_moved_into_a_barred_tank_is_told_of_at_once(
    world: World, animal: Animal, mailoutbox: Box
) -> None:
    tank = make_enclosure()
    with time_machine.travel(timezone.now() - timedelta(days=9), tick=False):
        make_restriction(tank, sort="quarantine")
    move_animal(make_animal(), enclosure=tank, happened_on=days_ago(0), by=world.curator)
    send()
    assert letters_to(world.student, mailoutbox) == []  # that one is of no study
    move_animal(animal, enclosure=tank, happened_on=days_ago(0), by=world.curator)
    send()
    (letter,) = letters_to(world.student, mailoutbox)
    assert f"Keep off {tank}" in letter.body
