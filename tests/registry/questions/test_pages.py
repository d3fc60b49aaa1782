"""The pages and the API of questions."""

import pytest
from django.test import Client
from rest_framework.test import APIClient

from registry.permissions import Role
from registry.questions.models import Question
from tests.worlds.people import make_person
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
