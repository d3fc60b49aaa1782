"""Deeds on approvals, and a project's needs and start."""

from datetime import timedelta

import pytest
import time_machine
from django.utils import timezone

from registry.approvals import actions
from registry.approvals.models import Approval
from registry.errors import Conflict, NotPermitted, Unseen, Unsound
from registry.ledger.models import Entry
from registry.permissions import Part, Role, can
from registry.projects.actions import assign_member
from registry.projects.models import Project
from tests.worlds.approvals import (
    make_accepted,
    make_asked,
    make_collecting,
    make_granted,
    make_kinds,
    make_ready,
    make_request,
)
from tests.worlds.people import fresh, make_body, make_person
from tests.worlds.projects import (
    fresh_project,
    lead_of,
    make_plan_accepted,
    make_procedure,
    make_project,
    make_written,
)

pytestmark = pytest.mark.django_db


def again(approval: Approval) -> Approval:
    return Approval.objects.get(pk=approval.pk)


# ------------------------------------------------------------------------------ needs and the start


def test_a_need_is_declined_only_with_a_reason_and_by_lead_or_curator() -> None:
    project, kind = make_project(), make_kinds()["licence"]
    lead = lead_of(project)
    said = {"permission": kind, "is_needed": False}
    with pytest.raises(NotPermitted):
        actions.state_need(project, **said, reason="r", by=make_person(Role.SUPERVISOR))
    with pytest.raises(Unsound, match="no reason is given"):
        actions.state_need(project, **said, reason=" ", by=lead)
    actions.state_need(project, **said, reason="Watching only.", by=lead)
    need = project.needs.get()
    assert (need.is_needed, need.said_by) == (False, lead)
    actions.state_need(project, permission=kind, is_needed=True, by=make_person(Role.CURATOR))
    assert project.needs.get().is_needed


def test_a_need_is_not_taken_back_while_the_project_collects() -> None:
    world = make_collecting()
    kind = make_kinds()["research-committee"]
    with pytest.raises(Conflict, match="goes on being needed"):
        actions.state_need(
            world.project, permission=kind, is_needed=False, reason="r", by=world.lead
        )


def test_start_names_each_permission_that_nobody_has_stated() -> None:
    make_kinds()
    project = make_plan_accepted()
    with pytest.raises(Unsound) as refused:
        actions.start_project(project, by=lead_of(project))
    for name in ("research committee", "university ethics", "risk assessment", "inductions"):
        assert name in refused.value.why
    assert "nobody has said yet" in refused.value.why


def test_start_is_refused_when_no_approval_of_a_body_is_needed() -> None:
    project = make_accepted()
    with pytest.raises(Unsound, match="no approval of a body is needed"):
        actions.start_project(project, by=lead_of(project))


def test_start_is_refused_when_something_needed_is_not_live_and_done_when_all_is() -> None:
    world = make_ready()
    actions.suspend_approval(world.approval, reason="a ray was hurt", by=world.chair)
    with pytest.raises(Unsound, match="suspended"):
        actions.start_project(world.project, by=world.lead)
    actions.reinstate_approval(again(world.approval), reason="seen to", by=world.chair)
    newcomer = make_person(Role.STUDENT)
    assign_member(world.project, person=newcomer, part=Part.STUDENT, by=world.lead)
    with pytest.raises(Unsound) as refused:
        actions.start_project(world.project, by=world.lead)
    assert f"{newcomer} has not signed" in refused.value.why
    assert f"{newcomer} has no live induction" in refused.value.why
    with pytest.raises(NotPermitted):
        actions.start_project(world.project, by=world.student)


def test_start_counts_the_day_of_the_start() -> None:
    world = make_ready(ends_on=timezone.localdate() + timedelta(days=5))
    with (
        time_machine.travel(timezone.now() + timedelta(days=6)),
        pytest.raises(Unsound, match="ran out"),
    ):
        actions.start_project(world.project, by=world.lead)
    assert actions.start_project(world.project, by=world.lead).state == "collecting"


def test_a_project_starts_only_once_its_plan_is_accepted() -> None:
    project = make_written()
    with pytest.raises(Conflict, match="It is drafted now"):
        actions.start_project(project, by=lead_of(project))


# --------------------------------------------------------------------------------------- asking


def test_a_request_is_for_a_permission_that_a_body_approves_and_for_days_in_order() -> None:
    project, (body, _, _) = make_accepted(), make_body()
    with pytest.raises(Unsound, match="not approved by a body"):
        make_request(project, body, kind="data-agreement")
    with pytest.raises(Unsound, match="end before it starts"):
        make_request(project, body, ends_on=timezone.localdate() - timedelta(days=1))
    for weekdays in ("", "18"):
        with pytest.raises(Unsound, match="Monday is 1"):
            make_request(project, body, weekdays=weekdays)
    approval = make_request(project, body, weekdays="531")
    assert (approval.state, approval.weekdays) == ("drafted", "135")


def test_only_the_lead_asks() -> None:
    project, (body, _, _) = make_accepted(), make_body()
    with pytest.raises(NotPermitted):
        actions.request_approval(
            project,
            permission=make_kinds()["research-committee"],
            body=body,
            title="t",
            case="c",
            starts_on=timezone.localdate(),
            ends_on=timezone.localdate(),
            by=make_person(Role.CURATOR),
        )


def test_a_limit_allows_at_least_one_animal_once_and_stands_once() -> None:
    project, (body, _, _) = make_accepted(), make_body()
    approval, lead = make_request(project, body), lead_of(project)
    asked = {"taxon": project.study.taxon, "procedure": make_procedure()}
    with pytest.raises(Unsound, match="at least one animal"):
        actions.add_limit(approval, **asked, max_animals=0, by=lead)
    with pytest.raises(Unsound, match="at least once"):
        actions.add_limit(approval, **asked, max_animals=1, max_contacts_each=0, by=lead)
    limit = actions.add_limit(approval, **asked, max_animals=1, by=lead)
    with pytest.raises(Conflict, match="already"):
        actions.add_limit(approval, **asked, max_animals=2, by=lead)
    actions.add_limit(approval, **asked, life_stage="egg", max_animals=2, by=lead)
    actions.drop_limit(approval, limit=limit, by=lead)
    with pytest.raises(Conflict, match="not in this request"):
        actions.drop_limit(approval, limit=limit, by=lead)


def test_a_request_without_limits_places_or_days_to_come_is_not_submitted() -> None:
    project, (body, _, _) = make_accepted(), make_body()
    lead = lead_of(project)
    bare = make_request(project, body, places=[])
    with pytest.raises(Unsound) as refused:
        actions.submit_approval(bare, by=lead)
    assert "no limits" in refused.value.why
    assert "no places" in refused.value.why
    past = timezone.localdate() - timedelta(days=1)
    late = make_request(project, body, starts_on=past, ends_on=past)
    with pytest.raises(Unsound, match="last day has passed"):
        actions.submit_approval(late, by=lead)


def test_a_request_covers_another_project_of_the_same_lead_alone() -> None:
    lead = make_person(Role.SUPERVISOR)
    project, other = make_accepted(lead=lead), make_accepted(lead=lead)
    approval = make_request(project, make_body()[0])
    with pytest.raises(NotPermitted):
        actions.cover_project(approval, project=make_accepted(), by=lead)
    actions.cover_project(approval, project=other, by=lead)
    assert approval.projects.count() == 2
    with pytest.raises(Conflict, match="covers it already"):
        actions.cover_project(approval, project=other, by=lead)


# --------------------------------------------------------------------------------------- deciding


def test_the_chair_of_its_body_decides_with_a_quorum() -> None:
    approval, chair, member = make_asked()
    for stranger in (member, make_body()[1], make_person(Role.CURATOR)):
        with pytest.raises((NotPermitted, Unseen)):
            actions.grant_approval(approval, decision="d", deciders=[chair, member], by=stranger)
    with pytest.raises(Unsound, match="at least 2"):
        actions.grant_approval(approval, decision="d", deciders=[chair], by=chair)
    with pytest.raises(Unsound, match="at least 2"):
        actions.refuse_approval(approval, reason="r", deciders=[], by=chair)
    granted = actions.grant_approval(approval, decision="d", deciders=[member], by=chair)
    assert (granted.state, granted.decided_by) == ("approved", chair)
    assert set(granted.deciders.all()) == {chair, member}


def test_only_seated_members_take_part() -> None:
    approval, chair, _ = make_asked()
    stranger = make_person(Role.SUPERVISOR)
    with pytest.raises(Unsound, match=f"{stranger} may not take part"):
        actions.grant_approval(approval, decision="d", deciders=[chair, stranger], by=chair)


def test_deciders_never_decide_on_their_own_project() -> None:
    approval, chair, member = make_asked()
    project = approval.projects.get()
    assign_member(project, person=member, part=Part.OBSERVER, by=lead_of(project))
    with pytest.raises(Unsound, match="project of their own"):
        actions.grant_approval(approval, decision="d", deciders=[chair, member], by=chair)
    assign_member(project, person=chair, part=Part.OBSERVER, by=lead_of(project))
    for decide in (
        lambda: actions.grant_approval(approval, decision="d", by=fresh(chair)),
        lambda: actions.refuse_approval(approval, reason="r", by=fresh(chair)),
        lambda: actions.return_approval(approval, reason="r", by=fresh(chair)),
    ):
        with pytest.raises(NotPermitted):
            decide()
    assert not {"approve", "return", "refuse"} & set(can(approval, fresh(chair)))


def test_conditions_are_lines_with_words_and_days_to_come() -> None:
    approval, chair, member = make_asked()
    today = timezone.localdate()
    for bad in ((" ", None), ("A keeper is there.", today - timedelta(days=1))):
        with pytest.raises(Unsound, match="condition"):
            actions.grant_approval(
                approval, decision="d", conditions=[bad], deciders=[member], by=chair
            )
    actions.grant_approval(
        approval,
        decision="d",
        conditions=[("A keeper is there.", today), ("Stop on two bad mornings.", None)],
        deciders=[member],
        by=chair,
    )
    assert [(one.text, one.due_on) for one in approval.conditions.all()] == [
        ("A keeper is there.", today),
        ("Stop on two bad mornings.", None),
    ]


def test_a_request_whose_last_day_has_passed_is_not_granted() -> None:
    approval, chair, member = make_asked(ends_on=timezone.localdate())
    with (
        time_machine.travel(timezone.now() + timedelta(days=1)),
        pytest.raises(Unsound, match="has passed"),
    ):
        actions.grant_approval(approval, decision="d", deciders=[member], by=chair)
    granted = actions.grant_approval(approval, decision="d", deciders=[member], by=chair)
    assert granted.state == "approved"


def test_a_request_goes_back_for_changes_with_a_reason() -> None:
    approval, chair, _ = make_asked()
    with pytest.raises(Unsound, match="No reason"):
        actions.return_approval(approval, reason="", by=chair)
    assert actions.return_approval(approval, reason="Fewer.", by=chair).state == "drafted"


def test_a_request_is_refused_with_a_reason_and_never_live() -> None:
    approval, chair, member = make_asked()
    with pytest.raises(Unsound, match="No reason"):
        actions.refuse_approval(approval, reason=" ", deciders=[member], by=chair)
    refused = actions.refuse_approval(approval, reason="Too many.", deciders=[member], by=chair)
    assert (refused.state, refused.decision) == ("refused", "Too many.")


# ------------------------------------------------------------------------------ once it is granted


def test_a_vet_or_the_chair_suspends_and_only_the_unconcerned_chair_reinstates() -> None:
    approval, chair, member = make_granted()
    vet = make_person(Role.VET)
    for unfit in (member, lead_of(approval.projects.get())):
        with pytest.raises(NotPermitted):
            actions.suspend_approval(approval, reason="r", by=unfit)
    with pytest.raises(Unsound, match="No reason"):
        actions.suspend_approval(approval, reason="", by=vet)
    actions.suspend_approval(approval, reason="a ray was hurt", by=vet)
    with pytest.raises(NotPermitted):
        actions.reinstate_approval(again(approval), reason="r", by=vet)
    with pytest.raises(Unsound, match="No reason"):
        actions.reinstate_approval(again(approval), reason="", by=chair)
    actions.reinstate_approval(again(approval), reason="seen to", by=chair)
    pause = approval.pauses.get()
    assert (pause.began_on, pause.ended_on) == (timezone.localdate(), timezone.localdate())
    assert again(approval).state == "approved"


def test_withdrawing_needs_a_reason_and_ends_it_that_day() -> None:
    approval, chair, _ = make_granted()
    with pytest.raises(Unsound, match="No reason"):
        actions.withdraw_approval(approval, reason="", by=chair)
    withdrawn = actions.withdraw_approval(approval, reason="no longer sound", by=chair)
    assert (withdrawn.state, withdrawn.ended_on) == ("withdrawn", timezone.localdate())


def test_the_lead_closes_an_approval_whose_work_is_done() -> None:
    approval, _, _ = make_granted()
    with pytest.raises(NotPermitted):
        actions.close_approval(approval, by=make_person(Role.SUPERVISOR))
    closed = actions.close_approval(approval, by=lead_of(approval.projects.get()))
    assert (closed.state, closed.ended_on) == ("closed", timezone.localdate())


def test_evidence_is_given_once_for_a_condition_of_this_approval() -> None:
    approval, _, _ = make_granted(conditions=[("A keeper is there.", None)])
    other, _, _ = make_granted(conditions=[("Another.", None)])
    lead, condition = lead_of(approval.projects.get()), approval.conditions.get()
    with pytest.raises(Conflict, match="another approval"):
        actions.give_evidence(approval, condition=other.conditions.get(), evidence="e", by=lead)
    with pytest.raises(Unsound, match="no evidence"):
        actions.give_evidence(approval, condition=condition, evidence=" ", by=lead)
    actions.give_evidence(approval, condition=condition, evidence="Initials.", by=lead)
    condition.refresh_from_db()
    assert (condition.standing, condition.met_by) == ("met", lead)
    with pytest.raises(Conflict, match="met already"):
        actions.give_evidence(approval, condition=condition, evidence="again", by=lead)


def test_a_condition_is_overdue_once_its_day_has_passed() -> None:
    today = timezone.localdate()
    approval, _, _ = make_granted(conditions=[("A keeper is there.", today)])
    condition = approval.conditions.get()
    assert condition.standing == "due"
    rows = type(condition).objects
    assert not rows.overdue_on(today).exists()
    assert rows.overdue_on(today + timedelta(days=1)).get() == condition


# ------------------------------------------------------------------------------------- amendments


def test_an_amendment_copies_all_and_replaces_its_parent_from_its_first_day() -> None:
    approval, chair, member = make_granted()
    lead, day = lead_of(approval.projects.get()), timezone.localdate() + timedelta(days=7)
    amendment = actions.amend_approval(
        approval, title="May it use sixteen?", starts_on=day, by=lead
    )
    assert (amendment.state, amendment.amends) == ("drafted", approval)
    assert [one.max_animals for one in amendment.limits.all()] == [12]
    assert list(amendment.places.all()) == list(approval.places.all())
    assert list(amendment.projects.all()) == list(approval.projects.all())
    with pytest.raises(Conflict, match="is under way"):
        actions.amend_approval(approval, title="Another", by=lead)
    actions.submit_approval(amendment, by=lead)
    assert again(approval).superseded_on is None
    actions.grant_approval(again(amendment), decision="d", deciders=[member], by=chair)
    assert again(approval).superseded_on == day
    assert again(approval).state == "approved"
    with pytest.raises(Conflict, match="An amendment has replaced it"):
        actions.amend_approval(approval, title="Another", by=lead)


def test_an_amendment_of_what_is_no_part_of_an_approval_is_refused() -> None:
    approval, _, _ = make_granted()
    lead = lead_of(approval.projects.get())
    with pytest.raises(Unsound, match="no state"):
        actions.amend_approval(approval, state="approved", by=lead)
    with pytest.raises(Unsound, match="end before it starts"):
        actions.amend_approval(approval, ends_on=timezone.localdate() - timedelta(days=1), by=lead)
    with pytest.raises(Unsound, match="Monday is 1"):
        actions.amend_approval(approval, weekdays="", by=lead)
    with pytest.raises(NotPermitted):
        actions.amend_approval(approval, by=make_person(Role.SUPERVISOR))


def test_an_amendment_is_not_granted_from_a_past_day_or_of_what_is_not_in_force() -> None:
    approval, chair, member = make_granted()
    lead = lead_of(approval.projects.get())
    amendment = actions.amend_approval(approval, by=lead)
    actions.submit_approval(amendment, by=lead)
    with (
        time_machine.travel(timezone.now() + timedelta(days=1)),
        pytest.raises(Unsound, match="begin on a day that has passed"),
    ):
        actions.grant_approval(again(amendment), decision="d", deciders=[member], by=chair)
    actions.suspend_approval(again(approval), reason="r", by=chair)
    with pytest.raises(Conflict, match="not in force"):
        actions.grant_approval(again(amendment), decision="d", deciders=[member], by=chair)
    actions.reinstate_approval(again(approval), reason="r", by=chair)
    actions.grant_approval(again(amendment), decision="d", deciders=[member], by=chair)
    assert again(approval).superseded_on == timezone.localdate()


def test_a_decision_is_in_the_ledger_with_deciders_and_reason() -> None:
    approval, chair, member = make_granted()
    entry = Entry.objects.get(verb="approval.approve")
    assert (entry.before, entry.after, entry.reason) == ("submitted", "approved", "Sound.")
    assert str(sorted([chair.pk, member.pk])).replace(" ", "") in entry.text
    assert entry.project_number == approval.projects.get().pk


def test_nothing_is_asked_for_a_project_that_is_over() -> None:
    world = make_collecting()
    project = Project.objects.get(pk=world.project.pk)
    assert "request_approval" in can(project, world.lead)
    assert "request_approval" not in can(fresh_project(project), world.student)
