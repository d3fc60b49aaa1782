"""Which animals can be used, and when: the page, its reasons, and the list of those that can."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from registry.animals.actions import leave_animal
from registry.animals.models import Animal, Group
from registry.oversight.bars import restricted_on
from registry.oversight.facts import subject_of
from registry.permissions import Role
from tests.worlds.afar import make_custody
from tests.worlds.animals import (
    days_ago,
    make_animal,
    make_enclosure,
    make_group,
    make_restriction,
)
from tests.worlds.approvals import World, make_collecting
from tests.worlds.oversight import make_offered_booking
from tests.worlds.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]
ADDRESS = "/oversight/available/"
TODAY = days_ago(0)
SOON, LATER = days_ago(-3), days_ago(-30)


@pytest.fixture
def client(client: Client) -> Client:
    client.force_login(make_person(Role.SUPERVISOR))
    return client


def asked(client: Client, **given: Any) -> dict[str, Any]:
    days = {"from_on": SOON.isoformat(), "to_on": LATER.isoformat()}
    answer = client.get("/oversight/available.json", {**days, **given})
    assert answer.status_code == 200, answer.content
    found: dict[str, Any] = answer.json()
    return found


def why(client: Client, one: Animal | Group, **given: Any) -> str:
    rows = {(row["kind"], row["id"]): row for row in asked(client, **given)["results"]}
    row = rows[one.kind, one.pk]
    assert row["is_free"] == (not row["why_not"])
    return " ".join(row["why_not"])


def make_house() -> dict[str, Any]:
    """Give one animal or group for each reason there is, and free ones beside them."""
    barred_tank = make_enclosure(name="The barred tank")
    made: dict[str, Any] = {
        "free": make_animal(),
        "free group": make_group(),
        "gravid": make_animal(),
        "treated": make_animal(),
        "quarantined": make_animal(),
        "tank": make_animal(enclosure=barred_tank),
        "away": make_animal(),
        "over by then": make_animal(),
        "resting group": make_group(),
    }
    make_custody(made["away"])
    make_restriction(made["gravid"], sort="gravid", strength="observation_only")
    make_restriction(made["treated"], sort="treatment", strength="vets_word")
    make_restriction(made["quarantined"], sort="quarantine")
    make_restriction(barred_tank, sort="welfare")
    make_restriction(made["over by then"], sort="moult", expected_end_on=days_ago(-2))
    make_restriction(made["resting group"], sort="resting", strength="observation_only")
    return made


def test_each_no_has_its_reason_and_watching_is_open_to_more(client: Client) -> None:
    house = make_house()
    reasons = {name: why(client, one) for name, one in house.items()}
    assert reasons["free"] == reasons["free group"] == reasons["over by then"] == ""
    assert "gravid or brooding: observation only" in reasons["gravid"]
    assert "only a veterinary surgeon ends it" in reasons["treated"]
    assert "is in the custody of" in reasons["away"]
    assert "The barred tank is under a restriction" in reasons["tank"]
    assert "resting between uses" in reasons["resting group"]
    watching = {name: why(client, one, work="watching") for name, one in house.items()}
    opened = {name for name in house if reasons[name] and not watching[name]}
    assert opened == {"gravid", "resting group"}


def test_what_another_project_holds_in_those_days_is_not_free(client: Client) -> None:
    booking = make_offered_booking(make_collecting())
    one = booking.subjects.all()[0].animal
    assert one is not None
    days = {"from_on": booking.starts_on.isoformat(), "to_on": booking.ends_on.isoformat()}
    assert "is offered to" in why(client, one, **days)
    after = booking.ends_on + timedelta(days=1)
    days = {"from_on": after.isoformat(), "to_on": (after + timedelta(days=5)).isoformat()}
    assert why(client, one, **days) == ""


@pytest.mark.parametrize("work", ["hands_on", "watching"])
def test_the_list_of_the_free_says_what_the_reasons_say(client: Client, work: str) -> None:
    make_house()
    make_offered_booking(make_collecting())
    gone = leave_animal(make_animal(), sort="died", happened_on=TODAY, by=make_person(Role.CURATOR))
    every = asked(client, work=work)["results"]
    free = asked(client, work=work, free="on")["results"]
    keys = [(row["kind"], row["id"]) for row in every]
    assert ("animal", gone.pk) not in keys
    assert [row for row in every if row["is_free"]] == free
    assert 0 < len(free) < len(every)


def test_it_costs_the_same_queries_for_three_and_for_thirty(client: Client) -> None:
    make_house()
    made = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as counted:
            asked(client)
        made.append(len(counted))
        for _ in range(3):
            make_house()
    assert made[0] == made[1]


def test_days_that_run_backwards_or_too_long_are_refused(client: Client) -> None:
    for first, last in ((LATER, SOON), (TODAY, date(TODAY.year + 9, 1, 1))):
        given = {"from_on": first.isoformat(), "to_on": last.isoformat()}
        refused = client.get("/oversight/available.json", given)
        assert (refused.status_code, "to_on" in refused.json()["fields"]) == (422, True)
        page = client.get(ADDRESS, given)
        assert page.status_code == 200
        assert "rows" not in page.context
    assert client.get(ADDRESS).status_code == 200


def test_an_animal_off_show_is_as_free_as_one_on_show(client: Client) -> None:
    tank = make_enclosure()
    assert not tank.is_on_show
    assert why(client, make_animal(enclosure=tank)) == ""


def test_a_declared_study_of_quarantine_alone_may_work_in_quarantine() -> None:
    other, study = make_collecting(), make_collecting(is_quarantine_study=True)
    animal = make_animal()
    make_restriction(animal, sort="quarantine")

    def bars(world: World) -> list[str]:
        found = restricted_on([animal], TODAY, is_contact=True, project=world.project)
        return found[subject_of(animal)]

    assert (len(bars(other)), bars(study)) == (1, [])
    make_restriction(animal, sort="moult")
    assert (len(bars(other)), len(bars(study))) == (2, 1)
