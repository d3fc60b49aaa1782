"""The pages and the API of answers."""

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from archive.models import Version
from registry.answers.models import HusbandryAction
from registry.permissions import Role
from registry.questions.models import Question
from tests.worlds.answers import (
    SUMMARY,
    SURENESS,
    make_answered,
    make_question_in_study,
    newest,
)
from tests.worlds.archive import make_version
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db


@pytest.fixture
def version() -> Version:
    return make_version()


def test_a_lead_answers_from_the_page_and_it_waits_for_the_keepers_side(
    client: Client, version: Version
) -> None:
    question, _ = make_question_in_study(version)
    client.force_login(lead_of(version.dataset.project))
    page = client.get(f"/questions/{question.pk}/")
    assert b"Write the answer" in page.content
    address = f"/questions/{question.pk}/answer/"
    form = client.get(address).content.decode()
    assert "CAUTION" in form
    assert "curator and the veterinary surgeon" in form
    typed = {"summary": SUMMARY, "sureness": SURENESS, "evidence": [version.pk]}
    bad = client.post(address, {**typed, "husbandry": "Feed later by 2027-02-30"})
    assert bad.status_code == 422
    assert "Line 1: there is no day 2027-02-30" in bad.content.decode()
    assert SUMMARY in bad.content.decode()
    lines = "Close the near side, by 2027-03-01\n\nFeed later\n"
    done = client.post(address, {**typed, "husbandry": lines}, follow=True)
    assert "the question is still open" in done.content.decode()
    assert [(one.text, str(one.due_on)) for one in HusbandryAction.objects.all()] == [
        ("Close the near side", "2027-03-01"),
        ("Feed later", "None"),
    ]


def test_the_answer_prints_what_was_found_and_on_what_it_rests(
    client: Client, version: Version
) -> None:
    question = make_answered(version=version)
    client.force_login(question.asker)
    address = newest(question).get_absolute_url()
    page = client.get(address).content.decode()
    for words in (question.title, SUMMARY, SURENESS, version.get_absolute_url(), "not yet"):
        assert words in page
    assert f"/archive/versions/{version.slug}/" in page.split("Evidence")[1]
    assert "onepage" in page
    assert "not yet acknowledged" in page
    client.post(f"/questions/{question.pk}/acknowledge/")
    page = client.get(address).content.decode()
    assert "the question is closed" in page
    assert "not yet acknowledged" not in page


def test_a_keeper_says_what_was_done_from_the_answers_page(
    client: Client, version: Version
) -> None:
    answer = newest(make_answered(version=version))
    action = answer.actions.get()
    client.force_login(make_person(Role.KEEPER))
    page = client.get(answer.get_absolute_url()).content.decode()
    link = re.search(r'href="(/questions/answers/\d+/do_action/\?action=\d+)"', page)
    assert link is not None
    assert client.get(link[1]).status_code == 200
    done = client.post(
        link[1], {"action": action.pk, "is_done": "yes", "outcome": "Since May."}, follow=True
    )
    assert "Since May." in done.content.decode()
    action.refresh_from_db()
    assert action.is_done is True


def test_an_answer_that_was_replaced_says_so(client: Client, version: Version) -> None:
    question = make_answered(version=version)
    first = newest(question)
    client.force_login(question.asker)
    client.post(f"/questions/{question.pk}/query/", {"reason": "And at night?"})
    assert "queried" in client.get(first.get_absolute_url()).content.decode()
    client.force_login(lead_of(version.dataset.project))
    client.post(
        f"/questions/{question.pk}/answer/",
        {"summary": "No.", "sureness": "Sure.", "evidence": [version.pk]},
    )
    page = client.get(first.get_absolute_url()).content.decode()
    assert "A later answer took the place" in page


def test_the_page_for_closing_says_what_is_missing(client: Client, version: Version) -> None:
    question, _ = make_question_in_study(version)
    project = version.dataset.project
    client.force_login(lead_of(project))
    address = f"/questions/projects/{project.pk}/close/"
    assert question.title in client.get(address).content.decode()
    refused = client.post(address, {"text": "Went well.", "learned": "A net."})
    assert refused.status_code == 409
    assert "Went well." in refused.content.decode()


def test_the_api_answers_acknowledges_and_lists_with_the_same_rules(version: Version) -> None:
    question, _ = make_question_in_study(version)
    api = APIClient()
    address = f"/api/v1/questions/{question.pk}/"
    api.force_authenticate(lead_of(version.dataset.project))
    assert "answer" in api.get(address).json()["can"]
    typed = {
        "study": version.dataset.project.study_id,
        "summary": SUMMARY,
        "sureness": SURENESS,
        "evidence": [version.pk],
        "husbandry": ["Close the near side by 2027-03-01", "Feed later"],
    }
    assert (
        api.post(f"{address}answer/", {**typed, "evidence": []}, format="json").status_code == 422
    )
    assert api.post(f"{address}answer/", typed, format="json").json()["state"] == "answered"
    assert api.post(f"{address}acknowledge/", {}, format="json").status_code == 403
    (listed,) = api.get(f"/api/v1/answers/?question={question.pk}").json()["results"]
    assert [one["due_on"] for one in listed["actions"]] == ["2027-03-01", None]
    assert listed["question_state"] == "answered"
    api.force_authenticate(question.asker)
    (action, _) = listed["actions"]
    done = api.post(
        f"/api/v1/answers/{listed['id']}/do_action/",
        {"action": action["id"], "is_done": "yes"},
        format="json",
    )
    assert done.json()["actions"][0]["is_done"] is True
    assert api.post(f"{address}acknowledge/", {}, format="json").json()["state"] == "acknowledged"


def test_listing_answers_costs_the_same_queries_at_one_and_at_five(version: Version) -> None:
    api, keeper = APIClient(), make_person(Role.KEEPER)
    api.force_authenticate(keeper)
    assert keeper.roles

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            assert api.get("/api/v1/answers/").status_code == 200
        return len(caught)

    make_answered(version=version)
    before = cost()
    for _ in range(4):
        make_answered(version=version)
    assert cost() == before


def test_similar_questions_are_shown_before_posting_and_nothing_typed_is_lost(
    client: Client,
) -> None:
    held = make_question(title="Do the gentoos take pebbles from each other?")
    client.force_login(make_person(Role.KEEPER))
    typed = {"title": "Why do gentoos steal pebbles?", "why": "It matters", "similar": "yes"}
    page = client.post("/questions/post/", typed).content.decode()
    assert held.title in page
    assert "It matters" in page
    assert "to put right" not in page
    assert Question.objects.count() == 1
    typed = {"title": typed["title"], "why": "w", "animals": "gentoos", "would_change": "c"}
    seen = re.search(r'name="seen"[^>]* value="([^"]*)"', page)
    assert seen is not None
    typed["seen"] = seen[1]
    done = client.post("/questions/post/", typed, follow=True).content.decode()
    assert "Close to this one" in done
    assert held.title in done
