"""The pages and the API of questions."""

import pytest
from django.test import Client
from rest_framework.test import APIClient

from registry.permissions import Role
from registry.questions.models import Question
from tests.worlds.animals import make_taxon
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import make_dictionary, make_opened
from tests.worlds.people import make_person
from tests.worlds.projects import fresh_project, make_study
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db
TYPED = {"title": "Why?", "why": "It matters", "animals": "rays", "would_change": "all"}


def test_a_keeper_posts_from_the_page_and_lands_on_the_question(client: Client) -> None:
    client.force_login(make_person(Role.KEEPER))
    answer = client.post("/questions/post/", TYPED, follow=True)
    assert b"Question posted" in answer.content
    assert Question.objects.get().title == "Why?"


def test_what_was_typed_still_stands_after_a_refusal(client: Client) -> None:
    client.force_login(make_person(Role.KEEPER))
    answer = client.post("/questions/post/", {**TYPED, "wanted_by": "2020-01-01"})
    assert answer.status_code == 422
    assert b"It matters" in answer.content
    assert b"has passed" in answer.content


def test_a_deed_that_is_not_open_now_is_refused_with_409(client: Client) -> None:
    client.force_login(make_person(Role.CURATOR))
    question = make_question()
    address = f"/questions/{question.pk}/park/"
    assert client.post(address, {"reason": "later"}).status_code == 302
    again = client.post(address, {"reason": "later"})
    assert again.status_code == 409
    assert b"It is parked now" in again.content


def test_the_api_posts_and_sorts_with_the_same_rules() -> None:
    api = APIClient()
    assert api.get("/api/v1/questions/").status_code == 401
    api.force_authenticate(make_person(Role.KEEPER))
    made = api.post("/api/v1/questions/", TYPED, format="json")
    assert made.status_code == 201
    pk = made.json()["id"]
    refused = api.post(f"/api/v1/questions/{pk}/take_on/", {"reason": "r"}, format="json")
    assert refused.status_code == 403
    assert set(refused.json()) >= {"code", "what", "why", "next"}
    api.force_authenticate(make_person(Role.CURATOR))
    bad = api.post(f"/api/v1/questions/{pk}/take_on/", {}, format="json")
    assert bad.status_code == 422
    assert "reason" in bad.json()["fields"]
    done = api.post(f"/api/v1/questions/{pk}/take_on/", {"reason": "r"}, format="json")
    assert (done.status_code, done.json()["state"]) == (200, "taken_on")
    listed = api.get("/api/v1/questions/?state=taken_on").json()
    assert [row["id"] for row in listed["results"]] == [pk]


# ------------------------------------------------------------- what is close, before it is posted


@pytest.mark.postgres
def test_what_is_close_is_shown_before_posting_and_again_only_if_it_is_new(
    client: Client,
) -> None:
    make_question(title="Do gentoos take pebbles from nests nearby?")
    client.force_login(make_person(Role.KEEPER))
    typed = {**TYPED, "title": "Do gentoos take pebbles from nests of others?"}
    page = client.post("/questions/post/", typed)
    html = page.content.decode()
    assert page.status_code == 200
    assert "Asked already" in html
    assert "Post it all the same" in html
    assert typed["title"] in html
    assert Question.objects.count() == 1
    seen = page.context["similar"].seen
    assert f'name="seen" form="ask" value="{seen}"' in html
    assert client.post("/questions/post/", {**typed, "seen": seen}).status_code == 302
    assert Question.objects.count() == 2


def test_what_is_still_missing_is_told_before_what_is_close(client: Client) -> None:
    make_question(title="Do gentoos take pebbles from nests nearby?")
    client.force_login(make_person(Role.KEEPER))
    page = client.post("/questions/post/", {"title": "Do gentoos take pebbles from nests?"})
    assert page.status_code == 422
    assert b"Missing: fill this in." in page.content


def test_looking_for_similar_ones_keeps_what_was_typed_and_finds_no_fault(
    client: Client,
) -> None:
    client.force_login(make_person(Role.KEEPER))
    typed = {"title": "Why so?", "why": "Half a thought", "similar": "yes"}
    page = client.post("/questions/post/", typed)
    html = page.content.decode()
    assert page.status_code == 200
    assert "Half a thought" in html
    assert "Nothing held is close to it." in html
    assert "to put right" not in html


@pytest.mark.postgres
def test_data_held_on_the_same_taxon_are_shown_while_one_writes(client: Client) -> None:
    taxon = make_taxon()
    study = make_study(taxon=taxon)
    make_dictionary(study)
    dataset = make_opened(fresh_project(make_collecting().project)).dataset
    client.force_login(make_person(Role.KEEPER))
    typed = {"title": "At which depth do the rays rest by day?", "taxon": str(taxon.pk)}
    html = client.get("/questions/similar/", typed).content.decode()
    assert "Held already" in html
    assert "#field-" in html
    assert dataset.title in html
    assert "<html" not in html
    nothing = client.get(
        "/questions/similar/", {"title": "At which depth do the rays rest by day?"}
    )
    assert dataset.title not in nothing.content.decode()


def test_what_is_close_is_told_to_those_alone_who_may_ask(client: Client) -> None:
    assert client.get("/questions/similar/?title=x").status_code == 302
    client.force_login(make_person(Role.STUDENT))
    assert client.get("/questions/similar/?title=x").status_code == 403


@pytest.mark.parametrize("taxon", ["", "zzz", "9" * 40, "0"])
def test_a_taxon_that_is_none_does_not_break_the_look(client: Client, taxon: str) -> None:
    client.force_login(make_person(Role.KEEPER))
    answer = client.get("/questions/similar/", {"title": "rays rest", "taxon": taxon})
    assert answer.status_code == 200
