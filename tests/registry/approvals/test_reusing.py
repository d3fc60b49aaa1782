"""Whether an animal may be used again, by what the register holds of it."""

from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from registry.animals.models import Animal
from registry.approvals import actions
from registry.approvals.models import Approval, ReuseDecision
from registry.approvals.reusing import reuse_of, reuses_of
from registry.approvals.rules.reuse import Sort
from registry.approvals.screens import Said
from registry.errors import NotPermitted, Unsound
from registry.oversight.actions import discharge_animal, release_booking
from registry.people.models import Person
from registry.permissions import Role
from registry.projects.models import Project
from tests.worlds.animals import make_animal
from tests.worlds.approvals import World, make_granted, make_request
from tests.worlds.oversight import (
    make_confirmed_booking,
    make_enrolled,
    make_handling,
    make_regulated,
    make_use,
)
from tests.worlds.people import make_body, make_person
from tests.worlds.projects import lead_of, make_plan_accepted, make_procedure

pytestmark = pytest.mark.django_db


def used_in(world: World, severity: int = 1, *, is_over: bool = True, **more: Any) -> Animal:
    """Use an animal in a project, and discharge it there unless it stays."""
    enrolment = make_enrolled(world, 1)[0]
    make_use(world, enrolment, severity=severity, **more)
    if is_over:
        today = timezone.localdate()
        discharge_animal(enrolment, left_on=today, actual_severity=severity, by=world.student)
    animal: Animal = enrolment.animal
    return animal


def another(world: World) -> Project:
    """Give another project that would do the same with the same kind of animal."""
    return make_plan_accepted(taxon=world.taxon, procedure=world.procedure, places=[world.place])


def asked(animal: Animal, project: Project) -> Any:
    return reuse_of(animal, timezone.localdate(), project)


def screened(project: Project, answer: str, by: Person) -> None:
    actions.screen_procedure(
        project,
        procedure=project.plan.procedures.get(),
        taxon=project.plan.arms.get().taxon,
        life_stage="adult",
        told=Said("uk", "scientific", "below"),
        answer=answer,
        reason="As the inspector said.",
        by=by,
    )


@pytest.mark.postgres
def test_an_animal_is_used_again_with_consent_and_a_vets_advice_and_not_before() -> None:
    world, vet = make_regulated(), make_person(Role.VET)
    project, animal = another(world), used_in(world)
    unused = make_animal(taxon=world.taxon, enclosure=world.place)
    assert asked(unused, project).sort == Sort.FIRST
    first = asked(animal, project)
    assert first.sort == Sort.REUSE
    assert [one.split()[1] for one in first.against] == ["authority", "vet"]
    make_granted(project, kind="licence", reuse_consent="kind")
    actions.decide_reuse(project, animal=animal, has_recovered=True, reason="Feeds well.", by=vet)
    assert asked(animal, project).is_allowed
    # In the project in which it is already, its earlier steps are no use of another one.
    assert asked(animal, world.project).sort == Sort.FIRST


def test_while_its_actual_severity_is_not_given_it_is_not_used_again() -> None:
    world = make_regulated()
    project, animal = another(world), used_in(world, is_over=False)
    assert "classify" in " ".join(asked(animal, project).against)


def test_after_a_severe_use_the_consent_must_name_the_animal_and_a_vet_have_examined_it() -> None:
    world, vet = make_regulated(), make_person(Role.VET)
    project, animal = another(world), used_in(world, 3)
    make_granted(project, kind="licence", reuse_consent="kind")
    actions.decide_reuse(
        project, animal=animal, has_recovered=True, was_examined=True, reason="Well.", by=vet
    )
    assert "name this animal" in " ".join(asked(animal, project).against)
    make_granted(project, kind="licence", reuse_consent="named", reuse_animals=[animal])
    assert asked(animal, project).is_allowed


def test_behaviour_only_history_and_what_was_screened_as_not_regulated_are_no_re_use() -> None:
    world, vet = make_handling(), make_person(Role.VET)
    project = another(world)
    watched = used_in(world, 0)
    assert asked(watched, project).sort == Sort.FIRST
    netted = used_in(world, 1, procedure=make_procedure("netting"))  # by no plan, so unscreened
    assert asked(netted, project).sort == Sort.REUSE
    weighed = used_in(world, 1)
    assert asked(weighed, project).sort == Sort.FIRST
    screened(world.project, "regulated", vet)
    assert asked(weighed, project).sort == Sort.REUSE
    screened(project, "not regulated", vet)
    assert asked(weighed, project).sort == Sort.FIRST


def test_a_step_more_of_the_same_is_continued_use_where_a_vet_says_so() -> None:
    world, vet = make_regulated(), make_person(Role.VET)
    project, animal = another(world), used_in(world)
    actions.decide_reuse(project, animal=animal, is_continued=True, reason="The regrowth.", by=vet)
    assert asked(animal, project).sort == Sort.CONTINUED


def test_many_animals_cost_no_query_more(django_assert_num_queries: Any) -> None:
    world = make_regulated()
    project = another(world)
    animals = [used_in(world) for _ in range(3)]
    day = timezone.localdate()
    with django_assert_num_queries(9):
        one = reuses_of(animals[:1], day, Project.objects.get(pk=project.pk))
    with django_assert_num_queries(9):
        three = reuses_of(animals, day, Project.objects.get(pk=project.pk))
    assert [len(one), len(three)] == [1, 3]


def test_only_a_vet_advises_with_a_reason_and_on_one_animal() -> None:
    world, vet = make_handling(), make_person(Role.VET)
    animal = make_animal(taxon=world.taxon)
    with pytest.raises(NotPermitted):
        actions.decide_reuse(world.project, animal=animal, reason="Well.", by=world.chair)
    with pytest.raises(Unsound, match="reason"):
        actions.decide_reuse(world.project, animal=animal, reason=" ", by=vet)
    with pytest.raises(Unsound, match="one animal"):
        actions.decide_reuse(world.project, reason="Well.", by=vet)
    assert actions.decide_reuse(world.project, animal=animal, reason="Well.", by=vet).pk
    assert ReuseDecision.objects.count() == 1


def test_animals_are_named_just_where_the_consent_is_for_named_ones() -> None:
    world = make_handling()
    body, *_ = make_body()
    animal = make_animal(taxon=world.taxon)
    for consent, named in (("named", []), ("kind", [animal]), ("none", [animal])):
        with pytest.raises(Unsound) as refused:
            make_request(world.project, body, reuse_consent=consent, reuse_animals=named)
        assert list(refused.value.fields) == ["reuse_animals"]
    asked = make_request(world.project, body, reuse_consent="named", reuse_animals=[animal])
    assert asked.reuse_consent == Approval.Consent.NAMED
    with pytest.raises(Unsound, match="none is named"):
        actions.amend_approval(world.approval, reuse_consent="named", by=lead_of(world.project))


def test_a_line_may_have_a_severity_of_its_own_up_to_the_request_s() -> None:
    world = make_handling()
    body, *_ = make_body()
    lead = lead_of(world.project)
    request = make_request(world.project, body, max_severity=1)
    line = {"taxon": world.taxon, "procedure": world.procedure, "max_animals": 2, "by": lead}
    with pytest.raises(Unsound) as refused:
        actions.add_limit(request, **line, max_severity=2)  # type: ignore[arg-type]  # why: of several kinds
    assert list(refused.value.fields) == ["max_severity"]
    limit = actions.add_limit(request, **line, max_severity=0)  # type: ignore[arg-type]  # why: as above
    assert limit.severity_at_most == 0
    open_limit = actions.add_limit(request, **line, life_stage="adult")  # type: ignore[arg-type]  # why: as above
    assert open_limit.severity_at_most == 1


def test_the_project_s_page_says_which_booked_animals_were_used_before() -> None:
    world = make_regulated()
    animal = used_in(world)
    release_booking(animal.enrolments.get().booking, by=world.curator)
    second = make_handling(taxon=world.taxon, places=[world.place])
    make_confirmed_booking(second, animals=[animal])
    # It was said that no licence is needed, so that nothing of it is regulated; a vet sees it
    # otherwise.
    assert asked(animal, second.project).sort == Sort.FIRST
    screened(second.project, "regulated", make_person(Role.VET))
    browser = Client()
    browser.force_login(second.lead)
    shown = browser.get(second.project.get_absolute_url()).content.decode()
    assert "Used before in other projects" in shown
    assert "The authority has not consented to it." in shown
    browser.force_login(world.lead)
    assert "Used before" not in browser.get(world.project.get_absolute_url()).content.decode()
