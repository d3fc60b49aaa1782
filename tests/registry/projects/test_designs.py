"""The design of a plan: sums, versions, the sealed allocation, planned against achieved."""

import re
from datetime import datetime, time, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from registry import design
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.permissions import Role
from registry.projects import actions
from registry.projects.achieved import due_sessions
from registry.projects.designed import is_drawn_again, standing
from registry.projects.models import Allocation, DesignPart, Project
from tests.worlds.approvals import make_collecting
from tests.worlds.oversight import (
    make_confirmed_booking,
    make_enrolled,
    make_held_session,
    make_planned_session,
)
from tests.worlds.people import make_person
from tests.worlds.projects import (
    ALLOCATED,
    SIZED,
    fresh_project,
    lead_of,
    make_sealed,
    make_submitted,
    make_written,
    student_of,
)

pytestmark = pytest.mark.django_db


def signed_in(person: Any) -> Client:
    found = Client()
    found.force_login(person)
    return found


def text_of(answer: Any) -> str:
    assert answer.status_code == 200, answer.content
    return " ".join(answer.content.decode().split())


# ----------------------------------------------------------------------------- sums in the plan


@pytest.mark.postgres
def test_a_sum_takes_the_place_of_the_last_one_and_is_recorded() -> None:
    project = make_written()
    lead = lead_of(project)
    actions.use_design(project, part="size", given=SIZED, by=lead)
    actions.use_design(project, part="size", given={**SIZED, "effect": 1.0}, by=lead)
    rows = list(DesignPart.objects.order_by("pk"))
    assert [one.is_dropped for one in rows] == [True, False]
    assert rows[0].said == design.sized(SIZED).said
    entry = Entry.objects.order_by("-number")[0]
    assert entry.verb == "project.use_design"
    assert rows[1].said in entry.text.replace("\\u00b1", "±")
    actions.drop_design(project, part="size", by=lead)
    assert standing(fresh_project(project).plan) == {}
    with pytest.raises(Conflict, match="not in this plan"):
        actions.drop_design(project, part="size", by=lead)


def test_a_sum_that_cannot_be_made_is_refused_and_nothing_is_written() -> None:
    project = make_written()
    with pytest.raises(Unsound, match="standard deviation must be above 0"):
        actions.use_design(
            project,
            part="size",
            given={**SIZED, "values": {"sd": 0.0, "icc": 0.2, "per_unit": 15.0}},
            by=lead_of(project),
        )
    assert not DesignPart.objects.exists()


def test_who_is_no_member_takes_no_sum_into_a_plan() -> None:
    project = make_written()
    with pytest.raises(NotPermitted):
        actions.use_design(project, part="size", given=SIZED, by=make_person(Role.SUPERVISOR))


def test_a_submitted_plan_is_locked() -> None:
    project = make_submitted()
    with pytest.raises(Conflict):
        actions.use_design(project, part="size", given=SIZED, by=lead_of(project))
    with pytest.raises(Conflict):
        actions.drop_design(project, part="size", by=lead_of(project))


# --------------------------------------------------------------------------------------- versions


def test_each_submission_is_a_version_and_the_page_says_what_changed() -> None:
    project = make_written()
    lead = lead_of(project)
    actions.submit_plan(project, by=lead)
    reviewer = make_person(Role.SUPERVISOR)
    actions.return_plan(fresh_project(project), reason="Name the stopping rule.", by=reviewer)
    actions.write_plan(project, stopping_rule="Stop at the third ray that fasts.", by=lead)
    actions.submit_plan(project, by=lead)
    actions.accept_plan(project, by=reviewer)
    plan = fresh_project(project).plan
    assert [(one.number, one.is_accepted) for one in plan.versions.all()] == [(1, False), (2, True)]
    newest = plan.versions.last()
    assert newest is not None
    assert newest.content["stopping_rule"] == "Stop at the third ray that fasts."
    entry = Entry.objects.filter(verb="project.accept").order_by("-number")[0]
    assert newest.digest in entry.text
    browser = signed_in(lead)
    page = text_of(browser.get(f"/studies/projects/{project.pk}/plan/versions/2/"))
    assert "Changed since version 1" in page
    assert "Stop at the third ray that fasts." in page
    assert browser.get(f"/studies/projects/{project.pk}/plan/versions/3/").status_code == 404
    assert "accepted and locked" in text_of(browser.get(f"/studies/projects/{project.pk}/plan/"))


def test_the_next_cohort_begins_with_the_design_but_no_seed_and_no_keyholder() -> None:
    last = make_sealed()
    project = last.plan.project
    following = actions.extend_project(
        project,
        cohort="2031",
        starts_on=project.starts_on,
        ends_on=project.ends_on,
        lead=lead_of(project),
        by=lead_of(project),
    )
    assert set(standing(following.plan)) == {"size", "allocation"}
    assert not hasattr(following.plan, "drawn")
    assert not following.plan.keyholders.exists()


# ------------------------------------------------------------------------------- the sealed key


@pytest.mark.postgres
def test_acceptance_seals_an_allocation_whose_seed_is_committed_in_the_ledger() -> None:
    sealed = make_sealed()
    seed = design.seed_from(sealed.seed)
    assert design.is_revealed(seed, sealed.commitment)
    assert is_drawn_again(sealed)
    entry = Entry.objects.filter(verb="project.accept").order_by("-number")[0]
    assert sealed.commitment in entry.text
    assert sealed.digest in entry.text
    assert sealed.seed not in entry.text
    assert sorted(one[0] for one in sealed.places) == sorted(ALLOCATED["units"])
    assert len(set(sealed.codes.values())) == 8


@pytest.mark.postgres
def test_the_key_is_read_by_keyholders_alone_until_it_is_revealed() -> None:
    sealed = make_sealed()
    project = sealed.plan.project
    lead, student = lead_of(project), student_of(project)
    key, page = f"/studies/allocations/{sealed.pk}/key/", f"/studies/allocations/{sealed.pk}/"
    assert signed_in(student).get(key).status_code == 404
    assert signed_in(make_person(Role.STUDENT)).get(page).status_code == 404
    blind = text_of(signed_in(student).get(page))
    assert sealed.codes["T1"] in blind
    assert "brisk" not in blind
    assert sealed.seed not in blind
    shown = text_of(signed_in(lead).get(key))
    assert "brisk" in shown
    assert sealed.seed not in shown
    for person, sees in ((student, False), (lead, True)):
        api = APIClient()
        api.force_authenticate(person)
        told = api.get(f"/api/v1/allocations/{sealed.pk}/").data
        assert (told["key"] is not None) is sees
        assert told["seed"] is None
        plan = api.get(f"/api/v1/projects/{project.pk}/").data["plan"]
        assert plan["drawn"] == sealed.pk
        assert plan["design"]["allocation"]["given"] == ALLOCATED
        assert sealed.seed not in str(plan)


def test_a_revealed_key_is_open_to_readers_of_the_plan_with_a_seed_that_draws_it_again() -> None:
    sealed = make_sealed()
    project = sealed.plan.project
    student = student_of(project)
    with pytest.raises(NotPermitted):
        actions.reveal_allocation(sealed, reason="I am curious.", by=student)
    with pytest.raises(Unsound, match="No reason"):
        actions.reveal_allocation(sealed, reason=" ", by=lead_of(project))
    vet = make_person(Role.VET)
    actions.reveal_allocation(sealed, reason="T3 must be treated at once.", by=vet)
    with pytest.raises(Conflict):
        actions.reveal_allocation(
            Allocation.objects.get(pk=sealed.pk), reason="Again.", by=lead_of(project)
        )
    shown = text_of(signed_in(student).get(f"/studies/allocations/{sealed.pk}/key/"))
    assert "brisk" in shown
    assert sealed.seed in shown
    assert "the allocation is the same" in shown
    Allocation.objects.filter(pk=sealed.pk).update(digest="0" * 64)
    changed = text_of(signed_in(student).get(f"/studies/allocations/{sealed.pk}/key/"))
    assert "tell the auditor" in changed


# ----------------------------------------------------------------------------- the unit, by three


def test_a_no_to_one_of_the_three_questions_is_a_caution_on_the_plan() -> None:
    project = make_written()
    lead = lead_of(project)
    address = f"/studies/projects/{project.pk}/plan/"
    assert "By three questions" not in text_of(signed_in(lead).get(address))
    browser = signed_in(lead)
    form = browser.get(f"/studies/projects/{project.pk}/write_plan/").context["form"]
    sent = {name: value for name, value in form.initial.items() if value is not None}
    sent |= {"is_randomised_alone": "yes", "is_treated_alone": "no", "exclusions": "None."}
    answer = browser.post(f"/studies/projects/{project.pk}/write_plan/", sent)
    assert answer.status_code == 302
    plan = fresh_project(project).plan
    found = (plan.is_randomised_alone, plan.is_treated_alone, plan.is_uninfluenced)
    assert found == (True, False, None)
    actions.write_plan(project, keyholders=[student_of(project)], by=lead)
    page = text_of(browser.get(address))
    assert "whoever knows the treatment is not blind" in page
    assert "One pool on a day does not get its treatment by itself." in page
    assert "Exclusions, fixed beforehand" in page


# ------------------------------------------------------------------------------------- one page


def test_the_one_page_plan_fills_the_essential_items_and_names_what_is_missing() -> None:
    sealed = make_sealed()
    project = sealed.plan.project
    browser = signed_in(lead_of(project))
    page = text_of(browser.get(f"/studies/projects/{project.pk}/plan/page/"))
    for part in (
        "1. Study design",
        "2. Sample size",
        design.sized(SIZED).said,
        "ark:99999/s1abc.v2",
        sealed.commitment,
        "Not said yet: rules of exclusion fixed beforehand.",
        "10. Results",
        "To be written when the data are in.",
    ):
        assert part in page, part
    printed = browser.get(f"/studies/projects/{project.pk}/plan.pdf")
    assert printed.status_code == 200
    assert printed.content.startswith(b"%PDF")
    stranger = signed_in(make_person(Role.STUDENT))
    assert stranger.get(f"/studies/projects/{project.pk}/plan.pdf").status_code in {403, 404}


def test_a_plan_asks_as_many_queries_with_one_version_and_arm_as_with_many() -> None:
    few = make_sealed().plan.project
    many = make_sealed().plan.project
    lead = lead_of(many)
    for number in range(2, 9):
        text = many.plan.versions.get(number=1).text
        many.plan.versions.create(number=number, text=text, digest="0" * 64, written_by=lead)
    counts = []
    for project in (few, many):
        browser = signed_in(lead_of(project))
        browser.get("/")
        with CaptureQueriesContext(
            connection,
        ) as asked:
            browser.get(f"/studies/projects/{project.pk}/plan/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


# --------------------------------------------------------------------- planned against achieved


def test_planned_is_set_against_achieved_once_collecting_began() -> None:
    world = make_collecting()
    project = Project.objects.get(pk=world.project.pk)
    enrolments = make_enrolled(world, 3)
    make_held_session(world, enrolments[:1])
    page = text_of(signed_in(world.lead).get(f"/studies/projects/{project.pk}/plan/"))
    assert "Planned against achieved" in page
    assert "1 of 1 sessions were held." in page
    assert "No deviation was recorded." in page
    for form, begins in (("svg", b"<svg xmlns"), ("pdf", b"%PDF"), ("png", b"\x89PNG")):
        address = f"/studies/projects/{project.pk}/achieved.{form}"
        assert signed_in(world.lead).get(address).content.startswith(begins)
    actions.halt_project(project, reason="A ray bled.", by=world.student)
    halted = text_of(signed_in(world.lead).get(f"/studies/projects/{project.pk}/plan/"))
    assert "A ray bled." in halted
    drafted = make_written(cohort="2033")
    assert "Planned against achieved" not in text_of(
        signed_in(lead_of(drafted)).get(f"/studies/projects/{drafted.pk}/plan/")
    )


def test_the_next_sessions_of_the_schedule_are_planned_with_their_times_filled_in() -> None:
    world = make_collecting()
    project = Project.objects.get(pk=world.project.pk)
    first = timezone.localdate() + timedelta(days=1)
    given = {
        "animals": ["R1", "R2"],
        "days": [(first + timedelta(days=one)).isoformat() for one in range(-3, 9)],
        "slots": [["10:00", ""]],
        "length_min": 45,
        "seed": "00" * 32,
    }
    kept = design.reckoned("schedule", given)
    part = DesignPart.objects.create(
        plan=project.plan, part="schedule", given=given, told=kept.told, said=kept.said,
        taken_by=world.lead,
    )  # fmt: skip
    assert due_sessions(project, part.plan)[0].begins.date() == first
    browser = signed_in(world.lead)
    page = browser.get(f"/studies/projects/{project.pk}/plan/")
    assert "Next in the schedule" in text_of(page)
    assert len(page.context["due"]) == 5
    address = re.findall(r'href="([^"]*plan_session/[^"]*)"', page.content.decode())[0]
    form = browser.get(address.replace("&amp;", "&")).content.decode()
    assert f'value="{first.isoformat()}T10:00"' in form
    assert f'value="{first.isoformat()}T10:45"' in form
    begins = timezone.make_aware(datetime.combine(first, time(10)))
    make_confirmed_booking(world)
    make_planned_session(world, [], start=begins)
    assert due_sessions(project, part.plan)[0].begins.date() == first + timedelta(days=1)


# -------------------------------------------------------------------------- from the design page


def test_an_answer_of_the_design_page_is_taken_into_a_plan_with_one_press() -> None:
    project = make_written()
    browser = signed_in(lead_of(project))
    asked = {"design": "tanks", "sd": "1", "icc": "0.2", "per_unit": "15", "effect": "0.8"}
    page = browser.get("/design/", {**asked, "spread_from": "ark:99999/s1abc.v2"})
    assert f"Use this in the plan of {project}" in text_of(page)
    sent = {"part": page.context["part"], "given": page.context["given"]}
    answer = browser.post(f"/design/projects/{project.pk}/use_design/", sent)
    assert answer.status_code == 302
    taken = standing(fresh_project(project).plan)["size"]
    assert design.sized(taken.given) == design.sized(SIZED)
    assert taken.given["spread_from"] == SIZED["spread_from"]
    assert taken.said in text_of(browser.get(f"/studies/projects/{project.pk}/plan/"))


@pytest.mark.parametrize(
    ("part", "given", "said"),
    [
        ("size", '{"design": "nothing"}', "There is no such design."),
        ("size", '{"design": "groups", "sd": 0, "effect": 1}', "standard deviation must be above"),
        ("size", "[1]", "not a set of named values"),
        ("size", '{"design": []}', "There is no such design."),
        (
            "simulation",
            '{"means": [NaN, 1], "units": 4, "analysis": "unit_t"}',
            "Not a number",
        ),
        ("size", "{", "sound JSON"),
        ("allocation", '{"method": "coin"}', "is not offered"),
        ("allocation", '{"method": "complete", "arms": ["x", "y"]}', "needs units"),
        ("schedule", '{"animals": ["a"], "days": ["x"], "slots": []}', "days"),
        ("simulation", '{"means": [0, 1], "units": 1000, "analysis": "unit_ranks"}', "fewer runs"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_words(part: str, given: str, said: str) -> None:
    project = make_written()
    browser = signed_in(lead_of(project))
    answer = browser.post(
        f"/design/projects/{project.pk}/use_design/", {"part": part, "given": given}
    )
    assert answer.status_code == 422
    assert said in " ".join(answer.content.decode().split())
    assert not DesignPart.objects.exists()


def test_each_sum_is_taken_over_the_api_in_the_words_of_its_own_address() -> None:
    project = make_written()
    api = APIClient()
    api.force_authenticate(lead_of(project))
    sums: dict[str, dict[str, Any]] = {
        "size": {"design": "groups", "sd": 2, "effect": 2, "power": 0.8},
        "allocation": ALLOCATED,
        "schedule": {
            "animals": ["Moss"],
            "days": ["2026-05-04"],
            "slots": [{"start": "10:00"}],
        },
        "simulation": {"means": [0, 1], "units": 4, "analysis": "unit_t", "runs": 200},
    }
    for part, given in sums.items():
        told = api.post(
            f"/api/v1/projects/{project.pk}/use_design/",
            {"part": part, "given": given},
            format="json",
        )
        assert told.status_code == 200, told.data
    assert set(told.data["plan"]["design"]) == set(sums)
    assert len(told.data["plan"]["design"]["schedule"]["given"]["seed"]) == 64
