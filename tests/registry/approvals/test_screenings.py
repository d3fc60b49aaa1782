"""Screenings: what the rules say, what a named person decides, and when it is done again."""

from dataclasses import replace

import pytest
from django.test import Client
from rest_framework.test import APIClient

from registry.approvals.actions import (
    add_limit,
    screen_procedure,
    start_project,
    submit_approval,
)
from registry.approvals.models import Screening
from registry.approvals.screens import Said, screenings_of
from registry.errors import NotPermitted, Unsound
from registry.people.models import Person
from registry.permissions import Role
from registry.projects.models import Arm, Procedure, Project
from tests.worlds.animals import make_taxon
from tests.worlds.approvals import make_accepted, make_collecting, make_ready, make_request
from tests.worlds.people import make_body, make_person
from tests.worlds.projects import lead_of, make_procedure

pytestmark = pytest.mark.django_db

WATCHING = Said("uk", "scientific", "none")


def screened(project: Project, by: Person, told: Said = WATCHING, **more: object) -> Screening:
    plan = project.plan
    given: dict[str, object] = {
        "procedure": plan.procedures.all()[0],
        "taxon": plan.arms.get().taxon,
        "life_stage": "adult",
        "answer": "not regulated",
        **more,
    }
    return screen_procedure(project, told=told, by=by, **given)  # type: ignore[arg-type]  # as above


def test_a_screening_keeps_its_facts_the_rules_and_who_decided() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    missing = screenings_of([world.project]).missing
    assert [(one.project, one.procedure) for one in missing] == [(world.project, world.procedure)]
    done = screened(world.project, vet)
    assert (done.said, done.answer, done.rule_version) == (done.answer, done.said, "uk-2013.1")
    assert done.screened_by == vet
    assert '"effect":"none"' in done.facts
    found = screenings_of([world.project])
    assert ([one.is_stale for one in found.standing], list(found.missing)) == ([False], [])


def test_to_decide_otherwise_than_the_rules_takes_a_reason() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    may_hurt = replace(WATCHING, effect="may reach")
    with pytest.raises(Unsound, match="refer"):
        screened(world.project, vet, may_hurt)
    done = screened(world.project, vet, may_hurt, reason="Asked the inspector on 3 May.")
    assert (done.said, done.answer) == ("refer", "not regulated")


def test_a_stage_that_a_person_decides_takes_a_reason() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    unprotected = replace(WATCHING, is_protected=False)
    with pytest.raises(Unsound, match="by a person"):
        screened(world.project, vet, unprotected)
    assert not screened(world.project, vet, unprotected, reason="In its case.").is_protected


@pytest.mark.parametrize("field", ["procedure", "taxon"])
def test_what_the_plan_does_not_name_is_not_screened(field: str) -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    other = {"procedure": make_procedure("netting"), "taxon": make_taxon("Raja clavata")}
    with pytest.raises(Unsound) as refused:
        screened(world.project, vet, **{field: other[field]})
    assert list(refused.value.fields) == [field]
    assert screened(world.project, vet).pk


def test_it_is_screened_again_when_the_number_the_days_or_the_procedure_change() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    screened(world.project, vet)
    plan = Arm.objects.filter(plan=world.project.plan)
    animals = plan.get().animals
    # Straight into the rows: what makes a screening stale is the plan, by whichever deed.
    for rows, before, after in (
        (plan, {"animals": animals}, {"animals": animals + 1}),
        (
            Procedure.objects.filter(pk=world.procedure.pk),
            {"severity": world.procedure.severity},
            {"severity": 3},
        ),
    ):
        rows.update(**after)
        fresh = Project.objects.get(pk=world.project.pk)
        assert [one.is_stale for one in screenings_of([fresh]).standing] == [True]
        rows.update(**before)
    fresh = Project.objects.get(pk=world.project.pk)
    assert [one.is_stale for one in screenings_of([fresh]).standing] == [False]


def test_the_newest_screening_holds_and_the_first_stays() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    screened(world.project, vet)
    second = screened(world.project, vet, replace(WATCHING, effect="reaches"), answer="regulated")
    assert [one.screening for one in screenings_of([world.project]).standing] == [second]
    assert Screening.objects.count() == 2


def test_the_vet_and_the_chair_screen_and_nobody_their_own_project() -> None:
    world = make_collecting()
    assert screened(world.project, world.chair).pk
    with pytest.raises(NotPermitted):
        screened(world.project, lead_of(world.project))


def test_it_is_screened_through_the_api_and_shown_on_the_project_s_page() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    api = APIClient()
    api.force_authenticate(vet)
    sent = {
        "procedure": world.procedure.pk,
        "taxon": world.taxon.pk,
        "life_stage": "adult",
        "jurisdiction": "eu",
        "purpose": "scientific",
        "effect": "may reach",
        "answer": "not regulated",
    }
    address = f"/api/v1/projects/{world.project.pk}/screen/"
    refused = api.post(address, sent)
    assert refused.status_code == 422, refused.content
    assert "refer" in refused.content.decode()
    answer = api.post(address, {**sent, "answer": "refer"})
    assert answer.status_code == 200, answer.content
    api.force_login(vet)
    page = api.get(world.project.get_absolute_url()).content.decode()
    assert "eu-2013.1" in page
    approval = api.get(world.approval.get_absolute_url()).content.decode()
    assert "eu-2013.1" in approval


def test_what_is_referred_or_regulated_without_a_licence_is_not_started() -> None:
    world, vet = make_ready(), make_person(Role.VET)
    for answer, words in (("refer", "was referred"), ("regulated", "no licence is said")):
        screened(
            world.project, vet, replace(WATCHING, effect="may reach"), answer=answer, reason="x"
        )
        with pytest.raises(Unsound, match=words):
            start_project(world.project, by=world.lead)
    screened(world.project, vet)
    assert start_project(world.project, by=world.lead).state == "collecting"


def test_hands_on_work_that_nobody_screened_is_not_sent_to_a_body_and_watching_is() -> None:
    hands_on, watched = make_procedure("weighing-measuring"), make_procedure()
    project = make_accepted(procedure=hands_on)
    project.plan.procedures.add(watched)
    body, chair, _ = make_body()
    request, lead, vet = make_request(project, body), lead_of(project), make_person(Role.VET)
    taxon = project.plan.arms.get().taxon
    line = {"taxon": taxon, "max_animals": 2, "by": lead}
    add_limit(request, procedure=hands_on, life_stage="adult", **line)  # type: ignore[arg-type]  # why: of several kinds
    add_limit(request, procedure=watched, **line)  # type: ignore[arg-type]  # why: as above
    for stage in ("", "juvenile"):  # as one of another stage, it is not screened
        if stage:
            screened(project, vet, procedure=hands_on, life_stage=stage)
        with pytest.raises(Unsound, match=f"Nobody has screened .*“{hands_on}” of") as refused:
            submit_approval(request, by=lead)
        assert str(watched) not in refused.value.why
    page = Client()
    page.force_login(lead)
    assert "before it can be submitted" in page.get(request.get_absolute_url()).content.decode()
    screened(project, chair, procedure=hands_on)
    assert submit_approval(request, by=lead).state == "submitted"


def test_what_the_law_can_never_protect_needs_no_screening() -> None:
    crab = make_taxon("Carcinus maenas", taxon_class="other_invertebrate")
    project = make_accepted(procedure=make_procedure("weighing-measuring"), taxon=crab)
    request = make_request(project, make_body()[0])
    lead = lead_of(project)
    add_limit(request, taxon=crab, procedure=project.plan.procedures.get(), max_animals=2, by=lead)
    assert submit_approval(request, by=lead).state == "submitted"
