"""Custodies, dossiers and news for the tests."""

from typing import Any

from registry.afar import actions
from registry.afar.models import Custody, Dossier, News
from registry.animals.actions import leave_animal
from registry.animals.models import Animal, EggCase, Event, Group
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal
from tests.worlds.people import make_institution, make_person

GONE_D = 80
"""How many days ago animals that have left here did so."""


def make_custody(subject: Animal | Group | EggCase | None = None, **more: Any) -> Custody:
    """Give a custody at the university that began ten days ago."""
    given: dict[str, Any] = {
        "holder": make_institution("Norrholm University"),
        "place": "Wet room 2, tank 4",
        "answerable": make_person(Role.SUPERVISOR),
        "began_on": days_ago(10),
        "expected_end_on": days_ago(-20),
        "by": make_person(Role.CURATOR),
        **more,
    }
    return actions.give_custody(subject or make_animal(), **given)


def make_gone(animal: Animal | None = None, *, sort: str = Event.Sort.DEPARTED) -> Animal:
    """Give an animal that departed, or died, some time ago."""
    return leave_animal(
        animal or make_animal(),
        sort=sort,
        happened_on=days_ago(GONE_D),
        by=make_person(Role.CURATOR),
    )


def make_dossier(subject: Animal | Group | None = None, *, receiver: str = "") -> Dossier:
    """Give the dossier of an animal that is to go."""
    return actions.write_dossier(
        subject or make_animal(),
        receiver=receiver or "the aquarium of another coast",
        by=make_person(Role.CURATOR),
    )


def make_news(subject: Animal | Group | None = None, **more: Any) -> News:
    """Give news of one that has left: it was seen, and lives."""
    given: dict[str, Any] = {
        "sort": News.Sort.SEEN,
        "happened_on": days_ago(50),
        "where": "the aquarium of another coast",
        "told_by": "its curator, by letter",
        "by": make_person(Role.KEEPER),
        **more,
    }
    return actions.hear_news(subject or make_gone(), **given)
