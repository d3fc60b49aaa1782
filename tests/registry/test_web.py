"""Parts that pages share."""

import errno
from typing import Any

import pytest
from django import forms
from django.contrib.messages import get_messages
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError
from django.db.models import Count
from django.test import Client, RequestFactory

from registry.choices import RowsField
from registry.done import DONE
from registry.errors import Conflict, Unseen, Unsound
from registry.permissions import Role, Verb, is_look
from registry.questions.forms import DEEDS, Park
from registry.questions.models import Question
from registry.web import (
    OFFERED_ON,
    Deed,
    NarrowForm,
    acts_on,
    check_form,
    deeds,
    number_of,
    page_of,
    page_parts,
    seen_or_404,
)
from tests.worlds.people import make_person
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db


def test_a_deed_is_offered_at_the_last_part_of_its_verb() -> None:
    offered = deeds(Deed(Verb.QUESTION_PARK, Park, "Park"))
    assert list(offered) == ["park"]
    with pytest.raises(AttributeError):
        offered["park"].label = "x"  # type: ignore[misc]


def test_the_buttons_are_those_that_the_table_and_the_state_leave_open(client: Client) -> None:
    client.get("/questions/")  # reads every urls.py, where the slices offer their deeds
    question, curator = make_question(), make_person(Role.CURATOR)
    paths = [act["path"] for act in acts_on(question, curator)]
    assert {"take_on", "merge", "park", "decline"} <= set(paths)
    assert "reopen" not in paths
    assert all(
        act["url"].startswith(f"/questions/{question.pk}/") for act in acts_on(question, curator)
    )
    assert acts_on(question, make_person(Role.ADMINISTRATOR)) == []
    assert OFFERED_ON[Question]["questions:deed"] is DEEDS


def test_a_page_out_of_range_is_the_nearest_one_and_a_counted_list_keeps_its_order(
    rf: RequestFactory,
) -> None:
    made = [make_question().pk for _ in range(3)]
    counted = Question.objects.annotate(n=Count("interests"))
    for asked in ("99", "2", "", "nonsense", "-1"):
        page = page_of(rf.get("/", {"page": asked}), counted, size=2)
        assert page.number == (2 if asked in {"99", "2", "-1"} else 1)
    first = page_of(rf.get("/"), counted, size=2)
    assert [question.pk for question in first] == made[:0:-1]


def test_a_faulty_form_is_refused_with_a_complaint_for_each_field() -> None:
    class Typed(forms.Form):
        when = forms.DateField()
        number = forms.IntegerField(max_value=3)

    assert check_form(Typed({"when": "2026-11-24", "number": "3"}))["number"] == 3
    with pytest.raises(Unsound) as refused:
        check_form(Typed({"when": "yesterday", "number": "4"}))
    assert set(refused.value.fields) == {"when", "number"}
    assert "number:" in refused.value.why


def test_what_is_not_there_and_what_may_not_be_seen_are_refused_alike() -> None:
    question = make_question()
    with pytest.raises(Unseen) as hidden:
        seen_or_404(
            type(question.asker).objects.all(), make_person(Role.STUDENT), question.asker_id
        )
    with pytest.raises(Unseen) as missing:
        seen_or_404(type(question.asker).objects.all(), make_person(Role.STUDENT), 0)
    assert str(hidden.value) == str(missing.value)
    assert seen_or_404(Question.objects.all(), make_person(Role.STUDENT), question.pk) == question


def test_a_deed_page_asks_before_it_shows_its_form(client: Client) -> None:
    question = make_question()
    address = f"/questions/{question.pk}/park/"
    assert client.get(address).headers["Location"].startswith("/sign-in/?next=")
    client.force_login(make_person(Role.KEEPER))
    assert client.get(address).status_code == 403
    client.force_login(make_person(Role.CURATOR))
    assert client.get(address).status_code == 200
    assert client.get(f"/questions/{question.pk}/no_such_step/").status_code == 404
    assert client.get("/questions/0/park/").status_code == 404


def test_a_faulty_form_is_shown_again_with_422_and_nothing_is_written(client: Client) -> None:
    question = make_question()
    client.force_login(make_person(Role.CURATOR))
    page = client.post(f"/questions/{question.pk}/park/", {"reason": " "})
    assert page.status_code == 422
    assert b"1 thing to put right" in page.content
    assert Question.objects.get(pk=question.pk).state == "posted"


def test_after_the_deed_one_stands_on_the_objects_page_and_is_told(client: Client) -> None:
    question = make_question()
    client.force_login(make_person(Role.CURATOR))
    answer = client.post(f"/questions/{question.pk}/park/", {"reason": "no tank"})
    assert answer.headers["Location"] == f"/questions/{question.pk}/"
    assert [str(said) for said in get_messages(answer.wsgi_request)] == ["The question was parked."]


def test_every_deed_that_is_offered_is_told_in_a_whole_sentence_when_it_was_done() -> None:
    by_the_clock = {
        Verb.BREACH_OPEN,
        Verb.DEPOSIT_CHECK,
        Verb.ANALYSIS_COMPUTE,
        Verb.ANALYSIS_REFUSE,
        Verb.ANALYSIS_CONFIRM,
        Verb.VERSION_COPY,
        Verb.COPY_FIND_DAMAGED,
        Verb.COPY_MEND,
        Verb.STORE_RUN_RECORD,
    }
    doable = {verb for verb in Verb if not is_look(verb)} - by_the_clock
    assert set(DONE) == doable
    for verb, said in DONE.items():
        assert str(said)[0].isupper(), verb
        assert str(said).endswith("."), verb


def test_a_form_is_filled_from_the_address_but_never_sent_by_it(client: Client) -> None:
    question = make_question()
    client.force_login(make_person(Role.CURATOR))
    page = client.get(f"/questions/{question.pk}/park/", {"reason": "said before"})
    assert b"said before" in page.content
    assert Question.objects.get(pk=question.pk).state == "posted"


def test_a_refusal_in_the_middle_of_a_view_becomes_a_page_in_words(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*args: Any, **kwargs: Any) -> None:
        raise Conflict("It was not done.", "Someone was first.", "Look again.")

    monkeypatch.setattr("registry.questions.views.allowed", refuse)
    client.force_login(make_person(Role.KEEPER))
    page = client.get("/questions/")
    assert page.status_code == 409
    for said in (b"It was not done.", b"Someone was first.", b"Look again."):
        assert said in page.content


def test_every_page_knows_who_asks_and_the_ledgers_head(rf: RequestFactory) -> None:
    question = make_question()
    request: Any = rf.get(question.get_absolute_url())
    request.user = question.asker
    parts = page_parts(request)
    assert parts["person"] == question.asker
    assert parts["ledger_head"] >= 3
    here = {label for label, _, is_here in parts["places"] if is_here}
    assert here == {"Questions"}


# ------------------------------------------------------------------------- what cannot be read


def test_a_number_in_an_address_is_read_only_where_a_row_can_have_it() -> None:
    assert [number_of(said) for said in ("7", "0", "9" * 18)] == [7, 0, 10**18 - 1]
    for said in ("", None, "-1", "²", "٣", "1e5", "zzz", "9" * 19, "9" * 5000, "7\n"):
        assert number_of(said) is None


def test_numbers_and_days_beyond_all_reckoning_are_refused_with_their_field() -> None:
    class Typed(NarrowForm):
        when = forms.DateField()
        at = forms.DateTimeField()
        number = forms.IntegerField()
        few = forms.IntegerField(max_value=9)

    sound = {"when": "2026-11-24", "at": "1850-01-01T00:00", "number": "1000000000", "few": "9"}
    assert Typed(sound).is_valid()
    wild = {"when": "2226-11-24", "at": "0206-11-24T10:00", "number": "3000000000", "few": "10"}
    assert set(Typed(wild).errors) == {"when", "at", "number", "few"}
    assert "from 1850 to 2200" in str(Typed({**sound, "when": "0001-01-01"}).errors["when"])


def test_a_row_number_of_thirty_digits_is_no_choice_and_no_crash() -> None:
    question = make_question()
    field = RowsField(Question.objects.all())
    assert list(field.clean([str(question.pk)])) == [question]
    for wrong in ("9" * 30, "zzz", "0"):
        with pytest.raises(forms.ValidationError):
            field.clean([str(question.pk), wrong])


def test_a_key_that_is_no_number_is_not_found() -> None:
    for key in ("zzz", "²", "9" * 30):
        with pytest.raises(Unseen):
            seen_or_404(Question.objects.all(), make_person(Role.CURATOR), key)


def test_a_nul_in_the_address_is_refused_in_words_to_people_and_to_programs(
    client: Client,
) -> None:
    client.force_login(make_person(Role.KEEPER))
    page = client.get("/questions/?q=%00")
    assert page.status_code == 400
    assert b"NUL character" in page.content
    said = client.get("/api/v1/questions/?level=%00")
    assert (said.status_code, set(said.json())) == (400, {"code", "what", "why", "next"})
    assert client.get("/questions/?q=plain").status_code == 200


def test_another_hosts_name_is_refused_in_words(client: Client) -> None:
    page = client.get("/", headers={"host": "evil.example"})
    assert page.status_code == 400
    assert b"STRANDLINE_HOSTS" in page.content


def test_too_many_files_or_fields_at_once_are_refused_with_the_limit(client: Client) -> None:
    client.force_login(make_person(Role.CURATOR))
    address = f"/questions/{make_question().pk}/park/"
    files = [SimpleUploadedFile(f"{n}.csv", b"a\n") for n in range(201)]
    page = client.post(address, {"files": files})
    assert page.status_code == 400
    assert b"More than 200 files" in page.content
    page = client.post(
        address,
        "&".join(f"field-{n}=x" for n in range(5001)),
        content_type="application/x-www-form-urlencoded",
    )
    assert (page.status_code, b"More than 5,000 fields" in page.content) == (400, True)


def test_what_is_too_long_is_refused_before_it_is_read(client: Client, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE, settings.MOST_SENT_BYTES = 1000, 3000
    page = client.post("/sign-in/", {"file": SimpleUploadedFile("a.csv", b"a" * 2000)})
    assert (page.status_code, b"Sign in first" in page.content) == (413, True)
    client.force_login(make_person(Role.CURATOR))
    address = f"/questions/{make_question().pk}/park/"
    page = client.post(address, {"file": SimpleUploadedFile("a.csv", b"a" * 2000)})
    assert page.status_code == 422
    page = client.post(address, {"file": SimpleUploadedFile("a.csv", b"a" * 4000)})
    assert (page.status_code, b"in several parts" in page.content) == (413, True)


@pytest.mark.parametrize(
    "fault", [OSError(errno.ENOSPC, "No space left"), OperationalError("database or disk is full")]
)
def test_a_full_disk_is_told_as_what_it_is(
    client: Client, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    def fail(*args: Any, **kwargs: Any) -> None:
        raise fault

    client.force_login(make_person(Role.KEEPER))
    client.raise_request_exception = False
    monkeypatch.setattr("registry.questions.views.allowed", fail)
    monkeypatch.setattr("registry.rest.allowed", fail)
    page = client.get("/questions/")
    assert (page.status_code, b"The disk is full." in page.content) == (507, True)
    said = client.get("/api/v1/questions/")
    assert (said.status_code, said.json()["code"]) == (507, "store_failed")


def test_an_unforeseen_fault_is_told_without_its_innards(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: Any, **kwargs: Any) -> None:
        raise RuntimeError("the innards")

    client.force_login(make_person(Role.KEEPER))
    client.raise_request_exception = False
    monkeypatch.setattr("registry.questions.views.allowed", fail)
    monkeypatch.setattr("registry.rest.allowed", fail)
    for address in ("/questions/", "/api/v1/questions/"):
        answer = client.get(address)
        assert (answer.status_code, b"innards" in answer.content) == (500, False)
    assert set(answer.json()) == {"code", "what", "why", "next"}


def test_an_address_of_the_api_that_leads_nowhere_answers_in_the_one_shape(
    client: Client,
) -> None:
    said = client.get("/api/v1/moons/")
    assert (said.status_code, said.json()["code"]) == (404, "not_found")
    assert b"<html" in client.get("/moons/").content
