"""The pages and the API of the ledger."""

import json

import pytest
from django.db import connection
from django.test import Client
from rest_framework.test import APIClient

from registry.ledger.actions import record
from registry.ledger.chain import digest_of
from registry.ledger.models import Entry
from registry.oversight.models import Concern
from registry.people.models import the_clock
from registry.permissions import Role, Verb, allowed
from registry.questions import actions
from tests.worlds.archive import make_version
from tests.worlds.people import make_body, make_person
from tests.worlds.questions import make_question, make_taken_on

pytestmark = pytest.mark.django_db


def test_an_entry_says_who_did_what_to_what_and_why(client: Client) -> None:
    question = make_taken_on()
    client.force_login(make_person(Role.AUDITOR))
    entry = Entry.objects.get(verb="question.take_on")
    page = client.get(entry.get_absolute_url()).content.decode()
    assert "Take a question on" in page
    assert f'<a href="{question.get_absolute_url()}">{question.title}</a>' in page
    assert "posted to taken on" in page
    assert "No held data tell." in page
    assert entry.digest in page
    assert entry.previous in page
    assert entry.actor.name in page


def test_only_the_newest_entry_is_called_so(client: Client) -> None:
    make_question()
    client.force_login(make_person(Role.AUDITOR))
    newest = Entry.objects.order_by("number").last()
    assert newest is not None
    assert b"the newest" in client.get(newest.get_absolute_url()).content
    assert b"the newest" not in client.get("/oversight/ledger/1/").content


def test_an_erased_reason_is_said_to_be_erased(client: Client) -> None:
    make_taken_on()
    entry = Entry.objects.get(verb="question.take_on")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE ledger_entry SET reason = '', salt = ''")
    client.force_login(make_person(Role.AUDITOR))
    page = client.get(entry.get_absolute_url()).content
    assert b"were erased" in page
    assert b"No held data tell." not in page


def test_the_list_is_filtered_by_subject_person_project_deed_and_period(client: Client) -> None:
    question, curator = make_question(), make_person(Role.CURATOR, name="Ide Ferry")
    actions.park_question(question, reason="later", by=curator)
    client.force_login(make_person(Role.AUDITOR))

    def numbers(asked: str) -> list[int]:
        page = client.get(f"/oversight/ledger/?{asked}")
        assert page.status_code == 200
        return [entry.number for entry in page.context["page"]]

    parked = Entry.objects.get(verb="question.park").number
    everything = numbers("")
    assert everything == sorted(everything, reverse=True)
    assert numbers("verb=question.park") == [parked]
    assert numbers(f"person={curator.pk}") == [parked]
    assert numbers(f"subject=questions.question:{question.pk}")[0] == parked
    assert len(numbers(f"subject=questions.question:{question.pk}")) == 2
    assert numbers("project=1") == []
    assert numbers("begun=2001-01-01&ended=2001-02-01") == []
    assert numbers("begun=2001-01-01") == everything


def test_a_period_that_runs_backward_is_refused_in_words(client: Client) -> None:
    client.force_login(make_person(Role.AUDITOR))
    page = client.get("/oversight/ledger/?begun=2026-02-01&ended=2026-01-01")
    assert page.status_code == 422
    assert b"before the first one" in page.content


def test_the_history_of_an_object_is_shown_also_where_deeds_only_touched_it(client: Client) -> None:
    question = make_question()
    actions.like_question(question, note="", by=make_person(Role.STUDENT))
    interest = question.interests.get()
    client.force_login(make_person(Role.AUDITOR))
    page = client.get(f"/oversight/ledger/about/questions.question:{question.pk}/")
    assert [entry.verb for entry in page.context["page"]] == ["question.like", "question.post"]
    touched = client.get(f"/oversight/ledger/about/questions.interest:{interest.pk}/")
    assert [entry.verb for entry in touched.context["page"]] == ["question.like"]
    for nothing in ("questions.question:0", "no.such:1", "nonsense"):
        assert client.get(f"/oversight/ledger/about/{nothing}/").status_code == 404


def test_a_student_reads_their_own_deeds_and_no_others(client: Client) -> None:
    question, student = make_question(), make_person(Role.STUDENT)
    actions.like_question(question, note="", by=student)
    client.force_login(student)
    mine = Entry.objects.get(verb="question.like")
    other = Entry.objects.get(verb="question.post")
    assert client.get(mine.get_absolute_url()).status_code == 200
    assert client.get(other.get_absolute_url()).status_code == 404
    assert [one.pk for one in client.get("/oversight/ledger/").context["page"]] == [mine.pk]


def make_confidential() -> tuple[Entry, Concern]:
    vet = make_person(Role.VET)
    concern = Concern.objects.create(text="The ray was out of water too long.", named=vet)
    return record(Verb.CONCERN_RAISE, concern, by=the_clock(), is_confidential=True), concern


def test_a_confidential_entry_is_read_only_by_those_who_handle_it_and_are_not_named() -> None:
    entry, concern = make_confidential()
    assert concern.named is not None
    _, chair, member = make_body(is_ethics=True)
    _, other_chair, _ = make_body(is_ethics=False)
    handlers = [make_person(Role.VET), make_person(Role.AUDITOR), chair]
    outsiders = [
        concern.named,
        member,
        other_chair,
        *(make_person(role) for role in (Role.CURATOR, Role.KEEPER, Role.ADMINISTRATOR)),
    ]
    entries = Entry.objects.filter(pk=entry.pk)
    assert [allowed(entries, one, Verb.ENTRY_SEE).exists() for one in handlers] == [True] * 3
    assert [allowed(entries, one, Verb.ENTRY_SEE).exists() for one in outsiders] == [False] * 6


def test_every_page_carries_the_ledgers_head_for_its_print(client: Client) -> None:
    make_question()
    client.force_login(make_person(Role.AUDITOR))
    head = Entry.objects.latest("number")
    page = client.get("/questions/").content.decode()
    assert f"Ledger entry {head.number}" in page
    assert f"digest {head.digest}" in page


def test_a_version_carries_the_ledgers_digest_as_it_was_at_its_check() -> None:
    version = make_version()
    entry = Entry.objects.about(version.deposit).get(verb="deposit.check")
    assert version.descriptor["x:ledger"] == {"number": entry.number, "digest": entry.digest}


def test_the_api_gives_what_is_needed_to_check_the_chain_elsewhere() -> None:
    make_taken_on()
    api = APIClient()
    assert api.get("/api/v1/ledger/").status_code == 401
    api.force_authenticate(make_person(Role.AUDITOR))
    rows = api.get("/api/v1/ledger/").json()["results"]
    previous = "0" * 64
    for row in rows:
        assert row["previous"] == previous
        previous = digest_of(row["text"], previous)
        assert row["digest"] == previous
        assert json.loads(row["text"])["number"] == row["number"]
    narrowed = api.get("/api/v1/ledger/?verb=question.take_on").json()["results"]
    assert [row["reason"] for row in narrowed] == ["No held data tell."]
    assert api.get("/api/v1/ledger/?at_after=2999-01-01T00:00:00Z").json()["count"] == 0
    assert api.post("/api/v1/ledger/", {}, format="json").status_code == 405
    assert api.delete("/api/v1/ledger/1/").status_code == 405
