"""Two people at once: on PostgreSQL rows are locked, so one of them is refused in words."""

import pytest

from registry.animals import actions
from registry.animals.models import Animal
from registry.errors import Conflict, Unsound
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_enclosure, make_group, make_taxon
from tests.worlds.people import make_person
from tests.worlds.together import at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres(only=True)]


def test_an_animal_leaves_once_whoever_says_so_first() -> None:
    animal, curator, vet = make_animal(), make_person(Role.CURATOR), make_person(Role.VET)
    today = days_ago(0)
    (refused,) = at_once(
        lambda: actions.leave_animal(animal, sort="died", happened_on=today, by=curator),
        lambda: actions.leave_animal(animal, sort="departed", happened_on=today, by=vet),
    )
    assert isinstance(refused, Conflict)
    assert animal.events.count() == 2


def test_a_group_is_not_counted_below_none_by_two_at_once() -> None:
    group, keeper = make_group(males=0, females=0, unknown=5), make_person(Role.KEEPER)
    deed = lambda: actions.count_group(  # noqa: E731
        group, unknown=-3, sort="died", happened_on=days_ago(0), by=keeper
    )
    (refused,) = at_once(deed, deed)
    assert isinstance(refused, Unsound)
    group.refresh_from_db()
    assert group.number == 2


def test_a_code_is_given_to_one_animal_by_two_at_once() -> None:
    curator, taxon, tank = make_person(Role.CURATOR), make_taxon(), make_enclosure()
    deed = lambda: make_animal(code="ray 7", taxon=taxon, enclosure=tank, by=curator)  # noqa: E731
    (refused,) = at_once(deed, deed)
    assert isinstance(refused, Conflict | Unsound)
    assert Animal.objects.filter(code="ray 7").count() == 1


def test_a_chip_is_given_to_one_animal_by_two_at_once() -> None:
    keeper, animal, other = make_person(Role.KEEPER), make_animal(), make_animal()
    chip = "826098410227316"
    (refused,) = at_once(
        lambda: actions.mark_animal(animal, sort="chip", said=chip, by=keeper),
        lambda: actions.mark_animal(other, sort="chip", said=chip, by=keeper),
    )
    assert isinstance(refused, Conflict)


def test_a_restriction_of_one_kind_is_begun_once_by_two_at_once() -> None:
    tank, vet = make_enclosure(), make_person(Role.VET)
    make_animal(enclosure=tank)
    deed = lambda: actions.begin_restriction(  # noqa: E731
        tank, sort="treatment", began_on=days_ago(0), by=vet
    )
    (refused,) = at_once(deed, deed)
    assert isinstance(refused, Conflict)
    assert tank.restrictions.count() == 1
