"""A request is talked over: comments, answered points, items of the lists, the calendar."""

import doctest
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from registry.approvals import actions, calendar
from registry.approvals.brief import compared, waiting_of
from registry.approvals.checklists import ARRIVE, PREPARE, blank_items
from registry.approvals.models import Approval
from registry.approvals.screens import Said
from registry.errors import Conflict, NotPermitted, Unseen, Unsound
from registry.people.actions import plan_meeting
from registry.people.models import Person
from registry.permissions import Part, Role
from registry.projects.actions import assign_member
from registry.projects.models import Project
from tests.worlds.animals import make_animal
from tests.worlds.approvals import make_accepted, make_asked, make_collecting, make_request
from tests.worlds.oversight import make_confirmed_booking
from tests.worlds.people import make_body, make_person
from tests.worlds.projects import lead_of, make_sealed, student_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def page(person: Person, approval: Approval) -> str:
    browser = Client()
    browser.force_login(person)
    return browser.get(approval.get_absolute_url()).content.decode()


def test_the_examples_in_the_docstrings_hold() -> None:
    assert doctest.testmod(calendar).failed == 0


@pytest.mark.postgres
def test_a_request_comes_back_only_when_each_point_is_answered() -> None:
    approval, chair, _ = make_asked()
    lead = lead_of(approval.projects.get())
    with pytest.raises(Unsound):
        actions.return_approval(approval, reason=" ", changes=["Say why."], by=chair)
    actions.return_approval(
        approval, reason="Two things.", changes=["Say who lifts them.", " ", "Fewer."], by=chair
    )
    first, second = approval.changes.all()
    assert "Say who lifts them." in page(lead, approval)
    actions.answer_change(approval, change=first, answer="A keeper does.", by=lead)
    with pytest.raises(Conflict, match="already"):
        actions.answer_change(approval, change=first, answer="I do.", by=lead)
    with pytest.raises(Unsound, match="1 of the points"):
        actions.submit_approval(approval, by=lead)
    with pytest.raises(Unsound, match="nothing in it"):
        actions.answer_change(approval, change=second, answer=" ", by=lead)
    with pytest.raises(NotPermitted):
        actions.answer_change(approval, change=second, answer="Eight.", by=chair)
    actions.answer_change(approval, change=second, answer="Eight will do.", by=lead)
    assert actions.submit_approval(approval, by=lead).state == "submitted"
    shown = page(chair, approval)
    assert "Eight will do." in shown
    assert "answer_change" not in shown


def test_points_that_were_typed_on_the_page_go_with_the_decision_and_stay_after_a_refusal() -> None:
    approval, chair, _ = make_asked()
    browser = Client()
    browser.force_login(chair)
    address = f"{approval.get_absolute_url()}decide/"
    sent = {"outcome": "return", "reason": "", "change_1": "Say who lifts them."}
    refused = browser.post(address, sent)
    assert refused.status_code == 422
    assert "Say who lifts them." in refused.content.decode()
    assert browser.post(address, {**sent, "reason": "One thing."}).status_code == 302
    assert [one.text for one in approval.changes.all()] == ["Say who lifts them."]


def test_whoever_may_read_a_request_may_say_something_of_it() -> None:
    approval, chair, member = make_asked()
    project = approval.projects.get()
    for person in (make_person(Role.VET), make_person(Role.KEEPER), chair, lead_of(project)):
        actions.comment_on(approval, text=f"Seen by {person.name}.", by=person)
        assert f"Seen by {person.name}." in page(member, approval)
    with pytest.raises(Unseen):
        actions.comment_on(approval, text="Me too.", by=make_person(Role.STUDENT))
    with pytest.raises(Unsound, match="nothing in it"):
        actions.comment_on(approval, text=" ", by=chair)
    actions.refuse_approval(approval, reason="No.", deciders=[member], by=chair)
    with pytest.raises(Conflict):
        actions.comment_on(approval, text="Too late.", by=chair)


def test_the_lists_are_as_long_as_they_were_published() -> None:
    """ARRIVE 2.0: an Essential 10; PREPARE: 15 topics (4, 4 and 7)."""
    assert [one.code for one in ARRIVE] == [f"ARRIVE {n}" for n in range(1, 11)]
    assert [one.code for one in PREPARE] == [f"PREPARE {n}" for n in range(1, 16)]


def test_an_item_that_the_plan_leaves_blank_is_written_to_in_the_request() -> None:
    project = make_accepted()
    lead = lead_of(project)
    request = make_request(project, make_body()[0])
    blank = [one.code for one in blank_items(request, [project])]
    assert "PREPARE 1" in blank
    assert not {"ARRIVE 1", "ARRIVE 2", "ARRIVE 10"} & set(blank)
    actions.write_item(request, code="PREPARE 1", text="Two data bases, May.", by=lead)
    actions.write_item(request, code="PREPARE 1", text="Three data bases, May.", by=lead)
    left = [one.code for one in blank_items(request, [project])]
    assert left == [code for code in blank if code != "PREPARE 1"]
    shown = page(lead, request)
    assert "Three data bases, May." in shown
    assert "Two data bases, May." not in shown
    for code in ("ARRIVE 10", "ARRIVE 99"):
        with pytest.raises(Unsound, match="no item"):
            actions.write_item(request, code=code, text="Later.", by=lead)
    with pytest.raises(Unsound, match="nothing in it"):
        actions.write_item(request, code="PREPARE 15", text=" ", by=lead)


def test_an_amendment_is_laid_beside_what_it_changes_and_nothing_else_is_shown() -> None:
    world = make_collecting()
    amendment = actions.amend_approval(
        world.approval, ends_on=world.approval.ends_on + DAY, by=world.lead
    )
    changed = {one.what for one in compared(amendment)}
    assert changed == {"Last day"}
    line = {"taxon": world.taxon, "procedure": world.procedure, "by": world.lead}
    actions.drop_limit(amendment, limit=amendment.limits.get(), by=world.lead)
    actions.add_limit(amendment, **line, max_animals=20)
    found = {one.what: one for one in compared(amendment)}
    name = f"{world.taxon}, {world.procedure}"
    assert found[name].now.startswith("12 animals")
    assert found[name].asked.startswith("20 animals")
    assert "As it is asked for" in page(world.chair, amendment)
    assert compared(world.approval) == []


def meets(approval: Approval, days: int, papers_d: int = 0) -> Any:
    held_on = timezone.localdate() + days * DAY
    chair = approval.body.seats.get(is_chair=True).person
    return plan_meeting(
        approval.body, held_on=held_on, papers_by=held_on - papers_d * DAY, by=chair
    )


def test_a_student_whose_course_ends_before_the_next_meeting_is_warned() -> None:
    approval, chair, _ = make_asked()
    project = approval.projects.get()
    student = make_person(Role.STUDENT)
    course_ends_on = timezone.localdate() + 40 * DAY
    assign_member(
        project,
        person=student,
        part=Part.STUDENT,
        course_ends_on=course_ends_on,
        by=lead_of(project),
    )

    def waiting() -> Any:
        return waiting_of(Approval.objects.get(pk=approval.pk))

    assert waiting().meeting is None
    meets(approval, 60)
    assert waiting().too_late_for == [(str(student), course_ends_on)]
    assert "before this body can decide" in page(student, approval)
    browser = Client()
    browser.force_login(student)
    assert (
        "before this body can decide"
        in browser.get("/studies/approvals/calendar/").content.decode()
    )
    # One whose papers are due before today comes too early for what is submitted today.
    meets(approval, 10, papers_d=11)
    assert waiting().too_late_for
    meets(approval, 20, papers_d=5)
    assert not waiting().too_late_for
    actions.refuse_approval(approval, reason="No.", deciders=[make_seated(approval)], by=chair)
    assert waiting() is None


def make_seated(approval: Approval) -> Person:
    """Give the member of the body who is not its chair."""
    found: Person = approval.body.seats.get(is_chair=False).person
    return found


def test_the_calendar_shows_nobody_a_request_that_is_not_for_them() -> None:
    approval, *_ = make_asked()
    meets(approval, 20)
    browser = Client()
    browser.force_login(make_person(Role.STUDENT))
    shown = browser.get("/studies/approvals/calendar/").content.decode()
    assert approval.body.name in shown
    assert approval.title not in shown
    browser.force_login(student_of(approval.projects.get()))
    assert approval.title in browser.get("/studies/approvals/calendar/").content.decode()


def test_the_api_tells_in_brief_what_a_decider_needs() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    young = make_animal(taxon=world.taxon, enclosure=world.place, life_stage="hatchling")
    make_confirmed_booking(world, animals=[young])
    actions.screen_procedure(
        world.project,
        procedure=world.procedure,
        taxon=world.taxon,
        life_stage="hatchling",
        told=Said("uk", "scientific", "none"),
        answer="not regulated",
        by=vet,
    )
    api = APIClient()
    api.force_authenticate(vet)
    found = api.get(f"/api/v1/approvals/{world.approval.pk}/brief/").json()
    assert [one["names"] for one in found["animals"]] == [str(young)]
    assert found["animals"][0]["is_throughout"]
    assert not found["animals"][0]["is_certain"]
    assert found["screenings"][0]["screening"]["answer"] == "not regulated"
    assert found["screenings"][0]["changed"] == []
    assert "PREPARE 1: Literature searches" in found["blank"]
    assert found["waiting"] is None
    api.force_authenticate(make_person(Role.STUDENT))
    assert api.get(f"/api/v1/approvals/{world.approval.pk}/brief/").status_code == 404


def test_a_request_on_a_stale_screening_is_not_submitted_until_it_is_screened_again() -> None:
    project = make_accepted()
    lead, vet = lead_of(project), make_person(Role.VET)
    request = make_request(project, make_body()[0])
    arm, procedure = project.plan.arms.get(), project.plan.procedures.get()
    actions.add_limit(
        request, taxon=arm.taxon, procedure=procedure, max_animals=arm.animals, by=lead
    )

    def screen() -> None:
        actions.screen_procedure(
            project,
            procedure=procedure,
            taxon=arm.taxon,
            life_stage="adult",
            told=Said("uk", "scientific", "none"),
            answer="not regulated",
            by=vet,
        )

    screen()
    # Straight into the row: whatever deed changes the days of a project, the screening is stale.
    Project.objects.filter(pk=project.pk).update(ends_on=project.ends_on + DAY)
    with pytest.raises(Unsound, match="the days of the project"):
        actions.submit_approval(request, by=lead)
    assert "Changed since" in page(lead, request)
    screen()
    assert actions.submit_approval(request, by=lead).state == "submitted"


def test_the_replication_that_stands_in_the_plan_is_on_the_request() -> None:
    project = make_sealed().plan.project
    request = make_request(project, make_body()[0])
    shown = page(lead_of(project), request)
    part = project.plan.design_parts.get(part="size")
    assert part.said[:40] in shown
    assert "ARRIVE 4" not in {one.code for one in blank_items(request, [project])}
