"""The pages of the collection, as each person sees them."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from registry.animals import actions
from registry.animals.models import Animal, Enclosure, Group, Restriction, Taxon
from registry.errors import Unsound
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
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db


def today() -> str:
    return days_ago(0).isoformat()


def queries(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as made:
        answer = client.get(address)
    assert answer.status_code == 200
    return len(made)


# -------------------------------------------------------------------------------------------- list


def test_the_list_shows_animals_and_groups_with_a_written_word(client: Client) -> None:
    client.force_login(make_person(Role.STUDENT))
    animal, barred = make_animal(name="Morwen"), make_animal(name="Skerry")
    group = make_group(name="Lumpfish of 2026")
    make_restriction(barred)
    page = client.get("/animals/").content.decode()
    assert "3 animals and groups" in page
    for said in ("Morwen", "Skerry", "Lumpfish of 2026", "2.3.4", "at rest", "out of bounds"):
        assert said in page
    assert animal.get_absolute_url() in page
    assert group.get_absolute_url() in page
    assert "Receive an animal" not in page


@pytest.mark.parametrize("word", ["out_of_bounds", "at_rest", "in_use", "left", ""])
def test_the_list_is_filtered_by_its_word(client: Client, word: str) -> None:
    client.force_login(make_person(Role.CURATOR))
    curator = make_person(Role.CURATOR)
    named = {
        "out_of_bounds": make_animal(code="barred-one"),
        "at_rest": make_animal(code="resting-one"),
        "left": make_animal(code="gone-one"),
    }
    make_restriction(named["out_of_bounds"])
    actions.leave_animal(named["left"], sort="departed", happened_on=days_ago(1), by=curator)
    page = client.get("/animals/", {"word": word}).content.decode()
    for key, animal in named.items():
        is_shown = key == word or (word == "" and key != "left")
        assert (animal.code in page) == is_shown
    if word == "in_use":
        assert "No animal or group matches" in page


def test_the_list_is_filtered_by_taxon_and_by_enclosure(client: Client) -> None:
    client.force_login(make_person(Role.KEEPER))
    lumpfish, tank = make_taxon("Cyclopterus lumpus", "lumpfish", "bony_fish"), make_enclosure()
    make_group(code="shoal-x", taxon=lumpfish)
    make_animal(code="ray-x", enclosure=tank)
    by_taxon = client.get(lumpfish.get_absolute_url()).content.decode()
    assert "shoal-x" in by_taxon
    assert "ray-x" not in by_taxon
    by_tank = client.get("/animals/", {"enclosure": tank.pk}).content.decode()
    assert "ray-x" in by_tank
    assert "shoal-x" not in by_tank
    assert client.get("/animals/?taxon=999999").status_code == 200


def _many_animals() -> None:
    for animal in make_animals(9):
        make_restriction(animal)
        make_group()


def _many_restrictions() -> None:
    for animal in make_animals(3):
        make_restriction(animal)
    for group in [make_group() for _ in range(3)]:
        make_restriction(group)
    for tank in [make_enclosure() for _ in range(3)]:
        make_restriction(tank)


def _many_taxa() -> None:
    held = Taxon.objects.count()
    for n in range(held, held + 9):
        make_animal(taxon=make_taxon(f"Raja {n}"))


@pytest.mark.parametrize(
    ("address", "more"),
    [
        ("/animals/", _many_animals),
        ("/animals/enclosures/", _many_animals),
        ("/animals/restrictions/", _many_restrictions),
        ("/animals/taxa/", _many_taxa),
    ],
)
def test_a_list_costs_the_same_at_3_and_at_30_rows(
    client: Client, address: str, more: Callable[[], None]
) -> None:
    client.force_login(make_person(Role.CURATOR))
    make_restriction(make_animal())
    make_restriction(make_group())
    make_restriction(make_enclosure())
    client.get(address)
    few = queries(client, address)
    for _ in range(3):
        more()
    assert queries(client, address) == few


# ----------------------------------------------------------------------------------- animal, group


def test_the_page_of_an_animal_tells_its_life(client: Client) -> None:
    curator = make_person(Role.CURATOR)
    tank = make_enclosure(name="The channel")
    animal = make_animal(name="Morwen", by=curator)
    actions.mark_animal(animal, sort="natural", said="Pale crescent", by=curator)
    actions.move_animal(animal, enclosure=tank, happened_on=days_ago(30), by=curator)
    make_restriction(tank, sort="quarantine", began_on=days_ago(40), earliest_end_on=days_ago(-5))
    make_restriction(animal, strength="observation_only")
    question = make_question(title="Does she rest where it is dim?")
    client.force_login(make_person(Role.KEEPER))
    page = client.get(animal.get_absolute_url()).content.decode()
    for said in (
        "Morwen",
        "Raja undulata",
        "Pale crescent",
        "Lives in The channel",
        "Restriction: quarantine",
        "Restriction: looks wrong",
        "observation only",
        "out of bounds",
        "Keep off this animal",
        "Last 365 days",
        "The same facts",
    ):
        assert said in page
    assert question.title not in page
    assert "Departed or died" not in page
    client.force_login(curator)
    assert "Departed or died" in client.get(animal.get_absolute_url()).content.decode()


def test_questions_and_studies_of_its_taxon_stand_on_the_page(client: Client) -> None:
    animal = make_animal()
    question = make_question(title="Does she rest where it is dim?")
    type(question).objects.filter(pk=question.pk).update(taxon=animal.taxon)
    client.force_login(make_person(Role.KEEPER))
    assert question.title in client.get(animal.get_absolute_url()).content.decode()


def test_the_page_of_a_group_shows_the_number_after_each_change(client: Client) -> None:
    curator, group = make_person(Role.CURATOR), make_group()
    actions.count_group(group, unknown=5, sort="born", happened_on=days_ago(9), by=curator)
    actions.count_group(group, males=-1, sort="died", happened_on=days_ago(3), by=curator)
    client.force_login(curator)
    page = client.get(group.get_absolute_url()).content.decode()
    for said in (
        "2.3.4",
        "0.0.+5",
        "2.3.9",
        "-1.0.0",
        "1.3.9",
        "13 animals",
        "Keep off this group",
    ):
        assert said in page


def test_the_cost_of_a_page_does_not_grow_with_its_history(client: Client) -> None:
    curator, animal = make_person(Role.CURATOR), make_animal()
    tanks = [make_enclosure(), make_enclosure()]
    client.force_login(curator)

    def live(first: int, last: int) -> None:
        for day in range(first, last, -1):
            actions.move_animal(
                animal, enclosure=tanks[day % 2], happened_on=days_ago(day), by=curator
            )
            restriction = make_restriction(animal, began_on=days_ago(day))
            actions.end_restriction(
                restriction, ended_on=days_ago(day - 1), reason="r", by=make_person(Role.VET)
            )

    live(40, 37)
    client.get(animal.get_absolute_url())
    few = queries(client, animal.get_absolute_url())
    live(37, 10)
    assert queries(client, animal.get_absolute_url()) == few


# ------------------------------------------------------------------------------------------- deeds


def test_a_keeper_says_keep_off_in_one_form_that_starts_today(client: Client) -> None:
    animal = make_animal(name="Morwen")
    client.force_login(make_person(Role.KEEPER))
    address = f"{animal.get_absolute_url()}restrict/"
    form = client.get(address).content.decode()
    assert "CAUTION" in form
    assert "veterinary surgeon" in form
    assert f'value="{today()}"' in form
    typed = {"sort": "welfare", "strength": "bars_all", "began_on": today(), "note": "raw edge"}
    answer = client.post(address, typed, follow=True)
    restriction = Restriction.objects.get()
    assert answer.redirect_chain[-1][0] == restriction.get_absolute_url()
    assert "raw edge" in answer.content.decode()
    again = client.post(address, typed)
    assert again.status_code == 409
    assert "stands on it already" in again.content.decode()


def test_keep_off_is_one_press_from_the_sheet_and_from_the_enclosure(client: Client) -> None:
    animal, group = make_animal(name="Morwen"), make_group()
    assert animal.enclosure is not None
    assert group.enclosure is not None
    press = f'href="/animals/{animal.pk}/restrict/"'
    of_group = f'href="/animals/groups/{group.pk}/restrict/"'
    sheet = f"{animal.enclosure.get_absolute_url()}who/"
    client.force_login(make_person(Role.KEEPER))
    assert press in client.get(sheet).content.decode()
    assert press in client.get(animal.enclosure.get_absolute_url()).content.decode()
    assert of_group in client.get(group.enclosure.get_absolute_url()).content.decode()
    assert 'class="whole urgent"' in client.get(f"/animals/{animal.pk}/restrict/").content.decode()
    client.force_login(make_person(Role.STUDENT))
    for address in (sheet, animal.enclosure.get_absolute_url()):
        assert press not in client.get(address).content.decode()


def test_a_curator_names_who_looks_after_an_enclosure(client: Client) -> None:
    home, keeper, vet = make_enclosure(), make_person(Role.KEEPER), make_person(Role.VET)
    address = f"{home.get_absolute_url()}name_keepers/"
    client.force_login(make_person(Role.CURATOR))
    assert "every keeper is told" in client.get(home.get_absolute_url()).content.decode()
    assert client.post(address, {"keepers": [keeper.pk]}).status_code == 302
    assert f"Looked after by {keeper.name}" in client.get(home.get_absolute_url()).content.decode()
    assert client.post(address, {"keepers": [vet.pk]}).status_code == 422
    with pytest.raises(Unsound, match="no keeper, by the register"):
        actions.name_keepers(home, keepers=[keeper, vet], by=make_person(Role.CURATOR))
    assert list(home.keepers.all()) == [keeper]
    assert client.post(address, {}).status_code == 302
    assert not home.keepers.exists()


def test_what_was_typed_still_stands_when_a_count_is_refused(client: Client) -> None:
    group = make_group()
    client.force_login(make_person(Role.KEEPER))
    typed = {"sort": "died", "unknown": "-40", "happened_on": today(), "note": "found dead"}
    answer = client.post(f"{group.get_absolute_url()}count/", typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "found dead" in page
    assert "would be negative" in page
    group.refresh_from_db()
    assert group.number == 9


@pytest.mark.parametrize("path", ["restrict", "leave", "mark"])
def test_where_an_animal_could_be_harmed_the_page_cautions(client: Client, path: str) -> None:
    client.force_login(make_person(Role.VET))
    page = client.get(f"{make_animal().get_absolute_url()}{path}/").content.decode()
    assert "CAUTION" in page
    assert "veterinary surgeon" in page
    assert "the law where you work" in page


def test_the_page_of_a_restriction_offers_its_end_to_whom_may_end_it(client: Client) -> None:
    restriction = make_restriction(make_animal(), strength="vets_word", expected_end_on=days_ago(0))
    address = restriction.get_absolute_url()
    client.force_login(make_person(Role.CURATOR))
    assert "End it" not in client.get(address).content.decode()
    assert client.get(f"{address}end/").status_code == 403
    client.force_login(make_person(Role.VET))
    assert "End it" in client.get(address).content.decode()
    ended = client.post(f"{address}end/", {"ended_on": today(), "reason": "healed"}, follow=True)
    assert "is free again" in ended.content.decode()


def test_a_curator_fills_the_collection_from_its_pages(client: Client) -> None:
    client.force_login(make_person(Role.CURATOR))
    client.post("/animals/enclosures/open/", {"code": "T2", "name": "The channel"})
    taxon = {"common_name": "lumpfish", "scientific_name": "Cyclopterus lumpus"}
    client.post("/animals/taxa/add/", {**taxon, "taxon_class": "bony_fish"})
    shared: dict[str, Any] = {
        "taxon": Taxon.objects.get().pk,
        "enclosure": Enclosure.objects.get().pk,
        "life_stage": "adult",
        "arrived_on": today(),
    }
    client.post("/animals/receive/", {**shared, "code": "lump 1", "sex": "unknown"})
    client.post(
        "/animals/groups/receive/",
        {**shared, "code": "shoal 1", "name": "Shoal", "sort": "shoal", "unknown": "40"},
    )
    assert Animal.objects.get().enclosure == Group.objects.get().enclosure
    assert Group.objects.get().number == 40
    for address in ("", "enclosures/", "taxa/", "restrictions/"):
        assert client.get(f"/animals/{address}").status_code == 200
    home = Animal.objects.get().enclosure
    assert home is not None
    page = client.get(home.get_absolute_url()).content.decode()
    assert "41 animals live" in page


def test_a_visitor_is_sent_to_sign_in_and_a_student_may_change_nothing(client: Client) -> None:
    animal = make_animal()
    addresses = ["/animals/receive/", f"{animal.get_absolute_url()}move/"]
    for address in ["/animals/", animal.get_absolute_url(), *addresses]:
        assert client.get(address).status_code == 302
    client.force_login(make_person(Role.STUDENT))
    assert client.get(animal.get_absolute_url()).status_code == 200
    for address in addresses:
        assert client.get(address).status_code == 403
        assert client.post(address, {}).status_code == 403


def test_what_is_not_there_answers_404_in_words(client: Client) -> None:
    client.force_login(make_person(Role.CURATOR))
    animal = make_animal()
    for address in (
        "/animals/99999/",
        "/animals/groups/99999/",
        "/animals/enclosures/99999/",
        "/animals/restrictions/99999/",
        f"{animal.get_absolute_url()}fly/",
    ):
        answer = client.get(address)
        assert answer.status_code == 404
        assert "Nothing was found here" in answer.content.decode() or "no such step" in (
            answer.content.decode()
        )


def test_the_page_that_ends_a_restriction_says_what_was_seen_by_whom(client: Client) -> None:
    restriction = make_restriction(make_animal())
    client.force_login(make_person(Role.VET))
    shown = client.get(f"/animals/restrictions/{restriction.pk}/end/").content.decode()
    assert "Raw edge, right wing. Begun by" in shown
    assert restriction.begun_by.name in shown


def test_an_auditor_follows_an_animal_into_the_ledger(client: Client) -> None:
    animal = make_animal()
    client.force_login(make_person(Role.AUDITOR))
    address = f"/oversight/ledger/about/animals.animal:{animal.pk}/"
    assert address in client.get(f"/animals/{animal.pk}/").content.decode()
    assert client.get(address).status_code == 200
