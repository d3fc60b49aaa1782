"""How a site begins: the steps, the reference data, and the page of an empty site."""

import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.test import Client

from registry.desk.actions import load_vocabulary
from registry.desk.beginning import STEPS, is_begun, steps_for
from registry.desk.models import Vocabulary
from registry.desk.vocabulary import FOLDER, KINDS, read_lists
from registry.ledger.models import Entry
from registry.permissions import Role
from tests.worlds.animals import make_animal
from tests.worlds.approvals import make_collecting
from tests.worlds.people import make_body, make_institution, make_person
from tests.worlds.questions import make_question


def stands(person: Any) -> dict[int, bool]:
    return {step.number: step.is_done for step in steps_for(person)}


@pytest.mark.django_db
def test_an_empty_site_says_in_words_how_its_first_administrator_is_made(client: Client) -> None:
    page = client.get("/sign-in/").content.decode()
    assert "make_administrator" in page
    assert 'type="password"' not in page
    call_command("make_administrator", "Runa Hale", "runa@skerrywick.example")
    page = client.get("/sign-in/").content.decode()
    assert "make_administrator" not in page
    assert 'type="password"' in page


@pytest.mark.django_db
def test_each_step_is_read_from_the_register_and_nothing_is_ticked_off() -> None:
    administrator, curator = make_person(Role.ADMINISTRATOR), make_person(Role.CURATOR)
    assert stands(administrator) == dict.fromkeys(range(1, len(STEPS) + 1), False)
    make_institution()
    assert not stands(curator)[1]
    make_institution("Norrholm University")
    assert stands(curator)[1]
    for role in (Role.KEEPER, Role.SUPERVISOR, Role.STUDENT, Role.VET):
        make_person(role)
    assert not stands(curator)[2]
    make_person(Role.STEWARD)
    assert stands(curator)[2]
    load_vocabulary(read_lists(), by=curator)
    assert stands(curator)[3]
    make_body(quorum=3)
    assert not stands(curator)[4]
    make_animal()
    assert {number for number, done in stands(curator).items() if done} == {1, 2, 3, 5, 6, 7}
    make_question()
    assert stands(curator)[9]
    assert not is_begun()


@pytest.mark.django_db
def test_a_site_whose_first_project_runs_has_begun(client: Client) -> None:
    make_collecting()
    make_question()
    curator = make_person(Role.CURATOR)
    done = stands(curator)
    assert done[4]
    assert done[10]


@pytest.mark.django_db
def test_the_steps_are_for_administrators_and_curators_and_the_next_one_is_filled(
    client: Client,
) -> None:
    client.force_login(make_person(Role.KEEPER))
    assert client.get("/begin/").status_code == 403
    assert "/begin/" not in client.get("/").content.decode()
    client.force_login(make_person(Role.ADMINISTRATOR))
    assert 'href="/begin/"' in client.get("/").content.decode()
    assert 'href="/begin/"' in client.get("/help/").content.decode()
    page = client.get("/begin/").content.decode()
    assert "Missing: the collection and its partner university." in page
    assert re.findall(r'class="btn" href="([^"]+)"', page) == ["/institutions/open/"]
    client.force_login(make_person(Role.CURATOR))
    page = client.get("/begin/").content.decode()
    assert re.findall(r'class="btn" href="([^"]+)"', page) == ["/reference/load/"]
    assert "For an administrator." in page


@pytest.mark.django_db
def test_the_lists_are_loaded_by_a_button_and_shown_with_their_dates_and_sources(
    client: Client,
) -> None:
    client.force_login(make_person(Role.CURATOR))
    assert client.get("/reference/").content.decode().count("was not loaded yet") == len(KINDS)
    assert client.post("/reference/load/").status_code == 422
    everything = {"lists": [kind.name for kind in KINDS]}
    answer = client.post("/reference/load/", everything)
    assert answer.status_code == 302
    counts = [kind.model._default_manager.count() for kind in KINDS]
    assert counts == [len(one.rows) for one in read_lists()]
    entries = Entry.objects.count()
    assert client.post("/reference/load/", everything).status_code == 302
    assert Entry.objects.count() == entries
    client.force_login(make_person(Role.STUDENT))
    page = client.get("/reference/").content.decode()
    assert "from memory; check each name" in page
    assert "Schedule 2C, paragraph 6" in page
    assert "25 Nov 2026" in page.replace("\u00a0", " ")
    assert client.get("/reference/load/").status_code == 403
    assert Vocabulary.objects.count() == len(KINDS)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_each_list_is_dated_and_each_of_its_rows_has_a_source(kind: Any) -> None:
    held = json.loads((FOLDER / kind.file_name).read_text(encoding="utf-8"))
    assert date.fromisoformat(held["dated"])
    assert held["source"].strip() or all(row["source"].strip() for row in held["rows"])
    keys = [row[kind.key] for row in held["rows"]]
    assert len(set(keys)) == len(keys) > 5
    for row in held["rows"]:
        assert row.get("source", held["source"]).strip(), row
        assert len(row.get("source", "")) <= 200


def test_every_list_of_the_folder_is_loaded() -> None:
    folder = Path(settings.ROOT) / "fixtures" / "vocabulary"
    assert {path.name for path in folder.iterdir()} == {kind.file_name for kind in KINDS}


def test_a_kind_of_body_says_where_it_is_known_and_no_source_is_called_so() -> None:
    bodies = next(one for one in read_lists() if one.kind.name == "bodies")
    for row in bodies.rows:
        assert row["jurisdiction"]
        named = re.search(r"\d{4}|CFR", row["source"])
        assert named or "common practice, no source" in row["source"], row
