"""What Today says of those that are away or have just gone."""

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.desk.needs import afar
from registry.permissions import Role
from tests.worlds.afar import make_custody, make_dossier, make_gone
from tests.worlds.animals import days_ago, make_animal
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def test_a_return_is_told_to_keepers_and_to_whoever_answers_for_it_when_it_is_near() -> None:
    today = timezone.localdate()
    make_custody(expected_end_on=days_ago(-30))
    custody = make_custody(expected_end_on=days_ago(1))
    keeper, student = make_person(Role.KEEPER), make_person(Role.STUDENT)
    for person in (keeper, custody.answerable):
        told = list(afar.to_come_back(person, today))
        assert [need.about for need in told] == [custody]
        assert told[0].is_late(today)
    assert list(afar.to_come_back(student, today)) == []


@pytest.mark.postgres
def test_a_departure_without_a_dossier_is_told_to_the_curator_until_it_is_written() -> None:
    today = timezone.localdate()
    gone, died = make_gone(sort="departed"), make_gone(sort="died")
    assert died.state == "left"
    curator = make_person(Role.CURATOR)
    step = reverse("afar:animal_deed", args=[gone.pk, "write_dossier"])
    told = list(afar.animals_to_write_down(curator, today))
    assert [need.what for need in told] == [f"{gone} departed without a dossier"]
    assert told[0].url == step
    assert list(afar.animals_to_write_down(make_person(Role.KEEPER), today)) == []
    make_dossier(gone)
    assert list(afar.animals_to_write_down(curator, today)) == []
    assert list(afar.groups_to_write_down(curator, today)) == []
    first, second = make_gone(sort="departed"), make_gone(sort="departed")
    assert first.left_on == second.left_on
    told = list(afar.animals_to_write_down(curator, today))
    assert [need.what for need in told] == [f"{first} and others departed without a dossier"]


def test_what_lives_here_needs_no_dossier() -> None:
    make_animal()
    told = afar.animals_to_write_down(make_person(Role.CURATOR), timezone.localdate())
    assert list(told) == []
