"""Parts that the API shares."""

import json
from typing import Any

import pytest
from rest_framework.exceptions import ParseError
from rest_framework.test import APIClient

from registry.people.actions import make_token
from registry.permissions import Role
from registry.questions.forms import TakeOn
from registry.questions.models import Question
from registry.rest import form_input, serializer_of
from registry.transitions import move
from tests.worlds.people import make_person
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db
SHAPE = {"code", "what", "why", "next"}


def api_of(*roles: str) -> APIClient:
    api = APIClient()
    api.force_authenticate(make_person(*roles))
    return api


def test_json_is_read_as_forms_read_it() -> None:
    read = form_input({"a": 1, "b": None, "c": [1, "x"], "d": True, "e": False, "f": 2.5})
    assert read["a"] == "1"
    assert read["b"] == ""
    assert read.getlist("c") == ["1", "x"]
    assert (read["d"], read["e"], read["f"]) == ("true", "", "2.5")
    with pytest.raises(ParseError):
        form_input([1, 2])


def test_every_error_has_the_one_shape() -> None:
    question = make_question()
    address = f"/api/v1/questions/{question.pk}/"
    anonymous, student, curator = APIClient(), api_of(Role.STUDENT), api_of(Role.CURATOR)
    move(question, "park")
    answers = {
        401: anonymous.get(address),
        403: student.post(f"{address}reopen/", {"reason": "r"}, format="json"),
        404: student.get("/api/v1/questions/0/"),
        405: curator.delete(address),
        409: curator.post(f"{address}park/", {"reason": "r"}, format="json"),
        415: curator.post(f"{address}park/", "reason", content_type="text/plain"),
        422: curator.post(f"{address}reopen/", {}, format="json"),
        400: curator.post(f"{address}reopen/", "{", content_type="application/json"),
    }
    for status, answer in answers.items():
        assert answer.status_code == status, (status, answer.content)
        said = answer.json()
        assert set(said) >= SHAPE, said
        assert all(said[name] for name in SHAPE), said


def test_a_token_signs_in_until_it_is_revoked_or_expires() -> None:
    api = APIClient()
    api.credentials(HTTP_AUTHORIZATION="Token nonsense")
    refused = api.get("/api/v1/questions/")
    assert refused.status_code == 401
    assert refused.headers["WWW-Authenticate"] == "Token"


def test_an_object_says_what_this_person_can_do_on_it_now() -> None:
    question = make_question()
    address = f"/api/v1/questions/{question.pk}/"
    assert api_of(Role.STUDENT).get(address).json()["can"] == ["like", "unlike"]
    assert "park" in api_of(Role.CURATOR).get(address).json()["can"]
    assert api_of(Role.AUDITOR).get(address).json()["can"] == []
    assert api_of(Role.AUDITOR).get(address).json()["url"] == question.get_absolute_url()


def test_the_state_cannot_be_written_past_the_verbs() -> None:
    question, curator = make_question(), api_of(Role.CURATOR)
    address = f"/api/v1/questions/{question.pk}/"
    for method in (curator.put, curator.patch):
        assert method(address, {"state": "acknowledged"}, format="json").status_code == 405
    sent = {"reason": "later", "state": "acknowledged", "title": "Mine now"}
    answer = curator.post(f"{address}park/", sent, format="json")
    assert answer.json()["state"] == "parked"
    assert Question.objects.get().title == question.title


def test_a_list_comes_in_pages_of_at_most_five_hundred() -> None:
    for _ in range(3):
        make_question()
    api = api_of(Role.KEEPER)
    first = api.get("/api/v1/questions/?page_size=2").json()
    assert (first["count"], len(first["results"])) == (3, 2)
    second = api.get(first["next"]).json()
    assert len(second["results"]) == 1
    assert api.get("/api/v1/questions/?page=99").status_code == 404
    assert api.get("/api/v1/questions/?page_size=100000").status_code == 200


@pytest.mark.parametrize(
    "order", ["asker__password", "-nonsense", "posted_at,nonsense", "--posted_at", "?"]
)
def test_an_order_that_is_not_offered_is_refused_and_those_that_are_are_named(order: str) -> None:
    api = api_of(Role.CURATOR)
    refused = api.get("/api/v1/questions/", {"ordering": order})
    assert refused.status_code == 422
    assert set(refused.json()) == {"code", "what", "why", "next", "fields"}
    assert "posted_at, wanted_by" in refused.json()["fields"]["ordering"]


def test_an_order_that_is_offered_is_kept() -> None:
    api = api_of(Role.KEEPER)
    first, second = make_question(), make_question()
    for order, wanted in (("posted_at", [first, second]), ("-posted_at", [second, first])):
        listed = api.get("/api/v1/questions/", {"ordering": order}).json()["results"]
        assert [one["id"] for one in listed] == [question.pk for question in wanted]
    assert api.get("/api/v1/questions/?ordering=").status_code == 200


def test_a_deeds_form_is_described_for_the_schema() -> None:
    described = serializer_of(TakeOn)()
    assert set(described.fields) == set(TakeOn.base_fields)
    assert described.fields["reason"].required
    assert not described.fields["level"].required


def test_the_schema_names_every_verb_with_its_input_and_its_refusals() -> None:
    answer = api_of(Role.KEEPER).get("/api/v1/schema/?format=json")
    assert answer.status_code == 200
    schema = json.loads(answer.content)
    verb = schema["paths"]["/api/v1/questions/{id}/park/"]["post"]
    assert {"200", "401", "403", "404", "409", "422"} <= set(verb["responses"])
    assert "requestBody" in verb
    assert "/api/v1/people/{id}/give_standing/" in schema["paths"]
    assert "/api/v1/ledger/{number}/" in schema["paths"]


def test_a_filter_that_the_list_does_not_know_is_refused_and_the_known_ones_are_named() -> None:
    api = api_of(Role.KEEPER)
    refused = api.get("/api/v1/questions/?asked_by=3")
    assert refused.status_code == 422
    assert set(refused.json()["fields"]) == {"asked_by"}
    assert "asker, level, state, taxon" in refused.json()["why"]
    assert api.get("/api/v1/procedures/?nonsense=1").status_code == 422
    assert api.get("/api/v1/questions/?state=posted&page=1&page_size=5").status_code == 200


def test_a_filter_beyond_all_reckoning_is_refused_in_words() -> None:
    api = api_of(Role.AUDITOR)
    for query in (
        f"approvals/?projects={'9' * 30}",
        "ledger/?at_after=0001-01-01T00:00:00%2B14:00",
        "ledger/?at_before=9999-12-31T23:00:00-14:00",
        "questions/?taxon=zzz",
    ):
        refused = api.get(f"/api/v1/{query}")
        assert refused.status_code == 400, query
        assert "ErrorDetail" not in refused.content.decode()


def test_json_that_no_database_can_keep_is_refused() -> None:
    api, address = api_of(Role.CURATOR), f"/api/v1/questions/{make_question().pk}/park/"
    for body, status in (
        (rb'{"reason": "\ud800"}', 400),
        (rb'{"reason": ["\udfff"]}', 400),
        (rb'{"reason": {"a": "\ud800"}}', 400),
        (b"[" * 100_000, 400),
        (b'{"reason": ' + b"[" * 100_000, 400),
        (rb'{"reason": "a\u0000b"}', 422),
        (b'{"reason": NaN}', 400),
        (b"[]", 400),
        (b"null", 400),
        (b'"reason"', 400),
        (rb'{"reason": "\ud83d\ude00"}', 200),
    ):
        answer = api.post(address, body, content_type="application/json")
        assert answer.status_code == status, (body[:40], answer.content)
        assert status == 200 or set(answer.json()) >= SHAPE


def test_a_body_longer_than_any_form_is_refused_before_it_is_read(settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000
    api, address = APIClient(), f"/api/v1/questions/{make_question().pk}/park/"
    person = make_person(Role.CURATOR)
    secret, _ = make_token(person, name="logger", days=1, scope="deeds", by=person)
    api.credentials(HTTP_AUTHORIZATION=f"Token {secret}")
    refused = api.post(address, {"reason": "x" * 2000}, format="json")
    assert (refused.status_code, refused.json()["code"]) == (413, "too_large")
    assert api.post(address, {"reason": "x" * 500}, format="json").status_code == 200


def test_a_deed_on_a_key_that_is_no_number_is_not_found() -> None:
    for key in ("zzz", "9" * 30, "²"):
        answer = api_of(Role.CURATOR).post(f"/api/v1/questions/{key}/park/", {}, format="json")
        assert (answer.status_code, answer.json()["code"]) == (404, "not_found")


def test_the_api_begins_with_what_it_offers() -> None:
    offered = api_of(Role.KEEPER).get("/api/v1/")
    assert offered.status_code == 200
    assert offered.json()["questions"].endswith("/api/v1/questions/")
    assert set(APIClient().get("/api/v1/").json()) == SHAPE
