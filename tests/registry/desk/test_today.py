"""What needs whom: each role sees its own, and nobody sees what is another's."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from registry.answers.actions import query_answer
from registry.approvals.actions import give_evidence
from registry.desk.needs import SOURCES, Need, needs_of
from registry.oversight.actions import (
    answer_point,
    explain_breach,
    open_audit,
    raise_concern,
    take_up_concern,
    write_point,
)
from registry.people.models import Person
from registry.permissions import Part, Role
from registry.projects.actions import (
    assign_member,
    finish_project,
    halt_project,
    lift_halt,
    open_study,
    return_plan,
)
from registry.questions.actions import like_question
from tests.worlds.animals import make_animal, make_restriction
from tests.worlds.answers import make_answered, make_question_in_study, newest
from tests.worlds.approvals import make_accepted, make_asked, make_collecting, state_needs
from tests.worlds.archive import make_checked, make_opened, make_version
from tests.worlds.oversight import (
    make_breach,
    make_offered_booking,
    make_planned_session,
    make_requested_booking,
    make_use,
)
from tests.worlds.people import fresh, make_body, make_person
from tests.worlds.projects import (
    lead_of,
    make_plan_accepted,
    make_project,
    make_submitted,
    student_of,
)
from tests.worlds.questions import make_question, make_taken_on

pytestmark = pytest.mark.django_db
TODAY: Callable[[], date] = timezone.localdate


@pytest.fixture(autouse=True)
def _addresses() -> None:
    """Read the addresses, as the site does before its first page: they say where deeds are."""
    reverse("today")


def of(person: Person) -> list[Need]:
    """Give what needs a person; whom a source is not asked for, it would tell nothing."""
    found = needs_of(fresh(person), timezone.localdate())
    all_told = [source(fresh(person), timezone.localdate()) for source in SOURCES]
    assert sorted(one.url for told in all_told for one in told) == sorted(one.url for one in found)
    return found


def said(person: Person) -> list[str]:
    return [need.what for need in of(person)]


def one(person: Person, words: str) -> Need:
    found = [need for need in of(person) if words in need.what]
    assert len(found) == 1, (words, said(person))
    return found[0]


def none(person: Person, words: str) -> None:
    assert not [what for what in said(person) if words in what]


def test_a_curator_has_the_oldest_question_first_due_after_ten_days() -> None:
    curator = make_person(Role.CURATOR)
    with time_machine.travel(timezone.now() - timedelta(days=12), tick=False):
        old = make_question(title="An old one?")
    new = make_question(title="A new one?")
    first, second = of(curator)
    assert old.title in first.what
    assert first.due == TODAY() - timedelta(days=2)
    assert new.title in second.what
    assert second.due == TODAY() + timedelta(days=10)
    assert second.url == new.get_absolute_url()
    none(make_person(Role.KEEPER), "sorted")


def test_what_is_overdue_comes_before_what_waits_and_that_before_what_is_to_come() -> None:
    today = TODAY()
    given = {"what": "", "why": "", "step": "", "url": ""}
    needs = [
        Need(**given, due=today + timedelta(days=1)),
        Need(**given, since=today - timedelta(days=3)),
        Need(**given, since=today - timedelta(days=9)),
        Need(**given, due=today),
        Need(**given, due=today - timedelta(days=1)),
    ]
    in_order = sorted(needs, key=lambda need: need.order(today))
    assert in_order == [needs[4], needs[3], needs[2], needs[1], needs[0]]


def test_a_booking_waits_for_the_curator_until_it_is_confirmed() -> None:
    world = make_collecting()
    booking = make_requested_booking(world)
    need = one(world.curator, "asks for animals")
    assert need.url == f"/oversight/bookings/{booking.pk}/offer/"
    none(world.lead, "asks for animals")
    offered = make_offered_booking(world)
    assert one(world.curator, "Offered").url == f"/oversight/bookings/{offered.pk}/confirm/"


def test_a_condition_due_within_thirty_days_is_told_to_the_curator_and_its_lead() -> None:
    today = TODAY()
    near, far = today + timedelta(days=30), today + timedelta(days=31)
    world = make_collecting(conditions=[("Flow log", near), ("Year report", far)])
    assert one(world.curator, "Flow log").step == "See the approval"
    give = one(world.lead, "Flow log")
    assert (give.step, give.due) == ("Give the evidence", near)
    none(world.lead, "Year report")
    none(world.student, "Flow log")
    condition = world.approval.conditions.get(text="Flow log")
    give_evidence(world.approval, condition=condition, evidence="kept", by=world.lead)
    none(world.lead, "Flow log")
    none(world.curator, "Flow log")


def test_a_restriction_that_should_be_over_goes_to_those_who_may_end_it() -> None:
    today = TODAY()
    curator, vet, keeper = (make_person(r) for r in (Role.CURATOR, Role.VET, Role.KEEPER))
    morwen, skerry, tansy = (make_animal(name=n) for n in ("Morwen", "Skerry", "Tansy"))
    begun = today - timedelta(days=3)
    make_restriction(morwen, by=keeper, began_on=begun, expected_end_on=today)
    make_restriction(skerry, strength="vets_word", began_on=begun)
    make_restriction(tansy, began_on=begun, expected_end_on=today + timedelta(days=1))
    assert one(curator, "Morwen").due == today
    none(curator, "Skerry")
    none(curator, "Tansy")
    assert "only a veterinary surgeon" in one(vet, "Skerry").what
    assert one(vet, "Morwen").url.endswith("/end/")
    assert "you began this" in one(keeper, "Morwen").what
    none(keeper, "Skerry")


def test_a_plan_goes_to_its_writers_then_to_a_reviewer_who_is_no_member_and_back() -> None:
    drafted = make_project()
    assert one(student_of(drafted), "Write the plan").url.endswith("/write_plan/")
    one(lead_of(drafted), "Write the plan")
    project = make_submitted()
    reviewer = make_person(Role.SUPERVISOR)
    one(reviewer, "design review")
    none(lead_of(project), "design review")
    return_plan(project, reason="The unit is the tank.", by=reviewer)
    back = one(lead_of(project), "came back")
    assert "The unit is the tank." in back.why
    none(reviewer, "design review")


def test_a_student_signs_the_agreement_once() -> None:
    world = make_collecting()
    none(world.student, "data agreement")
    project = make_plan_accepted()
    assert one(student_of(project), "data agreement").url.endswith("/sign_agreement/")
    none(lead_of(project), "data agreement")


def test_a_needed_approval_that_nobody_asked_for_goes_to_the_lead() -> None:
    project = make_accepted()
    lead = lead_of(project)
    none(lead, "Not asked for yet")
    state_needs(project, "research-committee", by=lead)
    need = one(lead, "Not asked for yet")
    assert "/request_approval/?permission=" in need.url
    none(student_of(project), "Not asked for yet")
    make_asked(project)
    none(lead, "Not asked for yet")


def test_a_request_goes_to_the_bodys_members_and_its_chair_decides_never_on_their_own() -> None:
    approval, chair, member = make_asked()
    decide = one(chair, approval.title)
    assert (decide.step, decide.url) == ("Decide", f"/studies/approvals/{approval.pk}/decide/")
    assert one(member, approval.title).step == "Read the request"
    none(make_body()[1], approval.title)
    project = approval.projects.get()
    assign_member(project, person=chair, part=Part.OBSERVER, by=lead_of(project))
    none(chair, approval.title)
    one(member, approval.title)


def test_an_approval_that_runs_out_is_told_to_its_lead() -> None:
    world = make_collecting(ends_on=TODAY() + timedelta(days=20))
    assert one(world.lead, "runs out").due == world.approval.ends_on
    none(make_collecting().lead, "runs out")


def test_a_breach_goes_to_the_lead_then_to_the_auditor_and_the_chair() -> None:
    world, auditor = make_collecting(), make_person(Role.AUDITOR)
    breach = make_breach(world)
    assert one(world.lead, "Explain breach").url == f"/oversight/breaches/{breach.pk}/explain/"
    one(auditor, "not explained yet")
    none(world.student, "breach")
    explain_breach(breach, explanation="The wrong pool.", by=world.lead)
    none(world.lead, "breach")
    for person in (auditor, *([world.chair] if breach.approval_id else [])):
        assert "The wrong pool." in one(person, "was explained").why


def test_a_session_of_today_goes_to_who_observes_and_a_late_one_to_all_who_may_enter_it() -> None:
    world = make_collecting()
    start = timezone.localtime().replace(hour=12, minute=0, second=0, microsecond=0)
    session = make_planned_session(world, start=start)
    with time_machine.travel(start - timedelta(hours=3), tick=False):
        need = one(world.student, session.code)
        assert (need.due, need.url) == (TODAY(), f"/sessions/#session-{session.pk}")
        assert need.step == "Get ready for it"
        none(world.lead, session.code)
    with time_machine.travel(start + timedelta(hours=3), tick=False):
        assert one(world.student, session.code).step == "Enter the session"
    with time_machine.travel(start + timedelta(days=1), tick=False):
        for person in (world.student, world.lead):
            assert "What became of" in one(person, session.code).what
        none(world.curator, session.code)


def test_a_halt_waits_for_vet_and_chair_until_each_has_agreed() -> None:
    world, vet, keeper = make_collecting(), make_person(Role.VET), make_person(Role.KEEPER)
    halt_project(world.project, reason="Two do not feed.", by=keeper)
    one(world.chair, "Halted for welfare")
    assert "Two do not feed." in one(vet, "Halted for welfare").why
    one(world.lead, "go on or stop")
    none(keeper, "Halted")
    lift_halt(world.project, reason="They feed again.", by=vet)
    none(vet, "Halted")
    one(world.chair, "Halted for welfare")


def test_a_concern_goes_to_those_who_handle_it_and_never_to_whom_it_names() -> None:
    vet, named = make_person(Role.VET), make_person(Role.VET)
    concern, _ = raise_concern(text="A ray is thin.", named=named, by=make_person(Role.KEEPER))
    need = one(vet, "Concern")
    assert "thin" not in need.what + need.why
    none(named, "Concern")
    none(make_person(Role.AUDITOR), "Concern")
    take_up_concern(concern, by=vet)
    one(vet, "under review")


def test_more_severe_than_planned_is_told_to_the_vet() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    make_use(world)
    none(vet, "severe")
    make_use(world, severity=2)
    assert "1 use" in one(vet, "More severe than planned").why
    none(world.curator, "severe")


@pytest.mark.postgres
def test_late_entries_are_counted_for_the_auditor() -> None:
    world, auditor = make_collecting(days_ago=20), make_person(Role.AUDITOR)
    make_use(world)
    none(auditor, "late")
    with time_machine.travel(timezone.now() - timedelta(days=15), tick=False):
        use = make_use(world)
    make_use(world, enrolment=use.enrolment, happened_at=timezone.now() - timedelta(days=12))
    one(auditor, "1 use was entered late")


def test_an_audit_point_goes_to_its_addressee_and_back_to_the_auditor() -> None:
    auditor, lead = make_person(Role.AUDITOR), make_person(Role.SUPERVISOR)
    audit = open_audit(title="Spring", scope="Rays", by=auditor)
    point = write_point(
        audit, text="Where are the sheets?", addressee=lead, breach=None, by=auditor
    )
    one(lead, "put to you")
    none(auditor, "answered an audit point")
    answer_point(point, answer="In the box.", by=lead)
    none(lead, "put to you")
    one(auditor, "answered an audit point")


def test_a_deposit_goes_to_its_maker_and_then_to_others_who_accept_it() -> None:
    steward = make_person(Role.STEWARD)
    opened = make_opened()
    one(opened.maker, "A deposit is open")
    faulty = make_checked({"scans.csv": b"scan,ray,seen_on,posture,depth\n1,R-01,soon,REST,1\n"})
    assert one(faulty.maker, "put right").url == faulty.get_absolute_url()
    none(steward, "waits to be accepted")
    sound = make_checked()
    lead = lead_of(sound.dataset.project)
    one(steward, "waits to be accepted")
    assert one(lead, "waits to be accepted").url.endswith("/accept/")
    none(sound.maker, "waits to be accepted")


@pytest.mark.postgres
def test_an_answer_is_asked_of_the_lead_and_then_of_the_asker() -> None:
    question, version = make_question_in_study()
    lead = lead_of(version.dataset.project)
    assert one(lead, "wait for an answer").url == f"/questions/{question.pk}/answer/"
    none(make_person(Role.SUPERVISOR), "wait for an answer")
    answered = make_answered(version=version, husbandry=[("Close the near side", TODAY())])
    asker, other = answered.asker, make_person(Role.KEEPER)
    assert one(asker, "Answered").url == newest(answered).get_absolute_url()
    none(other, "Answered")
    action = one(other, "Close the near side")
    assert action.due == TODAY()
    assert "/do_action/?action=" in action.url
    with time_machine.travel(timezone.now() + timedelta(days=15), tick=False):
        one(other, "Answered")
    query_answer(answered, reason="And at night?", by=asker)
    none(other, "Close the near side")


def test_a_question_taken_on_waits_for_a_study_and_leads_to_one_with_itself_chosen(
    client: Client,
) -> None:
    question, supervisor = make_taken_on(), make_person(Role.SUPERVISOR)
    assert "No study has this question yet" in one(supervisor, question.title).what
    for _ in range(2):
        like_question(question, note="", by=make_person(Role.STUDENT))
    need = one(supervisor, "2 students would like")
    assert need.url == f"/studies/open/?questions={question.pk}"
    none(make_person(Role.STUDENT), question.title)
    client.force_login(supervisor)
    form = client.get(need.url).content.decode()
    assert re.search(rf'name="questions" value="{question.pk}"[^>]* checked', form)
    page = client.get(question.get_absolute_url()).content.decode()
    assert need.url in page
    study = open_study(
        title="Rays by day", aim="To know.", taxon=None, questions=[question], by=supervisor
    )
    assert one(supervisor, "2 students would like").url == study.get_absolute_url()
    assert need.url not in client.get(question.get_absolute_url()).content.decode()
    client.force_login(make_person(Role.KEEPER))
    assert need.url not in client.get(question.get_absolute_url()).content.decode()


def test_people_without_standing_are_told_to_the_administrator() -> None:
    administrator = make_person(Role.ADMINISTRATOR)
    idle = make_person(name="Wenna Trevose")
    assert one(administrator, "Wenna Trevose").url == f"/people/{idle.pk}/give_standing/"
    none(make_person(Role.CURATOR), "Wenna Trevose")
    none(administrator, "The clock")


def test_a_project_of_which_nothing_is_missing_is_to_be_closed() -> None:
    version = make_version()
    project: Any = version.dataset.project
    lead = lead_of(project)
    for breach in project.breaches.filter(state="opened"):
        explain_breach(breach, explanation="Enrolled a day late.", by=lead)
    none(lead, "close report")
    finish_project(project, by=lead)
    assert one(lead, "close report").url == f"/questions/projects/{project.pk}/close/"
