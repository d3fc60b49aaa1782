"""Who sees the figure of an answer whose data are restricted, before and after its release."""

from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client

from archive.acceptance import erase
from archive.actions import withdraw_version
from archive.models import Version
from registry.answers import actions, paper
from registry.answers.shown import figure_for
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.people.models import Person
from registry.permissions import Role, Verb
from tests.worlds.answers import SUMMARY, SURENESS, make_question_in_study, newest
from tests.worlds.archive import make_analysis, make_version
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of, student_of

pytestmark = pytest.mark.django_db


def test_a_figure_of_closed_data_is_shown_to_their_readers_until_it_is_released(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    version = make_version(access="restricted", terms={"restricted_because": "A partner’s."})
    question, _ = make_question_in_study(version)
    project = version.dataset.project
    lead, steward = lead_of(project), make_person(Role.STEWARD)
    given: dict[str, Any] = {
        "study": project.study, "summary": SUMMARY, "sureness": SURENESS, "evidence": [version],
    }  # fmt: skip
    none = actions.Told(is_figure_released=True)
    with pytest.raises(Unsound, match="no figure to show"):
        actions.answer_question(question, **given, told=none, by=lead)
    told = actions.Told(analysis=make_analysis(version))
    actions.answer_question(question, **given, told=told, by=lead)
    answer = newest(question)
    readers = [lead, student_of(project), steward,
               make_person(Role.CURATOR), make_person(Role.AUDITOR)]  # fmt: skip
    others = [make_person(role) for role in (Role.KEEPER, Role.VET, Role.STUDENT, Role.SUPERVISOR)]
    printed: list[dict[str, Any]] = []

    def kept(_template: Any, facts: dict[str, Any], **more: Any) -> HttpResponse:
        printed.append({**facts, **more})
        return HttpResponse()

    monkeypatch.setattr(paper, "pdf_answer", kept)

    def is_seen(person: Person) -> bool:
        """Say whether it is shown to a person; page and paper are looked at of two."""
        found = figure_for(answer, person)
        assert found.is_kept is (found.figure is None)
        if person in {readers[1], others[0]}:
            assert is_printed(person) is (found.figure is not None)
        return found.figure is not None

    def is_printed(person: Person) -> bool:
        """Say whether the page shows the figure; the paper shows it likewise."""
        browser = Client()
        browser.force_login(person)
        page = browser.get(answer.get_absolute_url()).content.decode()
        browser.get(f"{answer.get_absolute_url()}answer.pdf")
        found = "Share of visible points" in page
        assert bool(printed[-1]["pictures"]) is bool(printed[-1]["figure"]) is found
        assert ("data that are not open" in page) is (not found)
        assert bool(printed[-1]["kept"]) is (not found)
        return found

    assert all(map(is_seen, readers))
    assert not any(map(is_seen, others))
    # Who may not answer for the data releases nothing; whoever does is on record with it.
    for person in (others[0], student_of(project), readers[3]):
        with pytest.raises(NotPermitted):
            actions.release_figure(answer, by=person)
    browser = Client()
    browser.force_login(steward)
    assert "Show it to everyone" in browser.get(answer.get_absolute_url()).content.decode()
    browser.post(f"{answer.get_absolute_url()}release_figure/")
    answer.refresh_from_db()
    assert answer.figure_released_by == steward
    assert Entry.objects.get(verb=Verb.ANSWER_RELEASE_FIGURE).actor == steward
    assert all(map(is_seen, [*readers, *others]))
    with pytest.raises(Conflict, match="already"):
        actions.release_figure(answer, by=lead)
    with pytest.raises(Unsound, match="No reason"):
        actions.withhold_figure(answer, reason=" ", by=lead)
    actions.withhold_figure(answer, reason="The partner asked for it.", by=lead)
    answer.refresh_from_db()
    assert not any(map(is_seen, others))
    with pytest.raises(Conflict, match="not released"):
        actions.withhold_figure(answer, reason="Again.", by=lead)
    # With the answer itself the lead supervisor releases it by a tick.
    told = actions.Told(analysis=told.analysis, is_figure_released=True)
    actions.renew_answer(question, **given, told=told, by=lead)
    renewed = newest(question)
    assert (renewed.figure_released_by, renewed.pk) == (lead, answer.pk + 1)
    assert figure_for(renewed, others[0]).figure is not None
    assert figure_for(answer, others[0]).is_kept


def test_a_figure_of_open_data_stays_though_a_better_version_took_their_place() -> None:
    version = make_version()
    question, _ = make_question_in_study(version)
    project = version.dataset.project
    actions.answer_question(
        question, study=project.study, summary=SUMMARY, sureness=SURENESS, evidence=[version],
        told=actions.Told(analysis=make_analysis(version)), by=lead_of(project),
    )  # fmt: skip
    keeper, steward = make_person(Role.KEEPER), make_person(Role.STEWARD)
    assert not figure_for(newest(question), keeper).is_of_closed
    withdraw_version(version, ground="faulty", reason="A scale was off.", by=steward)
    assert figure_for(newest(question), keeper).figure is not None
    browser = Client()
    browser.force_login(keeper)
    page = browser.get(newest(question).get_absolute_url()).content.decode()
    assert "was withdrawn since" in page
    for who in (steward, make_person(Role.ADMINISTRATOR)):
        erase(Version.objects.get(pk=version.pk), reason="Consent was taken back.", by=who)
    assert figure_for(newest(question), keeper).figure is None
