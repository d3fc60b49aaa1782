"""The pages and the API of studies and projects."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from registry.people.models import Person
from registry.permissions import Role
from registry.projects.actions import PLAN_TEXTS, write_plan
from registry.projects.models import Project, Study
from registry.questions.actions import like_question
from tests.worlds.animals import make_enclosure
from tests.worlds.approvals import make_collecting
from tests.worlds.people import make_person
from tests.worlds.projects import (
    fresh_project,
    lead_of,
    make_plan_accepted,
    make_procedure,
    make_project,
    make_study,
    make_submitted,
    make_written,
    student_of,
)
from tests.worlds.questions import make_question

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


def test_the_list_shows_cohorts_keeper_time_and_what_each_supervisor_carries() -> None:
    lead = make_person(Role.SUPERVISOR, name="Ingrid Vestergaard-Nwosu")
    project = make_project(lead=lead)
    make_project(lead=lead, study=project.study, cohort="2027–28")
    told = text_of(signed_in(make_person(Role.KEEPER)), "/studies/")
    assert "2 projects under way, 4 keeper hours a week together" in told
    assert '<th scope="row">Ingrid Vestergaard-Nwosu</th><td class="n">2</td>' in told
    assert "2027–28" in told


def test_the_list_and_the_study_cost_the_same_with_one_cohort_and_with_four() -> None:
    study = make_study()
    make_project(study=study, cohort="0")
    client = signed_in(make_person(Role.CURATOR))

    def cost(address: str) -> int:
        with CaptureQueriesContext(connection) as asked:
            text_of(client, address)
        return len(asked)

    addresses = ("/studies/", study.get_absolute_url())
    before = [cost(address) for address in addresses]
    for n in range(3):
        make_project(study=study, cohort=str(n + 1))
        make_project()
    assert [cost(address) for address in addresses] == before


def test_a_supervisor_opens_a_study_and_a_cohort_from_the_pages() -> None:
    lead, question = make_person(Role.SUPERVISOR), make_question()
    client = signed_in(lead)
    typed = {"title": "Egg strings", "aim": "Know it.", "questions": [question.pk]}
    answer = client.post("/studies/open/", typed, follow=True)
    assert "Study opened" in answer.content.decode()
    study = Study.objects.get()
    cohort = {
        "cohort": "2026–27",
        "level": "doctoral",
        "starts_on": "2026-10-01",
        "ends_on": "2026-09-01",
        "lead": lead.pk,
    }
    address = f"/studies/{study.pk}/open_project/"
    refused = client.post(address, cohort)
    assert refused.status_code == 422
    assert "Before the first day." in refused.content.decode()
    assert 'value="2026–27"' in refused.content.decode()
    done = client.post(address, {**cohort, "ends_on": "2027-06-01"}, follow=True)
    project = Project.objects.get()
    assert done.redirect_chain[-1][0] == project.get_absolute_url()
    assert "The plan still lacks" in done.content.decode()


def test_the_plan_is_written_in_one_long_form_and_keeps_what_was_typed() -> None:
    project = make_project()
    client, place = signed_in(student_of(project)), make_enclosure()
    address = f"/studies/projects/{project.pk}/write_plan/"
    assert "Unit and numbers" in text_of(client, address)
    typed = dict.fromkeys(PLAN_TEXTS, "") | {
        "hypothesis": "Rays rest less.",
        "max_severity": "7",
        "places": [place.pk],
        "procedures": [make_procedure().pk],
    }
    refused = client.post(address, typed)
    assert refused.status_code == 422
    assert "Rays rest less." in refused.content.decode()
    assert client.post(address, {**typed, "max_severity": "0"}).status_code == 302
    plan = fresh_project(project).plan
    assert (plan.hypothesis, list(plan.places.all())) == ("Rays rest less.", [place])
    assert client.post(address, {**typed, "max_severity": "0", "places": []}).status_code == 302
    assert not plan.places.exists()


def test_over_the_api_a_plan_keeps_what_is_not_sent() -> None:
    project = make_written()
    api = api_of(lead_of(project))
    address = f"/api/v1/projects/{project.pk}/"
    done = api.post(f"{address}write_plan/", {"analysis": "A permutation test."}, format="json")
    assert done.status_code == 200, done.json()
    plan = done.json()["plan"]
    assert plan["analysis"] == "A permutation test."
    assert plan["outcome"] == "share of scans at rest"
    assert len(plan["procedures"]) == 1
    assert plan["arms"][0]["units"] == 4
    done = api.post(f"{address}submit/", {}, format="json")
    assert (done.status_code, done.json()["state"]) == (200, "submitted")
    assert "write_plan" not in done.json()["can"]


def test_a_submission_that_lacks_something_is_refused_alike_on_page_and_api() -> None:
    project = make_project()
    lead = lead_of(project)
    page = signed_in(lead).post(f"/studies/projects/{project.pk}/submit/")
    assert page.status_code == 422
    assert "the experimental unit" in page.content.decode()
    refused = api_of(lead).post(f"/api/v1/projects/{project.pk}/submit/", {}, format="json")
    assert refused.status_code == 422
    assert "experimental_unit" in refused.json()["fields"]


def test_the_plan_page_warns_of_one_unit_a_treatment_and_of_the_recording_rule() -> None:
    project = make_written(units=1, animals=12)
    told = text_of(signed_in(lead_of(project)), f"/studies/projects/{project.pk}/plan/")
    assert "Pseudoreplicated" in told
    assert "Hurlbert" in told
    assert "share of sample points alone" in told
    replicated = make_written(units=12, animals=12)
    told = text_of(signed_in(lead_of(replicated)), f"/studies/projects/{replicated.pk}/plan/")
    assert "Pseudoreplicated" not in told


def test_more_than_watching_where_visitors_see_it_carries_a_caution() -> None:
    place = make_enclosure()
    project = make_written(procedure=make_procedure("netting"), places=[place])
    client, address = signed_in(lead_of(project)), f"/studies/projects/{project.pk}/plan/"
    assert "Visitors see" not in text_of(client, address)
    type(place).objects.filter(pk=place.pk).update(is_on_show=True)
    assert f"Visitors see {place}" in text_of(client, address)
    write_plan(project, procedures=[make_procedure()], by=lead_of(project))
    assert "Visitors see" not in text_of(client, address)


def test_a_plan_is_not_read_by_students_who_are_no_members() -> None:
    project = make_submitted()
    stranger, member = make_person(Role.STUDENT), student_of(project)
    address = f"/studies/projects/{project.pk}/plan/"
    assert signed_in(stranger).get(address).status_code == 403
    assert signed_in(member).get(address).status_code == 200
    told = text_of(signed_in(stranger), project.get_absolute_url())
    assert "share of scans at rest" not in told
    assert "share of scans at rest" in text_of(signed_in(member), project.get_absolute_url())
    for person, is_read in ((stranger, False), (member, True)):
        shown = api_of(person).get(f"/api/v1/projects/{project.pk}/").json()
        assert (shown["plan"] is not None) is is_read


def test_the_assign_page_shows_who_would_like_it_and_what_supervisors_carry() -> None:
    project, student, question = make_project(), make_person(Role.STUDENT), make_question()
    project.study.questions.add(question)
    like_question(question, note="from May on", by=student)
    client = signed_in(lead_of(project))
    address = f"/studies/projects/{project.pk}/assign/"
    told = text_of(client, address)
    assert "from May on" in told
    assert '<td class="n">1</td>' in told
    assert client.post(address, {"person": student.pk, "part": "student"}).status_code == 302
    again = client.post(address, {"person": student.pk, "part": "student"})
    assert again.status_code == 409
    assert signed_in(student).get(address).status_code == 403


def test_a_study_shows_its_cohorts_side_by_side_and_its_line() -> None:
    world = make_collecting()
    study = world.project.study
    told = text_of(signed_in(world.lead), study.get_absolute_url())
    for said in ("4 / <b>0</b>", "12 / <b>0</b>", "Collecting begins", world.project.cohort):
        assert said in told
    assert f"/studies/projects/{world.project.pk}/extend/" in told
    stranger = make_person(Role.STUDENT)
    assert "not yours to see" in text_of(signed_in(stranger), study.get_absolute_url())


def test_every_deed_of_a_project_has_a_page_for_whom_it_is_open_to() -> None:
    written, submitted, accepted = make_written(), make_submitted(), make_plan_accepted()
    lead, reviewer, curator = lead_of(written), make_person(Role.SUPERVISOR), None
    curator = make_person(Role.CURATOR)
    for project, paths, person in (
        (written, ("write_plan", "add_arm", "drop_arm", "submit", "assign", "unassign"), lead),
        (submitted, ("accept", "return"), reviewer),
        (accepted, ("extend", "abandon"), curator),
        (accepted, ("halt",), reviewer),
    ):
        for path in paths:
            text_of(signed_in(person), f"/studies/projects/{project.pk}/{path}/")
    text_of(signed_in(student_of(written)), f"/studies/projects/{written.pk}/sign_agreement/")
    text_of(signed_in(make_person(Role.VET)), f"/studies/projects/{written.pk}/resume/")
    text_of(signed_in(curator), f"/studies/{written.study.pk}/take_question/")
    assert signed_in(lead).get(f"/studies/projects/{written.pk}/nothing/").status_code == 404


def test_the_api_lists_at_a_constant_cost_and_opens_a_study() -> None:
    curator = make_person(Role.CURATOR)
    api = api_of(curator)
    made = api.post("/api/v1/studies/", {"title": "A", "aim": "a"}, format="json")
    assert made.status_code == 201, made.json()
    make_submitted()

    def cost(plural: str) -> int:
        with CaptureQueriesContext(connection) as asked:
            answer = api.get(f"/api/v1/{plural}/")
        assert answer.status_code == 200
        return len(asked)

    plurals = ("studies", "projects", "procedures")
    before = [cost(plural) for plural in plurals]
    for _ in range(3):
        make_submitted()
    assert [cost(plural) for plural in plurals] == before


def test_procedures_are_read_and_not_written_over_the_api() -> None:
    api = api_of(make_person(Role.CURATOR))
    make_procedure("netting")
    shown = api.get("/api/v1/procedures/?code=netting").json()["results"]
    assert shown[0]["is_contact"]
    assert api.post("/api/v1/procedures/", {}, format="json").status_code == 405
    assert APIClient().get("/api/v1/procedures/").status_code == 401


def test_state_and_members_cannot_be_written_past_the_deeds() -> None:
    project = make_written()
    api = api_of(lead_of(project))
    for method in (api.put, api.patch, api.delete):
        assert method(f"/api/v1/projects/{project.pk}/", {"state": "closed"}).status_code == 405


def test_people_without_a_standing_are_not_offered_and_the_others_stand_by_role() -> None:
    project = make_project()
    nobody = make_person(name="Nobody Inparticular")
    student = make_person(Role.STUDENT, name="Mirela Okonjo")
    keeper = make_person(Role.KEEPER, name="Tam Oduya")
    page = signed_in(lead_of(project)).get(f"/studies/projects/{project.pk}/assign/")
    html = page.content.decode()
    roles = ("Student", "Supervisor", "Keeper")
    heads = [html.index(f'<optgroup label="{said}">') for said in roles]
    assert heads == sorted(heads)
    assert heads[0] < html.index(student.name) < heads[1] < heads[2] < html.index(keeper.name)
    assert nobody.name not in html


def test_a_readers_caution_begins_with_a_capital_and_tells_no_tale_of_its_source() -> None:
    place = make_enclosure()
    type(place).objects.filter(pk=place.pk).update(is_on_show=True)
    project = make_written(procedure=make_procedure("netting"), places=[place])
    told = text_of(signed_in(lead_of(project)), f"/studies/projects/{project.pk}/plan/")
    assert "On show." in told
    assert "section 16" in told
    assert "from memory" not in told


def test_a_study_opened_from_a_question_has_it_first_and_ticked_with_its_kind() -> None:
    asked = make_question()
    make_question()
    supervisor = make_person(Role.SUPERVISOR)
    page = signed_in(supervisor).get(f"/studies/open/?questions={asked.pk}")
    form = page.context["form"]
    assert next(iter(form.fields["questions"].queryset)) == asked
    assert form["questions"].value() == [asked.pk]
    assert form["taxon"].value() == asked.taxon_id


@pytest.mark.parametrize("said", ["999999", "nothing", "٣"])
def test_a_study_is_opened_from_an_address_that_names_no_question(said: str) -> None:
    supervisor = make_person(Role.SUPERVISOR)
    assert signed_in(supervisor).get("/studies/open/", {"questions": said}).status_code == 200
