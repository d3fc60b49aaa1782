"""The answer with its figure, what follows from it, what came out, and the year's report."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from registry.answers import actions
from registry.answers.yearly import long_rows, report, years
from registry.errors import Conflict, NotPermitted, Unsound
from registry.people.models import Person
from registry.permissions import Role
from registry.questions.models import Question
from tests.worlds.answers import (
    SUMMARY,
    SURENESS,
    make_acknowledged,
    make_output,
    newest,
)
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import make_analysis, make_version
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of

pytestmark = pytest.mark.django_db


def browser_of(person: Person) -> Client:
    browser = Client()
    browser.force_login(person)
    return browser


def test_a_later_cohorts_answer_stands_before_the_first_with_its_figure_and_on_paper() -> None:
    version = make_version()
    lead = lead_of(version.dataset.project)
    question = make_acknowledged(version=version)
    first = newest(question)
    analysis = make_analysis(version)
    given = {
        "study": version.dataset.project.study,
        "summary": f"{SUMMARY} A second cohort found the same.",
        "sureness": SURENESS,
        "evidence": [version],
    }
    other = make_analysis(make_version())
    with pytest.raises(Unsound, match="no analysis of the evidence"):
        actions.renew_answer(question, **given, told=actions.Told(analysis=other), by=lead)
    told = actions.Told("Twelve rays, forty days.", "Whether it holds at night.", analysis)
    renewed = actions.renew_answer(question, **given, told=told, by=lead)
    assert (renewed.state, question.answers.count()) == ("answered", 2)
    # Whoever asked acknowledges it again; anyone signed in reads it, the figure with it.
    keeper = make_person(Role.KEEPER)
    browser = browser_of(keeper)
    page = browser.get(newest(question).get_absolute_url()).content.decode()
    for said in ("Twelve rays", "at night", "<svg", "Share of visible points", "Other answers"):
        assert said in page
    assert "A later answer took the place" in browser.get(first.get_absolute_url()).content.decode()
    paper = browser.get(f"/questions/answers/{newest(question).pk}/answer.pdf")
    assert paper.content.startswith(b"%PDF")
    closed = actions.acknowledge_answer(Question.objects.get(pk=question.pk), by=keeper)
    assert closed.state == "acknowledged"


def test_an_action_has_an_owner_and_a_day_and_is_followed_to_the_end() -> None:
    version = make_version()
    question = make_acknowledged(version=version)
    action = newest(question).actions.get()
    curator, keeper = make_person(Role.CURATOR), make_person(Role.KEEPER)
    soon = timezone.localdate() + timedelta(days=9)
    with pytest.raises(NotPermitted):
        actions.give_action(action, owner=keeper, by=keeper)
    with pytest.raises(Unsound, match="does not work with animals"):
        actions.give_action(action, owner=make_person(Role.AUDITOR), by=curator)
    given = actions.give_action(action, owner=keeper, due_on=soon, by=curator)
    assert (given.owner, given.due_on) == (keeper, soon)
    page = browser_of(keeper).get("/").content.decode()
    assert action.text in page
    actions.say_done(given, is_done=True, outcome="They rest more.", by=keeper)
    with pytest.raises(Conflict, match="what became of it"):
        actions.give_action(action, owner=keeper, by=curator)
    # What came out of the project.
    output = make_output(version)
    visitor = Client()
    address = f"/archive/versions/{version.slug}/"
    for path, more in (
        ("package.zip", {}),
        ("data/scans.csv", {}),
        ("data/scans.csv", {"HTTP_RANGE": "bytes=0-9"}),
        ("data/scans.csv", {"HTTP_RANGE": "bytes=10-19"}),
        ("datapackage.json", {}),
    ):
        b"".join(visitor.get(address + path, **more))  # type: ignore[arg-type]  # why: it streams
    visitor.head(f"{address}package.zip")
    assert "3 times, over all its versions" in visitor.get(address).content.decode()
    make_analysis(version)
    later = make_collecting(study=version.dataset.project.study, cohort="2031–32")
    make_version(project=later.project)
    assert output.identifier == "isbn:9780306406157"
    tomorrow = timezone.localdate() + timedelta(days=1)
    for more, said in (
        ({"identifier": "978-0-306-40615-8"}, "check digit"),
        ({"title": " "}, "needs a title"),
        ({"published_on": tomorrow}, "not come out yet"),
    ):
        with pytest.raises(Unsound, match=said):
            make_output(version, **more)
    with pytest.raises(Conflict, match="listed already"):
        make_output(version, title=output.title)
    browser = browser_of(keeper)
    assert output.title in browser.get("/questions/outputs/").content.decode()
    assert version.dataset.title in browser.get(output.get_absolute_url()).content.decode()
    # The report of the year, for staff and for others.
    year = timezone.localdate().year
    assert years()[0] == year
    sections = {one.name: {row[0]: row[1:] for row in one.rows}
                for one in report(year, with_uses=True)}  # fmt: skip
    assert sections["questions"]["acknowledged by the keepers"] == (1,)
    assert sections["data"]["versions accepted"] == (2,)
    # Once whole, and twice a table from its beginning: by anyone, of whom nothing is kept.
    assert sections["data"]["times that a version was taken away, in whole or in part"] == (3,)
    assert sections["reuse"] == {version.dataset.title: (3, 1, 0, 1, 1, 1)}
    assert sections["data"]["outputs that rest on held data"] == (1,)
    assert sections["outputs"]["dissertation"][0] == output.title
    assert any(row[0] == "outputs" for row in long_rows(report(year, with_uses=False)))
    page = browser.get("/questions/report/").content.decode()
    assert "Animals by kind of use" in page
    stranger = browser_of(make_person(Role.STUDENT)).get("/questions/report/").content.decode()
    assert "Animals by kind of use" not in stranger
    assert browser.get("/questions/report/research.pdf").content.startswith(b"%PDF")
    assert b"outputs,dissertation,Title," in browser.get("/questions/report/research.csv").content
    gone = actions.withdraw_output(output, reason="Listed twice.", by=curator)
    assert gone.state == "withdrawn"
    assert output.title not in browser.get("/questions/outputs/").content.decode()
