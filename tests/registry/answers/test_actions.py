"""Deeds on answers."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from archive.actions import withdraw_version
from archive.models import Version
from registry.answers import actions
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.oversight.actions import (
    BreachFound,
    discharge_animal,
    explain_breach,
    open_breaches,
)
from registry.oversight.models import Breach
from registry.people.models import the_clock
from registry.permissions import Role, can
from registry.projects.actions import finish_project, take_question
from registry.projects.models import Project
from registry.questions.models import Question
from tests.worlds.answers import (
    SUMMARY,
    SURENESS,
    make_acknowledged,
    make_answered,
    make_question_in_study,
    newest,
)
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import make_version
from tests.worlds.oversight import make_enrolled
from tests.worlds.people import make_person
from tests.worlds.projects import fresh_project, lead_of, make_study
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db


@pytest.fixture
def version() -> Version:
    return make_version()


def given(version: Version, **change: Any) -> dict[str, Any]:
    project = version.dataset.project
    return {
        "study": project.study,
        "summary": SUMMARY,
        "sureness": SURENESS,
        "evidence": [version],
        "by": lead_of(project),
        **change,
    }


@pytest.mark.postgres
def test_an_answer_holds_its_evidence_and_what_to_do_and_is_recorded(version: Version) -> None:
    question, _ = make_question_in_study(version)
    due = timezone.localdate() + timedelta(days=30)
    actions.answer_question(
        question, **given(version, husbandry=[("Close the near side", due), ("Feed later", None)])
    )
    question.refresh_from_db()
    answer = newest(question)
    assert question.state == "answered"
    assert list(answer.evidence.all()) == [version]
    assert [(one.text, one.due_on, one.is_done) for one in answer.actions.all()] == [
        ("Close the near side", due, None),
        ("Feed later", None, None),
    ]
    entry = Entry.objects.get(verb="question.answer")
    assert entry.project_number == version.dataset.project_id
    assert entry.facts["details"]["evidence"] == [version.identifier]


def test_a_study_that_did_not_take_the_question_on_cannot_answer_it(version: Version) -> None:
    question, _ = make_question_in_study(version)
    with pytest.raises(Unsound, match="did not take this question on"):
        actions.answer_question(question, **given(version, study=make_study()))
    actions.answer_question(question, **given(version))


def test_only_a_lead_of_a_project_in_that_study_answers(version: Version) -> None:
    question, _ = make_question_in_study(version)
    with pytest.raises(NotPermitted):
        actions.answer_question(question, **given(version, by=make_person(Role.CURATOR)))
    other = make_version()
    take_question(other.dataset.project.study, question=question, by=lead_of(other.dataset.project))
    with pytest.raises(NotPermitted, match="lead no project"):
        actions.answer_question(question, **given(version, by=lead_of(other.dataset.project)))
    with pytest.raises(Unsound, match="not of the study"):
        actions.answer_question(question, **given(version, evidence=[version, other]))
    actions.answer_question(question, **given(version))


def test_an_answer_rests_on_a_version_that_is_held(version: Version) -> None:
    question, _ = make_question_in_study(version)
    with pytest.raises(Unsound, match="No evidence"):
        actions.answer_question(question, **given(version, evidence=[]))
    with pytest.raises(Unsound, match="no words"):
        actions.answer_question(question, **given(version, husbandry=[(" ", None)]))
    with pytest.raises(Unsound, match="how sure"):
        actions.answer_question(question, **given(version, sureness=" "))
    withdraw_version(version, ground="faulty", reason="wrong pool", by=make_person(Role.STEWARD))
    with pytest.raises(Unsound, match="No longer held"):
        actions.answer_question(question, **given(version))
    assert Question.objects.get(pk=question.pk).state == "taken_on"


def test_the_curator_answers_from_data_held_with_a_reason(version: Version) -> None:
    question, curator = make_question(), make_person(Role.CURATOR)
    words = {"summary": SUMMARY, "sureness": SURENESS, "by": curator}
    with pytest.raises(Unsound, match="No evidence"):
        actions.answer_from_held(question, reason="held", evidence=[], **words)
    with pytest.raises(Unsound, match="No reason"):
        actions.answer_from_held(question, reason=" ", evidence=[version], **words)
    with pytest.raises(NotPermitted):
        actions.answer_from_held(
            question, reason="held", evidence=[version], **{**words, "by": make_person(Role.KEEPER)}
        )
    actions.answer_from_held(question, reason="The ray scans tell.", evidence=[version], **words)
    question.refresh_from_db()
    assert (question.state, question.triage_reason) == ("answered", "The ray scans tell.")
    with pytest.raises(NotPermitted, match="You wrote it"):
        actions.acknowledge_answer(question, by=curator)
    actions.acknowledge_answer(question, by=question.asker)


def test_only_the_keepers_side_closes_a_question(version: Version) -> None:
    question = make_answered(version=version)
    lead = lead_of(version.dataset.project)
    assert "acknowledge" not in can(question, lead)
    with pytest.raises(NotPermitted):
        actions.acknowledge_answer(question, by=lead)
    with pytest.raises(NotPermitted):
        actions.acknowledge_answer(question, by=make_person(Role.STUDENT))
    actions.acknowledge_answer(question, by=make_person(Role.KEEPER))
    question.refresh_from_db()
    assert question.state == "acknowledged"
    with pytest.raises(Conflict):
        actions.query_answer(question, reason="too late", by=question.asker)


def test_a_queried_question_is_taken_on_again_and_gets_another_answer(version: Version) -> None:
    question = make_answered(version=version)
    with pytest.raises(Unsound, match="No reason"):
        actions.query_answer(question, reason=" ", by=question.asker)
    actions.query_answer(question, reason="And at night?", by=question.asker)
    question.refresh_from_db()
    assert question.state == "taken_on"
    first = newest(question)
    actions.answer_question(question, **given(version, summary="At night nothing changes."))
    question.refresh_from_db()
    assert newest(question) != first
    assert question.answers.count() == 2


def test_what_was_suggested_is_said_to_be_done_once_or_why_it_was_not(version: Version) -> None:
    question = make_answered(
        version=version, husbandry=[("Close it", None), ("Feed", timezone.localdate())]
    )
    first, second = newest(question).actions.all()
    keeper = make_person(Role.KEEPER)
    with pytest.raises(NotPermitted):
        actions.say_done(first, is_done=True, by=lead_of(version.dataset.project))
    with pytest.raises(Unsound, match="nothing says why"):
        actions.say_done(second, is_done=False, by=keeper)
    actions.say_done(second, is_done=False, outcome="No keeper at noon.", by=keeper)
    actions.say_done(second, is_done=True, outcome="From May on.", by=keeper)
    actions.say_done(first, is_done=True, by=keeper)
    with pytest.raises(Conflict, match="done already"):
        actions.say_done(first, is_done=False, outcome="no", by=keeper)
    second.refresh_from_db()
    assert (second.is_done, second.outcome, second.said_by) == (True, "From May on.", keeper)


def reporting(version: Version) -> Project:
    project = version.dataset.project
    finish_project(project, by=lead_of(project))
    return fresh_project(project)


@pytest.mark.postgres
def test_a_project_is_closed_only_when_nothing_is_missing() -> None:
    world = make_collecting()
    version = make_version(project=world.project)
    question, _ = make_question_in_study(version)
    enrolled = make_enrolled(world, 1)[0]
    project, lead = reporting(version), world.lead
    found = BreachFound("not-enrolled", "R-09 was in no enrolment.")
    breaches = open_breaches(project, found=[found], deposit_number=7, by=the_clock())
    breaches += list(
        Breach.objects.filter(project=project, state="opened").exclude(pk=breaches[0].pk)
    )
    with pytest.raises(Conflict) as refused:
        actions.close_project(project, text="Went well.", learned="A net.", by=lead)
    assert f"Not answered yet: “{question.title}”" in refused.value.why
    assert f"neither withdrawn nor discharged: {enrolled.subject}" in refused.value.why
    assert "Not explained yet: " in refused.value.why
    assert "no version" not in refused.value.why
    actions.answer_question(question, **given(version))
    with pytest.raises(Conflict) as refused:
        actions.close_project(project, text="Went well.", learned="A net.", by=lead)
    assert "Not answered yet" not in refused.value.why
    discharge_animal(enrolled, left_on=timezone.localdate(), actual_severity=0, by=lead)
    with pytest.raises(Conflict, match=r"^The project was not closed\. Not explained yet: breach"):
        actions.close_project(project, text="Went well.", learned="A net.", by=lead)
    for breach in breaches:
        explain_breach(breach, explanation="Read off the wrong pool.", by=lead)
    with pytest.raises(Unsound, match="does not say how it went"):
        actions.close_project(project, text=" ", learned="A net.", by=lead)
    with pytest.raises(Unsound, match="does not say what was learned"):
        actions.close_project(project, text="Went well.", learned=" ", by=lead)
    with pytest.raises(NotPermitted):
        actions.close_project(project, text="t", learned="A net.", by=make_person(Role.CURATOR))
    actions.close_project(
        project, text="Went well.", deviations="One day lost.", learned="A softer net.", by=lead
    )
    project.refresh_from_db()
    assert project.state == "closed"
    assert project.close_report.deviations == "One day lost."
    assert project.close_report.account["enrolled_animals"] == 1
    assert project.close_report.account["breaches"] == len(breaches)


def test_a_project_without_a_held_version_is_not_closed(version: Version) -> None:
    make_acknowledged(version=version)
    withdraw_version(version, ground="faulty", reason="wrong pool", by=make_person(Role.STEWARD))
    project = reporting(version)
    with pytest.raises(Conflict, match="no version that is held"):
        actions.close_project(project, text="t", learned="A net.", by=lead_of(project))


def test_a_project_that_still_collects_is_not_closed(version: Version) -> None:
    project = version.dataset.project
    with pytest.raises(Conflict, match="It is collecting now"):
        actions.close_project(project, text="t", learned="A net.", by=lead_of(project))
