"""Deeds on studies and projects."""

from datetime import timedelta

import pytest
from django.utils import timezone

from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.permissions import Part, Role, can
from registry.projects import actions
from registry.projects.models import Project
from registry.questions.actions import park_question
from tests.worlds.animals import make_enclosure, make_taxon
from tests.worlds.approvals import make_collecting
from tests.worlds.people import fresh, make_person
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


# ------------------------------------------------------------------------------------------ studies


def test_a_study_of_a_taken_title_is_refused() -> None:
    supervisor = make_person(Role.SUPERVISOR)
    actions.open_study(title="Egg strings", aim="a", by=supervisor)
    with pytest.raises(Unsound, match="study of that title"):
        actions.open_study(title="egg STRINGS", aim="a", by=supervisor)


def test_a_study_takes_on_only_questions_that_are_followed() -> None:
    curator = make_person(Role.CURATOR)
    parked, followed = make_question(), make_question()
    park_question(parked, reason="no tanks", by=curator)
    with pytest.raises(Unsound, match="nobody follows"):
        actions.open_study(title="A", aim="a", questions=[parked], by=curator)
    study = actions.open_study(title="A", aim="a", questions=[followed], by=curator)
    with pytest.raises(Unsound, match="nobody follows"):
        actions.take_question(study, question=parked, by=curator)
    with pytest.raises(Conflict, match="has it already"):
        actions.take_question(study, question=followed, by=curator)
    actions.take_question(study, question=make_question(), by=curator)
    assert study.questions.count() == 2


def test_a_student_may_not_open_a_study_or_a_cohort() -> None:
    student, lead = make_person(Role.STUDENT), make_person(Role.SUPERVISOR)
    today = timezone.localdate()
    with pytest.raises(NotPermitted):
        actions.open_study(title="A", aim="a", by=student)
    with pytest.raises(NotPermitted):
        actions.open_project(
            make_study(),
            cohort="1",
            level="doctoral",
            starts_on=today,
            ends_on=today,
            lead=lead,
            by=student,
        )


def test_a_cohort_is_refused_that_ends_early_is_labelled_twice_or_has_no_supervisor() -> None:
    study, lead, today = make_study(), make_person(Role.SUPERVISOR), timezone.localdate()
    asked = {"cohort": "2026", "level": "doctoral", "starts_on": today, "ends_on": today}
    early = {**asked, "ends_on": today - timedelta(days=1)}
    with pytest.raises(Unsound, match="end before it starts"):
        actions.open_project(study, **early, lead=lead, by=lead)
    with pytest.raises(Unsound, match="no standing as supervisor"):
        actions.open_project(study, **asked, lead=make_person(Role.STUDENT), by=lead)
    with pytest.raises(Unsound, match="0 to 168"):
        actions.open_project(study, **asked, lead=lead, keeper_hours_week=169, by=lead)
    project = actions.open_project(study, **asked, lead=lead, by=lead)
    assert (project.state, lead_of(project)) == ("drafted", lead)
    with pytest.raises(Unsound, match="cohort “2026” already"):
        actions.open_project(study, **asked, lead=lead, by=lead)


# ----------------------------------------------------------------------------------------- people


def test_members_need_the_standing_of_their_part() -> None:
    project = make_project()
    lead, keeper = lead_of(project), make_person(Role.KEEPER)
    with pytest.raises(Unsound, match="no standing as student"):
        actions.assign_member(project, person=keeper, part=Part.STUDENT, by=lead)
    with pytest.raises(Unsound, match="no standing as supervisor"):
        actions.assign_member(project, person=keeper, part=Part.CO_SUPERVISOR, by=lead)
    member = actions.assign_member(project, person=keeper, part=Part.OBSERVER, by=lead)
    assert member.part == "observer"


def test_nobody_has_a_part_twice() -> None:
    project = make_project()
    with pytest.raises(Conflict, match="is its student already"):
        actions.assign_member(
            project, person=student_of(project), part=Part.STUDENT, by=lead_of(project)
        )


def test_a_new_lead_takes_over_and_the_lead_cannot_just_leave() -> None:
    project, heir = make_project(), make_person(Role.SUPERVISOR)
    lead, curator = lead_of(project), make_person(Role.CURATOR)
    with pytest.raises(Unsound, match="always has one"):
        actions.end_membership(project, person=lead, reason="leaves", by=curator)
    with pytest.raises(Unsound, match="always has one"):
        actions.assign_member(project, person=lead, part=Part.CO_SUPERVISOR, by=curator)
    actions.assign_member(project, person=heir, part=Part.LEAD, by=curator)
    assert lead_of(project) == heir
    assert not project.members.live().filter(person=lead).exists()


def test_a_part_ends_with_a_reason_and_only_where_there_is_one() -> None:
    project = make_project()
    lead, student = lead_of(project), student_of(project)
    actions.end_membership(project, person=student, reason="changed course", by=lead)
    assert Entry.objects.get(verb="project.unassign").reason == "changed course"
    with pytest.raises(Conflict, match="no part in it"):
        actions.end_membership(project, person=student, reason="again", by=lead)


def test_only_its_lead_and_the_curator_assign() -> None:
    project, other = make_project(), make_person(Role.SUPERVISOR)
    newcomer = make_person(Role.STUDENT)
    for stranger in (other, student_of(project), newcomer):
        with pytest.raises(NotPermitted):
            actions.assign_member(project, person=newcomer, part=Part.STUDENT, by=stranger)
    actions.assign_member(project, person=newcomer, part=Part.STUDENT, by=make_person(Role.CURATOR))


def test_the_data_agreement_is_signed_once_with_ones_own_name_and_a_sound_embargo() -> None:
    project = make_project()
    student = student_of(project)
    signed = {"terms": "embargoed", "embargo_months": 6, "signed_name": student.name.upper()}
    with pytest.raises(NotPermitted):
        actions.sign_agreement(project, **signed, by=lead_of(project))
    for months in (0, 25):
        with pytest.raises(Unsound, match="1 to 24 months"):
            actions.sign_agreement(project, **{**signed, "embargo_months": months}, by=student)
    with pytest.raises(Unsound, match="only an embargo has months"):
        actions.sign_agreement(project, **{**signed, "terms": "open"}, by=student)
    with pytest.raises(Unsound, match="not the one under which you signed in"):
        actions.sign_agreement(project, **{**signed, "signed_name": "someone"}, by=student)
    actions.sign_agreement(project, **signed, by=student)
    with pytest.raises(Conflict, match="signed it already"):
        actions.sign_agreement(project, **signed, by=student)


# ------------------------------------------------------------------------------------------- plan


def test_a_plan_is_written_by_members_alone_and_keeps_what_is_left_out() -> None:
    project = make_written()
    with pytest.raises(NotPermitted):
        actions.write_plan(project, analysis="other", by=make_person(Role.SUPERVISOR))
    with pytest.raises(Unsound, match="no budget"):
        actions.write_plan(project, budget="much", by=student_of(project))
    actions.write_plan(project, analysis="A permutation test.", by=student_of(project))
    plan = fresh_project(project).plan
    assert (plan.analysis, plan.outcome) == ("A permutation test.", "share of scans at rest")
    assert plan.procedures.count() == 1


def test_an_arm_has_a_name_of_its_own_and_is_dropped_once() -> None:
    project = make_written()
    lead, arm = lead_of(project), project.plan.arms.get()
    with pytest.raises(Unsound, match="already"):
        actions.add_arm(
            project, name=arm.name.upper(), taxon=arm.taxon, units=1, animals=1, by=lead
        )
    other = make_written().plan.arms.get()
    with pytest.raises(Conflict, match="not in this plan"):
        actions.drop_arm(project, arm=other, by=lead)
    actions.drop_arm(project, arm=arm, by=lead)
    with pytest.raises(Conflict, match="not in this plan"):
        actions.drop_arm(project, arm=arm, by=lead)


@pytest.mark.parametrize(
    ("left_out", "said"),
    [
        ({"experimental_unit": " "}, "the experimental unit"),
        ({"outcome": ""}, "the outcome"),
        ({"number_reason": ""}, "why this many"),
        ({"analysis": ""}, "how the data will be analysed"),
        ({"data_plan": ""}, "the data plan"),
        ({"procedures": []}, "what is done with the animals"),
        ({"places": []}, "the enclosures"),
    ],
)
def test_a_plan_that_lacks_something_is_not_submitted(left_out: dict, said: str) -> None:
    project = make_written()
    lead = lead_of(project)
    held = {
        name: list(getattr(project.plan, name).all())
        if isinstance(value, list)
        else getattr(project.plan, name)
        for name, value in left_out.items()
    }
    actions.write_plan(project, **left_out, by=lead)
    with pytest.raises(Unsound, match=said):
        actions.submit_plan(fresh_project(project), by=lead)
    actions.write_plan(project, **held, by=lead)
    assert actions.submit_plan(fresh_project(project), by=lead).state == "submitted"


def test_contact_needs_humane_end_points_and_watching_does_not() -> None:
    project = make_written(procedure=make_procedure("netting"))
    lead = lead_of(project)
    actions.write_plan(project, humane_end_points="", by=lead)
    with pytest.raises(Unsound, match="humane end-points"):
        actions.submit_plan(project, by=lead)
    actions.write_plan(project, procedures=[make_procedure("watching-outside")], by=lead)
    assert actions.submit_plan(fresh_project(project), by=lead).state == "submitted"


@pytest.mark.parametrize(
    ("units", "animals", "said"),
    [(0, 3, "at least one experimental unit"), (4, 3, "as many animals as units")],
)
def test_an_arm_without_units_or_with_too_few_animals_is_not_submitted(
    units: int, animals: int, said: str
) -> None:
    project = make_written(units=units, animals=animals)
    with pytest.raises(Unsound, match=said):
        actions.submit_plan(project, by=lead_of(project))


def test_a_plan_without_any_arm_is_not_submitted() -> None:
    project = make_written()
    lead = lead_of(project)
    actions.drop_arm(project, arm=project.plan.arms.get(), by=lead)
    with pytest.raises(Unsound, match="at least one treatment or group"):
        actions.submit_plan(project, by=lead)


def test_a_plan_without_a_student_is_not_submitted() -> None:
    project = make_written()
    lead = lead_of(project)
    actions.end_membership(project, person=student_of(project), reason="left", by=lead)
    with pytest.raises(Unsound, match="a student"):
        actions.submit_plan(project, by=lead)


def test_the_design_is_reviewed_by_a_supervisor_who_is_no_member() -> None:
    project = make_submitted()
    with pytest.raises(NotPermitted):
        actions.accept_plan(project, by=lead_of(project))
    with pytest.raises(NotPermitted):
        actions.accept_plan(project, by=make_person(Role.CURATOR))
    reviewer = make_person(Role.SUPERVISOR)
    actions.accept_plan(project, remarks="Sound.", by=reviewer)
    review = project.reviews.get()
    assert (review.reviewer, review.is_accepted, review.remarks) == (reviewer, True, "Sound.")


def test_a_plan_is_returned_only_with_remarks_and_can_then_be_changed() -> None:
    project, reviewer = make_submitted(), make_person(Role.SUPERVISOR)
    lead = lead_of(project)
    with pytest.raises(Conflict, match="drafted"):
        actions.write_plan(project, analysis="x", by=lead)
    with pytest.raises(Unsound, match="No reason"):
        actions.return_plan(project, reason="  ", by=reviewer)
    actions.return_plan(project, reason="The tank is the unit.", by=reviewer)
    actions.write_plan(project, experimental_unit="tank", by=lead)
    assert not project.reviews.get().is_accepted


# ------------------------------------------------------------------------------- halts and the end


def test_anyone_signed_in_halts_with_a_reason() -> None:
    world, keeper = make_collecting(), make_person(Role.KEEPER)
    with pytest.raises(Unsound, match="No reason"):
        actions.halt_project(world.project, reason="", by=keeper)
    project = actions.halt_project(world.project, reason="A ray lies upside down.", by=keeper)
    assert (project.state, project.halts.get().halted_by) == ("halted", keeper)


def test_a_halt_is_lifted_by_a_vet_and_a_chair_who_are_two_people_and_no_members() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    project = actions.halt_project(world.project, reason="It looks wrong.", by=vet)
    for unfit in (world.lead, make_person(Role.CURATOR), world.member):
        with pytest.raises(NotPermitted):
            actions.lift_halt(project, reason="well again", by=unfit)
    with pytest.raises(Unsound, match="No reason"):
        actions.lift_halt(project, reason="", by=vet)
    assert actions.lift_halt(project, reason="well again", by=vet).state == "halted"
    with pytest.raises(Conflict, match="two different people"):
        actions.lift_halt(project, reason="well again", by=vet)
    with pytest.raises(Conflict, match="in your part already"):
        actions.lift_halt(project, reason="well again", by=make_person(Role.VET))
    assert actions.lift_halt(project, reason="seen", by=world.chair).state == "collecting"
    halt = project.halts.get()
    assert (halt.vet_assent, halt.body_assent, halt.ended_on) == (
        vet,
        world.chair,
        timezone.localdate(),
    )


def test_a_vet_who_is_a_member_does_not_lift_a_halt() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    actions.assign_member(world.project, person=vet, part=Part.OBSERVER, by=world.lead)
    actions.halt_project(world.project, reason="It looks wrong.", by=vet)
    with pytest.raises(NotPermitted):
        actions.lift_halt(world.project, reason="well again", by=fresh(vet))


def test_the_lead_finishes_and_a_halt_ends_with_it() -> None:
    world = make_collecting()
    actions.halt_project(world.project, reason="It looks wrong.", by=world.student)
    with pytest.raises(NotPermitted):
        actions.finish_project(world.project, by=world.student)
    assert actions.finish_project(world.project, by=world.lead).state == "reporting"
    assert world.project.halts.get().ended_on is not None


def test_a_project_is_abandoned_with_a_reason_and_its_record_stays() -> None:
    project = make_plan_accepted()
    with pytest.raises(Unsound, match="No reason"):
        actions.abandon_project(project, reason=" ", by=lead_of(project))
    actions.abandon_project(project, reason="no tanks", by=lead_of(project))
    assert fresh_project(project).state == "abandoned"
    assert can(fresh_project(project), lead_of(project)) == []


# ---------------------------------------------------------------------------------------- extending


def test_the_next_cohort_begins_with_the_plan_but_not_with_the_needs_and_people() -> None:
    world = make_collecting()
    last, heir = world.project, make_person(Role.SUPERVISOR)
    day = last.ends_on + timedelta(days=30)
    asked = {"cohort": "2027–28", "starts_on": day, "ends_on": day, "lead": heir}
    with pytest.raises(NotPermitted):
        actions.extend_project(last, **asked, by=world.student)
    with pytest.raises(Unsound, match="already"):
        actions.extend_project(last, **{**asked, "cohort": last.cohort}, by=heir)
    following = fresh_project(actions.extend_project(last, **asked, by=heir))
    assert (following.extends, following.study) == (last, last.study)
    assert (following.state, lead_of(following)) == ("drafted", heir)
    assert following.members.count() == 1
    assert following.plan.outcome == last.plan.outcome
    assert list(following.plan.places.all()) == list(last.plan.places.all())
    assert [(one.name, one.animals) for one in following.plan.arms.all()] == [
        (one.name, one.animals) for one in last.plan.arms.all()
    ]
    assert not following.needs.exists()
    assert not following.approvals.exists()


def test_a_drafted_project_is_not_extended() -> None:
    project = make_project()
    day = project.ends_on
    with pytest.raises(Conflict, match="It is drafted now"):
        actions.extend_project(
            project,
            cohort="next",
            starts_on=day,
            ends_on=day,
            lead=lead_of(project),
            by=lead_of(project),
        )


def test_each_deed_is_in_the_ledger_with_the_project_and_its_choices() -> None:
    project = make_written(places=[make_enclosure("P9")], taxon=make_taxon())
    written = Entry.objects.get(verb="project.write_plan")
    assert written.project_number == project.pk
    assert '"P9"' in written.text
    assert Project.objects.running().filter(pk=project.pk).exists()


@pytest.mark.postgres
def test_data_name_each_observer_by_a_code_that_stays_theirs() -> None:
    project = make_written()
    lead, first = lead_of(project), student_of(project)
    other = make_person(Role.STUDENT)
    codes = {one.person_id: one.data_code for one in project.members.with_codes()}
    assert sorted(codes.values()) == [f"O{number + 1}" for number in range(len(codes))]
    actions.end_membership(project, person=first, reason="went abroad", by=lead)
    actions.assign_member(project, person=other, part=Part.STUDENT, by=lead)
    actions.assign_member(project, person=first, part=Part.OBSERVER, by=lead)
    after = {one.person_id: one.data_code for one in project.members.with_codes()}
    assert after == codes | {other.pk: f"O{len(codes) + 1}"}
    live = {one.person_id: one.data_code for one in project.members.live().with_codes()}
    assert live == after
