"""Two people at once on the main job: one wins, the other is told who was first, and when.

Each runs as two threads with a connection each, by deeds, over the API and on the pages, on both
databases. Afterwards the ledger holds with every row that it speaks of.
"""

import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult
from rest_framework.test import APIClient

from archive import acceptance
from archive import actions as archive
from archive.forms import Submit
from archive.models import Deposit, Version
from archive.places import store
from registry.answers import actions as answers
from registry.approvals import actions as approvals
from registry.approvals.models import Approval
from registry.errors import Conflict, Refusal
from registry.ledger import proof
from registry.ledger.models import Entry, subject_of
from registry.oversight.actions import explain_breach
from registry.oversight.models import Breach, Session, Use
from registry.people.actions import end_seat, seat_member
from registry.people.models import Person, the_clock
from registry.permissions import Role
from registry.projects.actions import finish_project
from registry.projects.models import Project
from registry.questions import actions as questions
from registry.questions.models import Question
from tests.worlds.answers import make_answered
from tests.worlds.approvals import make_asked
from tests.worlds.archive import make_checked, make_opened, make_submitted, put, rows
from tests.worlds.oversight import make_handling, make_planned_session
from tests.worlds.people import make_body, make_person
from tests.worlds.projects import fresh_project, lead_of
from tests.worlds.questions import make_question
from tests.worlds.together import at_once, together

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]

SAID_WHEN = r"\d{1,2} [A-Z][a-z]{2} \d{4} at \d\d:\d\d"


@pytest.fixture(autouse=True)
def _the_ledger_holds_in_the_end(tmp_path: Path, settings: Any) -> Iterator[None]:
    settings.STORE = tmp_path / "store"
    settings.VAR = tmp_path
    yield
    assert proof.check(with_subjects=True)[0] == []


def told(refused: Refusal, verb: str, *people: Person) -> None:
    """See that a refusal is a conflict, and says who took the last step and when."""
    assert isinstance(refused, Conflict)
    who = "|".join(re.escape(str(one)) for one in people)
    assert re.search(f"“{verb}”, was taken by ({who}) on {SAID_WHEN}", refused.why), refused.why


def one_entry(obj: Any, *verbs: str) -> Entry:
    """Give the one entry of these verbs about an object: the winner's."""
    return Entry.objects.get(subject=subject_of(obj), verb__in=verbs)


def post(browser: Client, path: str, given: dict[str, Any]) -> tuple[int, str]:
    """Send a form, and give the status and the page."""
    answer = browser.post(path, given)
    return answer.status_code, answer.content.decode()


def browser_of(person: Person) -> Client:
    browser = Client()
    browser.force_login(person)
    return browser


def api_of(person: Person) -> APIClient:
    api = APIClient()
    api.force_authenticate(person)
    return api


# ------------------------------------------------------------------------------------- questions


def test_a_question_is_taken_on_once() -> None:
    question = make_question()
    curators = [make_person(Role.CURATOR), make_person(Role.CURATOR)]

    def taking(curator: Person) -> Callable[[], object]:
        return lambda: questions.take_on_question(
            question,
            reason="No held data tell.",
            level="research_masters",
            first_month=3,
            last_month=9,
            by=curator,
        )

    (refused,) = at_once(*map(taking, curators))
    winner = one_entry(question, "question.take_on").actor
    told(refused, "take a question on", winner)


def test_an_answer_is_acknowledged_once_from_two_pages() -> None:
    question = make_answered()
    keepers = [make_person(Role.KEEPER), make_person(Role.KEEPER)]
    path = f"/questions/{question.pk}/acknowledge/"
    ended = together(*[lambda one=one: post(browser_of(one), path, {}) for one in keepers])
    (status, page) = next(one for one in ended if one[0] != 302)
    assert (status, len(ended)) == (409, 2)
    winner = one_entry(question, "question.acknowledge").actor
    assert re.search(f"was taken by {winner} on {SAID_WHEN}", page)
    assert Question.objects.get(pk=question.pk).state == "acknowledged"


# ------------------------------------------------------------------------------------- approvals


def test_a_request_is_decided_once_whether_approved_or_refused() -> None:
    approval, chair, member = make_asked()
    (refused,) = at_once(
        lambda: approvals.grant_approval(
            approval, decision="Sound.", deciders=[chair, member], by=chair
        ),
        lambda: approvals.refuse_approval(
            approval, reason="Too many.", deciders=[chair, member], by=chair
        ),
    )
    entry = one_entry(approval, "approval.approve", "approval.refuse")
    told(refused, entry.verb_said, chair)
    approval = Approval.objects.get(pk=approval.pk)
    assert (approval.state, approval.decided_by) == (entry.after, chair)
    assert approval.decision == ("Sound." if entry.after == "approved" else "Too many.")


def test_a_chair_with_two_windows_open_decides_once() -> None:
    approval, chair, member = make_asked()
    given = {"reason": "Sound.", "deciders": [chair.pk, member.pk]}
    paths = [f"{approval.get_absolute_url()}{path}/" for path in ("approve", "refuse")]
    ended = together(*[lambda path=path: post(browser_of(chair), path, given) for path in paths])
    assert sorted(status for status, _ in ended) == [302, 409]
    page = next(page for status, page in ended if status == 409)
    assert re.search(f"was taken by {chair} on {SAID_WHEN}", page)
    assert "Sound." in page, "what was typed is lost"


# -------------------------------------------------------------------------------------- oversight


def test_a_session_is_held_once_over_the_api_and_each_animal_is_used_once() -> None:
    world = make_handling()
    session = make_planned_session(world)
    enrolments = list(session.enrolments.values_list("pk", flat=True))
    given = {
        "started_at": session.planned_start.isoformat(),
        "ended_at": session.planned_end.isoformat(),
        "procedure": world.procedure.pk,
        "enrolments": enrolments,
    }
    path = f"/api/v1/sessions/{session.pk}/hold/"
    with time_machine.travel(session.planned_end + timedelta(minutes=1), tick=True):
        ended = together(
            *[lambda: api_of(world.student).post(path, given, format="json") for _ in range(2)]
        )
    assert sorted(answer.status_code for answer in ended) == [200, 409]
    refusal = next(answer.json() for answer in ended if answer.status_code == 409)
    assert refusal["code"] == "conflict"
    assert re.search(f"was taken by {world.student} on {SAID_WHEN}", refusal["why"])
    assert Session.objects.get(pk=session.pk).state == "held"
    assert sorted(Use.objects.values_list("enrolment", flat=True)) == sorted(enrolments)


def test_one_chair_is_seated_and_the_other_is_told_who_sits_there() -> None:
    body, old, _ = make_body()
    administrator = make_person(Role.ADMINISTRATOR)

    end_seat(body, person=old, reason="retired", by=administrator)
    two = [make_person(name="Ruth Amankwah"), make_person(name="Bryn Halloran")]
    (refused,) = at_once(
        *[
            lambda one=one: seat_member(body, person=one, is_chair=True, by=administrator)
            for one in two
        ]
    )
    chair = body.seats.get(is_chair=True, ended_on=None).person
    assert isinstance(refused, Conflict)
    assert f"has a chair: {chair}, since" in refused.why


# --------------------------------------------------------------------------------------- archive


def is_whole(version: Version) -> None:
    """See that one object lies in the store, that it is this version's, and nothing beside it."""
    kept = store()
    assert list(kept.object_ids()) == [version.identifier]
    assert kept.verify(version.identifier) == []
    assert {one.logical for one in kept.manifest(version.identifier).files} == set(version.manifest)
    assert kept.sweep_staging(older_than_s=0) == 0


def test_a_deposit_is_accepted_once_by_two_acceptors_with_other_terms() -> None:
    deposit = make_checked()
    lead, steward = lead_of(deposit.dataset.project), make_person(Role.STEWARD)

    def accepting(person: Person, licence: str) -> Callable[[], object]:
        return lambda: acceptance.accept(deposit, licence=licence, access="open", by=person)

    (refused,) = at_once(accepting(lead, "CC0-1.0"), accepting(steward, "CC-BY-4.0"))
    version = Version.objects.get(deposit=deposit)
    told(refused, "accept a deposit", version.accepted_by)
    assert version.licence == ("CC0-1.0" if version.accepted_by == lead else "CC-BY-4.0")
    is_whole(version)
    with store().open_file(version.identifier, "LICENSE") as opened:
        assert version.licence in opened.read().decode()


def test_a_deposit_is_accepted_once_over_the_api() -> None:
    deposit = make_checked()
    people = [lead_of(deposit.dataset.project), make_person(Role.STEWARD)]
    path = f"/api/v1/deposits/{deposit.pk}/accept/"
    given = {"licence": "CC-BY-4.0", "access": "open"}
    ended = together(
        *[lambda one=one: api_of(one).post(path, given, format="json") for one in people]
    )
    assert sorted(answer.status_code for answer in ended) == [201, 409]
    version = Version.objects.get(deposit=deposit)
    why = next(answer.json()["why"] for answer in ended if answer.status_code == 409)
    assert re.search(f"was taken by {version.accepted_by} on {SAID_WHEN}", why)
    is_whole(version)


def test_two_deposits_of_one_dataset_become_two_versions() -> None:
    first = make_checked()
    project = first.dataset.project
    second = make_checked({"scans.csv": rows("9,R-01,,REST,1")}, project=project)
    lead = lead_of(project)
    terms: dict[str, Any] = {"licence": "CC0-1.0", "access": "open", "by": lead}
    ended = together(
        lambda: acceptance.accept(first, **terms), lambda: acceptance.accept(second, **terms)
    )
    assert {version.number for version in ended} == {"1.0.0", "1.0.1"}
    assert set(store().object_ids()) == {version.identifier for version in ended}
    assert all(store().verify(version.identifier) == [] for version in ended)


def test_a_deposit_is_submitted_once_and_its_check_is_queued_once() -> None:
    deposit = put(make_opened(), {"scans.csv": rows()})

    def submit() -> object:
        form = Submit({}, subject=Deposit.objects.get(pk=deposit.pk), by=deposit.maker)
        assert form.is_valid()
        return form.act()

    (refused,) = at_once(submit, submit)
    told(refused, "submit a deposit", deposit.maker)
    assert DBTaskResult.objects.count() == 1


def test_a_deposit_is_corrected_once_or_accepted_never_both() -> None:
    deposit = make_checked()
    lead = lead_of(deposit.dataset.project)
    (refused,) = at_once(
        lambda: archive.correct_deposit(deposit, by=deposit.maker),
        lambda: acceptance.accept(deposit, licence="CC0-1.0", access="open", by=lead),
    )
    told(refused, "(accept|correct) a deposit", lead, deposit.maker)
    deposit.refresh_from_db()
    is_accepted = Version.objects.filter(deposit=deposit).exists()
    assert (deposit.state, deposit.round) == (("accepted", 1) if is_accepted else ("opened", 2))


def test_a_deposit_is_corrected_once() -> None:
    deposit = make_checked()
    (refused,) = at_once(*[lambda: archive.correct_deposit(deposit, by=deposit.maker)] * 2)
    told(refused, "correct a deposit", deposit.maker)
    deposit.refresh_from_db()
    assert (deposit.state, deposit.round) == ("opened", 2)
    assert deposit.files.filter(is_dropped=False).count() == 1


def test_a_file_added_while_the_deposit_is_submitted_is_in_it_or_refused() -> None:
    deposit = put(make_opened(), {"scans.csv": rows()})
    ended = together(
        lambda: archive.submit_deposit(deposit, by=deposit.maker),
        lambda: put(deposit, {"notes.txt": b"calm"}),
    )
    held = {file.name for file in deposit.files.filter(is_dropped=False)}
    refused = [one for one in ended if isinstance(one, Refusal)]
    assert held == ({"scans.csv"} if refused else {"scans.csv", "notes.txt"})
    for one in refused:
        told(one, "submit a deposit", deposit.maker)


# --------------------------------------------------------------------------------------- the end


def closable() -> Project:
    """Give a project of which nothing is missing."""
    question = make_answered()
    project = fresh_project(question.answers.get().study.projects.get())
    lead = lead_of(project)
    for breach in Breach.objects.filter(project=project, state="opened"):
        explain_breach(breach, explanation="Read off the wrong pool.", by=lead)
    finish_project(project, by=lead)
    return fresh_project(project)


def test_a_project_is_closed_once() -> None:
    project = closable()
    lead = lead_of(project)
    (refused,) = at_once(
        lambda: answers.close_project(project, text="Went well.", learned="A net.", by=lead),
        lambda: answers.close_project(project, text="It went well.", learned="A net.", by=lead),
    )
    told(refused, "close a project", lead)
    entry = one_entry(project, "project.close")
    assert project.close_report.written_at <= timezone.now()
    assert entry.after == "closed"


def test_a_check_that_two_workers_take_up_is_recorded_once() -> None:
    deposit = make_submitted()
    facts: dict[str, Any] = {"round_number": 1, "verdict": "valid", "summary": {}}
    (refused,) = at_once(*[lambda: archive.record_check(deposit, **facts, by=the_clock())] * 2)
    told(refused, "check a deposit", the_clock())
