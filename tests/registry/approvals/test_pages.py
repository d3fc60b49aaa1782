"""The pages and the API of approvals, and a project's page."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from registry.approvals import actions
from registry.approvals.models import Approval
from registry.people.models import Person
from registry.permissions import Part, Role
from registry.projects.actions import assign_member, halt_project, lift_halt
from registry.projects.models import Project
from tests.worlds.animals import make_enclosure, make_taxon
from tests.worlds.approvals import (
    make_accepted,
    make_asked,
    make_collecting,
    make_granted,
    make_kinds,
    make_ready,
    make_request,
    state_needs,
)
from tests.worlds.people import make_body, make_person
from tests.worlds.projects import lead_of, make_plan_accepted, make_procedure, student_of

pytestmark = pytest.mark.django_db


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def api_of(person: Person) -> APIClient:
    api = APIClient()
    api.force_authenticate(person)
    return api


def text_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, answer.content
    return answer.content.decode()


def state_of(approval: Approval) -> str:
    return Approval.objects.get(pk=approval.pk).state


# -------------------------------------------------------------------------------- the decide page


def test_the_chair_sees_all_on_one_page_and_approves_with_conditions() -> None:
    approval, chair, member = make_asked()
    client, address = signed_in(chair), approval.get_absolute_url()
    told = text_of(client, address)
    for said in (
        "onepage",
        "A person stands at the glass.",
        "Quiet hours are set where they help.",
        "a pool on a day",
        "limit 12",
        "The unit is right.",
        "Record the decision",
        "At least 2 take part",
    ):
        assert said in told, said
    typed = {
        "outcome": "approve",
        "reason": "Short, and stops by itself.",
        "deciders": [chair.pk, member.pk],
        "condition_1": "A keeper is present.",
        "due_1": (timezone.localdate() + timedelta(days=9)).isoformat(),
    }
    done = client.post(f"{address}decide/", typed, follow=True)
    assert "A keeper is present." in done.content.decode()
    approval.refresh_from_db()
    assert (approval.state, approval.decision) == ("approved", typed["reason"])
    assert approval.conditions.get().due_on == timezone.localdate() + timedelta(days=9)


def test_what_the_chair_typed_still_stands_after_a_refusal() -> None:
    approval, chair, member = make_asked()
    client, address = signed_in(chair), f"{approval.get_absolute_url()}decide/"
    typed = {"reason": "Six pairs answer it.", "condition_1": "Weigh them first."}
    nothing_chosen = client.post(address, typed)
    assert nothing_chosen.status_code == 422
    assert "None of the three was chosen" in nothing_chosen.content.decode()
    no_quorum = client.post(address, {**typed, "outcome": "approve", "deciders": [chair.pk]})
    assert no_quorum.status_code == 422
    for answer in (nothing_chosen, no_quorum):
        assert "Six pairs answer it." in answer.content.decode()
        assert "Weigh them first." in answer.content.decode()
    stray_day = {**typed, "condition_1": "", "due_1": "2030-01-01", "outcome": "approve"}
    answer = client.post(address, {**stray_day, "deciders": [member.pk]})
    assert "Write the condition that is due on this day." in answer.content.decode()
    assert state_of(approval) == "submitted"


@pytest.mark.parametrize(("outcome", "state"), [("return", "drafted"), ("refuse", "refused")])
def test_the_chair_asks_for_changes_or_refuses(outcome: str, state: str) -> None:
    approval, chair, member = make_asked()
    client, address = signed_in(chair), f"{approval.get_absolute_url()}decide/"
    typed = {"outcome": outcome, "deciders": [member.pk]}
    refused = client.post(address, {**typed, "reason": ""})
    assert refused.status_code == 422
    assert client.post(address, {**typed, "reason": "Fewer."}).status_code == 302
    assert state_of(approval) == state


def test_nobody_but_the_unconcerned_chair_is_shown_the_decision() -> None:
    approval, chair, member = make_asked()
    project = approval.projects.get()
    address = approval.get_absolute_url()
    for person in (member, lead_of(project), make_person(Role.AUDITOR)):
        assert "Record the decision" not in text_of(signed_in(person), address)
        answer = signed_in(person).post(
            f"{address}decide/", {"outcome": "approve", "reason": "r", "deciders": [member.pk]}
        )
        assert answer.status_code == 403
    assign_member(project, person=chair, part=Part.OBSERVER, by=lead_of(project))
    told = text_of(signed_in(chair), address)
    assert "Record the decision" not in told
    assert "will not decide" in told
    assert signed_in(make_person(Role.STUDENT)).get(address).status_code == 404
    assert state_of(approval) == "submitted"


def test_the_decide_page_warns_where_more_is_asked_than_the_plan_says() -> None:
    approval, chair, _ = make_asked()
    assert "beyond the plan" not in text_of(signed_in(chair), approval.get_absolute_url())
    project = make_accepted()
    body, chair, _ = make_body()
    asked = make_request(project, body, places=[make_enclosure("Z1")], max_severity=2)
    lead = lead_of(project)
    for taxon, procedure, animals in (
        (project.study.taxon, make_procedure("netting"), 40),
        (make_taxon("Sepia officinalis", "common cuttlefish", "cephalopod"), make_procedure(), 3),
    ):
        actions.add_limit(asked, taxon=taxon, procedure=procedure, max_animals=animals, by=lead)
    actions.submit_approval(asked, by=lead)
    told = text_of(signed_in(chair), asked.get_absolute_url())
    for said in (
        "the plans say 12",
        "“netting” is in no plan",
        "common cuttlefish is in no plan",
        "Tank Z1 is in no plan",
        "Severity moderate is asked for",
        "knotless net",
    ):
        assert said in told, said


def test_a_suspended_approval_says_that_care_goes_on() -> None:
    approval, chair, _ = make_granted()
    address = approval.get_absolute_url()
    client = signed_in(chair)
    assert client.post(f"{address}suspend/", {"reason": "A ray was hurt."}).status_code == 302
    assert "care of the animals goes on" in text_of(client, address)
    assert client.post(f"{address}reinstate/", {"reason": "Seen to."}).status_code == 302
    assert state_of(approval) == "approved"


def test_an_amendment_shows_the_limit_until_now_beside_what_is_asked() -> None:
    approval, chair, _ = make_granted()
    lead = lead_of(approval.projects.get())
    amendment = actions.amend_approval(approval, title="May it use sixteen?", by=lead)
    limit = amendment.limits.get()
    actions.drop_limit(amendment, limit=limit, by=lead)
    actions.add_limit(
        amendment, taxon=limit.taxon, procedure=limit.procedure, max_animals=16, by=lead
    )
    actions.submit_approval(amendment, by=lead)
    told = text_of(signed_in(chair), amendment.get_absolute_url())
    assert f'Amendment of <a href="{approval.get_absolute_url()}">' in told
    assert "over; the limit would rise to 16" in told
    assert "the present approval stays as it is" in told


# ------------------------------------------------------------------------------------------- lists


def test_the_list_shows_only_what_one_may_see_and_costs_the_same_for_more() -> None:
    approval, _, member = make_asked()
    make_asked()
    told = text_of(signed_in(member), "/studies/approvals/")
    assert "1 approval" in told
    assert approval.get_absolute_url() in told
    client = signed_in(make_person(Role.CURATOR))

    def cost() -> int:
        with CaptureQueriesContext(connection) as asked:
            text_of(client, "/studies/approvals/?state=submitted")
        return len(asked)

    before = cost()
    for _ in range(3):
        make_asked()
    assert cost() == before


# --------------------------------------------------------------------------- a project's own page


def test_a_projects_page_shows_needs_people_plan_and_the_next_step() -> None:
    world = make_ready()
    address = world.project.get_absolute_url()
    told = text_of(signed_in(world.lead), address)
    assert told.index("Start collecting") < told.index("Request an approval")
    for said in ("collection&#x27;s research committee", world.student.name, "live", "to come"):
        assert said in told, said
    started = signed_in(world.lead).post(f"/studies/approvals/projects/{world.project.pk}/start/")
    assert started.status_code == 302
    assert "Collecting begins" in text_of(signed_in(world.student), address)


def test_a_start_that_lacks_something_names_it_on_the_page() -> None:
    make_kinds()
    project = make_plan_accepted()
    answer = signed_in(lead_of(project)).post(f"/studies/approvals/projects/{project.pk}/start/")
    assert answer.status_code == 422
    assert "university ethics" in answer.content.decode()


def test_a_halted_projects_page_says_whose_assent_is_awaited() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    halt_project(world.project, reason="A ray lies upside down.", by=world.student)
    address = world.project.get_absolute_url()
    resume = f"/studies/projects/{world.project.pk}/resume/"
    assert "A ray lies upside down." in text_of(signed_in(world.student), address)
    assert signed_in(vet).post(resume, {"reason": "Well again."}).status_code == 302
    told = text_of(signed_in(world.chair), address)
    assert f"{vet.name}, veterinary surgeon, assents" in told
    assert "Halt lifted" not in told
    assert signed_in(world.chair).post(resume, {"reason": "Seen."}).status_code == 302
    assert "Halt lifted" in text_of(signed_in(world.chair), address)


def test_needs_and_requests_are_made_from_the_pages() -> None:
    project, (body, _, _) = make_accepted(), make_body()
    client, kind = signed_in(lead_of(project)), make_kinds()["university-ethics"]
    prefix = f"/studies/approvals/projects/{project.pk}/"
    refused = client.post(f"{prefix}need/", {"permission": kind.pk})
    assert refused.status_code == 422
    assert (
        client.post(f"{prefix}need/", {"permission": kind.pk, "is_needed": "on"}).status_code == 302
    )
    assert project.needs.get(permission=kind).is_needed
    asked = {
        "permission": kind.pk,
        "body": body.pk,
        "title": "May it?",
        "case": "Because.",
        "starts_on": "2030-01-01",
        "ends_on": "2030-12-31",
        "weekdays": ["1", "5"],
        "max_severity": "0",
        "places": [one.pk for one in project.plan.places.all()],
    }
    assert "May … use" in text_of(client, f"{prefix}request_approval/")
    assert client.post(f"{prefix}request_approval/", asked).status_code == 302
    approval = Approval.objects.get()
    assert approval.weekdays == "15"
    address = approval.get_absolute_url()
    assert "There is no limit yet." in text_of(client, address)
    limit = {"taxon": project.study.taxon.pk, "procedure": make_procedure().pk, "max_animals": 3}
    assert client.post(f"{address}add_limit/", limit).status_code == 302
    for path in ("drop_limit", "cover", "submit", "withdraw"):
        text_of(client, f"{address}{path}/")
    assert client.post(f"{address}submit/").status_code == 302


def test_evidence_and_amendments_are_given_from_the_pages() -> None:
    approval, _, _ = make_granted(conditions=[("A keeper is there.", None)])
    lead = lead_of(approval.projects.get())
    client, address = signed_in(lead), approval.get_absolute_url()
    condition = approval.conditions.get()
    typed = {"condition": condition.pk, "evidence": "Initials on the sheet."}
    assert client.post(f"{address}give_evidence/", typed).status_code == 302
    assert "Initials on the sheet." in text_of(client, address)
    assert 'value="May the ray study' in text_of(client, f"{address}amend/")
    text_of(client, f"{address}close/")


# -------------------------------------------------------------------------------------------- API


def test_the_api_does_the_same_with_the_same_rules() -> None:
    world_project, (body, chair, member) = make_accepted(), make_body()
    lead, kind = lead_of(world_project), make_kinds()["research-committee"]
    api = api_of(lead)
    prefix = f"/api/v1/projects/{world_project.pk}/"
    need = api.post(f"{prefix}need/", {"permission": kind.pk, "is_needed": True}, format="json")
    assert need.status_code == 200, need.json()
    said = {one["permission"]: one["is_needed"] for one in need.json()["needs"]}
    assert said["research-committee"]
    asked = {
        "permission": kind.pk,
        "body": body.pk,
        "title": "May it?",
        "case": "Because.",
        "starts_on": timezone.localdate().isoformat(),
        "ends_on": timezone.localdate().isoformat(),
        "weekdays": [1, 2, 3, 4, 5, 6, 7],
        "max_severity": 0,
        "places": [one.pk for one in world_project.plan.places.all()],
    }
    made = api.post(f"{prefix}request_approval/", asked, format="json")
    assert made.status_code == 201, made.json()
    address = f"/api/v1/approvals/{made.json()['id']}/"
    limit = {"taxon": world_project.study.taxon.pk, "procedure": make_procedure().pk}
    api.post(f"{address}add_limit/", {**limit, "max_animals": 3}, format="json")
    assert api.post(f"{address}approve/", {"reason": "r"}, format="json").status_code == 403
    submitted = api.post(f"{address}submit/", {}, format="json").json()
    assert (submitted["state"], submitted["limits"][0]["max_animals"]) == ("submitted", 3)
    chairs = api_of(chair)
    decision = {"reason": "Sound.", "condition_1": "A keeper is there."}
    refused = chairs.post(f"{address}approve/", decision, format="json")
    assert (refused.status_code, "deciders" in refused.json()["fields"]) == (422, True)
    granted = chairs.post(
        f"{address}approve/", {**decision, "deciders": [chair.pk, member.pk]}, format="json"
    )
    assert granted.status_code == 200, granted.json()
    assert granted.json()["conditions"][0]["standing"] == "due"
    assert set(granted.json()["can"]) == {"comment", "suspend", "withdraw", "close"}
    start = api.post(f"{prefix}start/", {}, format="json")
    assert (start.status_code, start.json()["state"]) == (200, "collecting")


def test_the_api_lists_approvals_at_a_constant_cost() -> None:
    api = api_of(make_person(Role.AUDITOR))
    make_granted(conditions=[("A keeper is there.", None)])

    def cost(address: str) -> int:
        with CaptureQueriesContext(connection) as asked:
            assert api.get(address).status_code == 200
        return len(asked)

    addresses = ("/api/v1/approvals/", "/api/v1/permission-kinds/")
    cost(addresses[0])  # what the person holds is read once and kept
    before = [cost(address) for address in addresses]
    for _ in range(3):
        make_granted(conditions=[("A keeper is there.", None)])
    assert [cost(address) for address in addresses] == before
    assert not api_of(make_person(Role.STUDENT)).get("/api/v1/approvals/").json()["results"]


def test_a_student_sees_the_approvals_of_the_own_project_alone() -> None:
    approval, _, _ = make_asked()
    student = student_of(Project.objects.get())
    make_asked()
    listed = api_of(student).get("/api/v1/approvals/").json()["results"]
    assert [one["id"] for one in listed] == [approval.pk]


def test_the_page_that_lifts_a_halt_says_why_it_was_halted_and_who_assented() -> None:
    world = make_collecting()
    halt_project(world.project, reason="Fins are frayed.", by=world.student)
    vet = make_person(Role.VET)
    address = f"/studies/projects/{world.project.pk}/resume/"
    assert "Fins are frayed." in text_of(signed_in(vet), address)
    assert "Nobody has assented yet." in text_of(signed_in(vet), address)
    lift_halt(world.project, reason="They have healed.", by=vet)
    assert f"{vet.name} has assented." in text_of(signed_in(world.chair), address)


def test_starting_is_not_the_filled_button_while_something_is_not_live() -> None:
    ready = make_ready().project
    page = signed_in(lead_of(ready)).get(f"/studies/projects/{ready.pk}/")
    assert page.context["is_ready"]
    assert page.context["acts"][0]["path"] == "start"
    waiting = make_plan_accepted()
    state_needs(waiting, "research-committee", by=lead_of(waiting))
    page = signed_in(lead_of(waiting)).get(f"/studies/projects/{waiting.pk}/")
    paths = [act["path"] for act in page.context["acts"]]
    assert not page.context["is_ready"]
    assert "start" in paths
    assert paths[0] == "request_approval"


def test_a_project_leads_to_its_deeds_and_to_its_history() -> None:
    world = make_collecting()
    shown = text_of(signed_in(world.lead), f"/studies/projects/{world.project.pk}/")
    assert 'href="#acts"' in shown
    assert shown.index('href="#acts"') < shown.index("What it needs, and what is live today")
    assert '<div id="acts">' in shown
    assert f"/oversight/ledger/about/projects.project:{world.project.pk}/" in shown
