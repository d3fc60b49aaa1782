"""How far a program goes with a token: as its scope says, and never further than its person."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from rest_framework.test import APIClient

from archive.models import Deposit
from registry.people.actions import make_token
from registry.people.models import ApiToken, Person, Scope
from registry.permissions import Role, Verb, is_look
from registry.questions.models import Question
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import make_dictionary, make_version, rows
from tests.worlds.people import fresh, make_person
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db

SHAPE = {"code", "what", "why", "next"}
ASKED = {
    "title": "Do the rays rest less?",
    "why": "They seem restless.",
    "would_change": "Opening hours.",
}


def program_of(person: Person, scope: str) -> APIClient:
    secret, _ = make_token(person, name=f"{scope} program", days=1, scope=scope, by=person)
    api = APIClient()
    api.credentials(HTTP_AUTHORIZATION=f"Token {secret}")
    return api


def is_beyond(answer: Any, scope: str) -> bool:
    """Say whether an answer is the refusal of a scope, in the one shape."""
    told: dict[str, str] = answer.json()
    return answer.status_code == 403 and set(told) == SHAPE and f"“{scope}”" in told["why"]


def test_a_token_that_looks_may_look_and_do_nothing() -> None:
    curator, question = make_person(Role.CURATOR), make_question()
    looking, doing = program_of(curator, Scope.READ), program_of(curator, Scope.DEEDS)
    address = f"/api/v1/questions/{question.pk}/"
    assert looking.get(address).json()["can"] == []
    assert "park" in doing.get(address).json()["can"]
    assert looking.get("/api/v1/questions/").json()["results"][0]["can"] == []
    assert is_beyond(looking.post(f"{address}park/", {"reason": "later"}, format="json"), "read")
    assert is_beyond(looking.post("/api/v1/questions/", ASKED, format="json"), "read")
    assert Question.objects.get().state == "posted"
    assert doing.post(f"{address}park/", {"reason": "later"}, format="json").status_code == 200


def test_a_scope_gives_nothing_that_its_person_may_not_do() -> None:
    student, question = make_person(Role.STUDENT), make_question()
    refused = program_of(student, Scope.DEEDS).post(
        f"/api/v1/questions/{question.pk}/park/", {"reason": "later"}, format="json"
    )
    assert refused.status_code == 403
    assert "You may not" in refused.json()["what"]


def test_a_token_for_deposits_opens_fills_and_submits_one_and_nothing_else() -> None:
    world = make_collecting()
    dictionary = make_dictionary(world.project.study)
    api = program_of(fresh(world.student), Scope.DEPOSIT)
    opened = api.post(
        f"/api/v1/projects/{world.project.pk}/deposit/",
        {"dictionary": dictionary.pk},
        format="json",
    )
    assert opened.status_code == 201
    assert set(opened.json()["can"]) == {"add_file", "submit"}
    address = f"/api/v1/deposits/{opened.json()['id']}/"
    files = [SimpleUploadedFile("scans.csv", rows())]
    assert api.post(f"{address}add_file/", {"files": files}, format="multipart").status_code == 200
    for path in ("discard/", "drop_file/"):
        assert is_beyond(api.post(f"{address}{path}", {}, format="json"), "deposit"), path
    assert api.post(f"{address}submit/").json()["state"] == "submitted"
    assert api.get(f"{address}report/").status_code == 200
    assert api.get("/api/v1/deposits/").status_code == 200
    assert Deposit.objects.get().state == "submitted"
    for plural in ("projects", "people", "animals", "versions", "questions"):
        assert is_beyond(api.get(f"/api/v1/{plural}/"), "deposit"), plural
    answer = api.post(f"/api/v1/projects/{world.project.pk}/finish/", {}, format="json")
    assert is_beyond(answer, "deposit")


def test_a_token_for_deposits_reads_no_closed_data(client: Client) -> None:
    version = make_version(access="restricted", terms={"restricted_because": "Owner's wish."})
    steward = make_person(Role.STEWARD)
    address = f"{version.get_absolute_url()}data/scans.csv"
    for scope, wanted in ((Scope.DEPOSIT, 403), (Scope.READ, 200), (Scope.DEEDS, 200)):
        secret, _ = make_token(steward, name="notebook", days=1, scope=scope, by=steward)
        answer = client.get(address, headers={"authorization": f"Token {secret}"})
        assert answer.status_code == wanted, scope
        if answer.streaming:
            assert b"".join(answer.streaming_content) == rows()
        else:
            assert set(answer.json()) == SHAPE


def test_what_scopes_permit_of_the_whole_table() -> None:
    looking = ApiToken(scope=Scope.READ)
    depositing, doing = ApiToken(scope=Scope.DEPOSIT), ApiToken(scope=Scope.DEEDS)
    assert {verb for verb in Verb if looking.permits(verb)} == {v for v in Verb if is_look(v)}
    assert {verb for verb in Verb if depositing.permits(verb)} == {
        "deposit.see",
        "project.deposit",
        "deposit.add_file",
        "deposit.submit",
    }
    assert all(doing.permits(verb) for verb in Verb)


def test_a_token_looks_only_unless_another_scope_is_chosen(client: Client) -> None:
    person = make_person()
    _, token = make_token(person, name="logger", days=1, by=person)
    assert token.scope == Scope.READ
    client.force_login(person)
    page = client.get("/people/tokens/").content.decode()
    assert 'value="read"' in page
    assert "look, and do nothing" in page
    sent = {"name": "field logger", "days": "3", "scope": "moon"}
    assert client.post("/people/tokens/", sent).status_code == 422
    assert client.post("/people/tokens/", {**sent, "scope": "deposit"}).status_code == 200
    assert ApiToken.objects.get(name="field logger").scope == Scope.DEPOSIT


def test_the_schema_tells_of_the_scopes() -> None:
    api = APIClient()
    api.force_authenticate(make_person())
    schema = api.get("/api/v1/schema/", {"format": "json"}).json()
    told = schema["components"]["securitySchemes"]["token"]["description"]
    assert all(f"`{scope}`" in told for scope in Scope.values)
