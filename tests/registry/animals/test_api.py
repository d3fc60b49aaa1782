"""The collection over the API: the same deeds, the same refusals."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from registry.permissions import Role
from tests.worlds.animals import (
    days_ago,
    make_animal,
    make_animals,
    make_enclosure,
    make_group,
    make_restriction,
    make_taxon,
)
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
PLURALS = ["taxa", "animals", "groups", "enclosures", "restrictions"]


def api_of(*roles: str) -> APIClient:
    api = APIClient()
    api.force_authenticate(make_person(*roles))
    return api


def today() -> str:
    return days_ago(0).isoformat()


@pytest.mark.parametrize("plural", PLURALS)
def test_the_lists_are_open_to_all_who_signed_in(plural: str) -> None:
    make_restriction(make_animal())
    make_restriction(make_group())
    assert APIClient().get(f"/api/v1/{plural}/").status_code == 401
    listed = api_of(Role.STUDENT).get(f"/api/v1/{plural}/").json()
    assert listed["results"]
    for row in listed["results"]:
        assert row["can"] == []
        assert row["url"]


def test_the_register_is_filled_by_posting_to_the_lists() -> None:
    api = api_of(Role.CURATOR)
    taxon = api.post(
        "/api/v1/taxa/",
        {
            "common_name": "lumpfish",
            "scientific_name": "Cyclopterus lumpus",
            "taxon_class": "bony_fish",
        },
        format="json",
    )
    tank = api.post("/api/v1/enclosures/", {"code": "T2", "name": "Channel"}, format="json")
    assert (taxon.status_code, tank.status_code) == (201, 201)
    shared = {
        "taxon": taxon.json()["id"],
        "enclosure": tank.json()["id"],
        "life_stage": "adult",
        "arrived_on": today(),
    }
    animal = api.post(
        "/api/v1/animals/", {**shared, "code": "lump 1", "sex": "unknown"}, format="json"
    )
    group = api.post(
        "/api/v1/groups/",
        {**shared, "code": "shoal 1", "name": "Shoal", "sort": "shoal", "unknown": 40},
        format="json",
    )
    assert (animal.status_code, group.status_code) == (201, 201)
    assert group.json()["number"] == 40
    assert [event["sort"] for event in animal.json()["events"]] == ["arrived"]
    again = api.post(
        "/api/v1/animals/", {**shared, "code": "LUMP 1", "sex": "unknown"}, format="json"
    )
    assert again.status_code == 422
    assert set(again.json()) == {"code", "what", "why", "next", "fields"}
    refused = api_of(Role.KEEPER).post("/api/v1/animals/", shared, format="json")
    assert refused.status_code == 403


def test_each_deed_is_a_post_to_its_object() -> None:
    api, vet = api_of(Role.CURATOR), api_of(Role.VET)
    animal, group, tank = make_animal(), make_group(), make_enclosure()
    at = f"/api/v1/animals/{animal.pk}"
    moved = api.post(f"{at}/move/", {"enclosure": tank.pk, "happened_on": today()}, format="json")
    assert (moved.status_code, moved.json()["enclosure"]) == (200, tank.pk)
    marked = api.post(f"{at}/mark/", {"sort": "chip", "said": "826098410227316"}, format="json")
    assert marked.json()["marks"][0]["said"] == "826098410227316"
    bad = api.post(f"{at}/mark/", {"sort": "chip", "said": "12"}, format="json")
    assert (bad.status_code, "said" in bad.json()["fields"]) == (422, True)
    back = api.post(f"{at}/take_back/", {"reason": "wrong tank"}, format="json")
    assert back.json()["enclosure"] == animal.enclosure_id
    counted = api.post(
        f"/api/v1/groups/{group.pk}/count/",
        {"sort": "born", "unknown": 5, "happened_on": today()},
        format="json",
    )
    assert counted.json()["number"] == 14
    begun = api.post(
        f"/api/v1/enclosures/{tank.pk}/restrict/",
        {"sort": "treatment", "began_on": today()},
        format="json",
    )
    assert (begun.status_code, begun.json()["enclosure"]) == (201, tank.pk)
    end = f"/api/v1/restrictions/{begun.json()['id']}/end/"
    ending = {"ended_on": today(), "reason": "cleared"}
    assert api.post(end, ending, format="json").status_code == 403
    ended = vet.post(end, ending, format="json")
    assert (ended.status_code, ended.json()["state"]) == (200, "ended")
    assert vet.post(end, ending, format="json").status_code == 409
    left = api.post(f"{at}/leave/", {"sort": "died", "happened_on": today()}, format="json")
    assert left.json()["state"] == "left"
    assert {"take_back", "name_parent"} <= set(left.json()["can"])


def test_the_lists_are_filtered_and_ordered() -> None:
    api = api_of(Role.KEEPER)
    tank = make_enclosure()
    old, new = make_animal(enclosure=tank), make_animal(arrived_on=days_ago(3))
    make_restriction(old)
    here = api.get(f"/api/v1/animals/?enclosure={tank.pk}").json()["results"]
    assert [row["id"] for row in here] == [old.pk]
    newest = api.get("/api/v1/animals/?ordering=-arrived_on").json()["results"]
    assert [row["id"] for row in newest] == [new.pk, old.pk]
    begun = api.get("/api/v1/restrictions/?state=begun&sort=welfare").json()["results"]
    assert [row["animal"] for row in begun] == [old.pk]
    assert api.get("/api/v1/restrictions/?state=ended").json()["count"] == 0


@pytest.mark.parametrize("plural", PLURALS)
def test_a_list_costs_the_same_at_3_and_at_30_rows(plural: str) -> None:
    api = api_of(Role.CURATOR)

    def fill(n: int) -> None:
        for animal in make_animals(n):
            make_restriction(animal)
            make_restriction(make_group())
        for k in range(n):
            make_taxon(f"Raja {n}{k}")

    def cost() -> int:
        with CaptureQueriesContext(connection) as made:
            assert api.get(f"/api/v1/{plural}/").status_code == 200
        return len(made)

    fill(3)
    cost()
    few = cost()
    fill(27)
    assert cost() == few
