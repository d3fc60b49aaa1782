"""Those whose study a new restriction bars are told, and nobody else."""

import pytest

from registry.animals.models import Animal
from registry.desk.needs.animals import kept_off_in_a_study
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_restriction
from tests.worlds.oversight import make_enrolled, make_handling
from tests.worlds.people import fresh, make_person

pytestmark = pytest.mark.django_db
TODAY = days_ago(0)


def told(person: Person) -> list[str]:
    return [need.what for need in kept_off_in_a_study(fresh(person), TODAY)]


def test_everyone_concerned_hears_when_an_animal_of_a_study_is_kept_off() -> None:
    world = make_handling()
    animal = make_enrolled(world, 1)[0].animal
    assert isinstance(animal, Animal)
    assert animal.enclosure is not None
    make_restriction(make_animal())  # of no study
    keeper = make_person(Role.KEEPER)
    concerned = [world.student, world.lead, world.curator]
    assert [told(one) for one in concerned] == [[], [], []]
    make_restriction(animal, sort="gravid", strength="observation_only", by=keeper)
    for one in concerned:
        assert told(one) == [f"Keep off {animal}, which a running study uses: gravid or brooding"]
    make_restriction(animal.enclosure, sort="welfare")
    assert len(told(world.student)) == 2
    assert len(told(keeper)) == 1  # what others began; its own it knows
    assert told(make_person(Role.STUDENT)) == []


def test_what_was_told_for_a_fortnight_is_told_no_more_nor_to_whom_began_it() -> None:
    world = make_handling()
    animal = make_enrolled(world, 1)[0].animal
    assert isinstance(animal, Animal)
    make_restriction(animal, sort="moult", began_on=days_ago(14))
    assert told(world.student) == []
    make_restriction(animal, sort="gravid", began_on=days_ago(13), by=world.curator)
    assert len(told(world.student)) == 1
    assert told(world.curator) == []
