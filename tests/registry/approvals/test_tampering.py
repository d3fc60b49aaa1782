"""Ways to get round a body's decision, each as every role and by page, API and shell.

Each is refused, or found by the check of the ledger; what happened is never refused into silence.
"""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from registry.approvals import actions
from registry.approvals.models import Approval, Pause
from registry.errors import NotPermitted, Unseen, Unsound
from registry.ledger import proof
from registry.ledger.models import subject_of
from registry.oversight.actions import enrol_animals
from registry.oversight.models import Enrolment
from registry.people.models import Person
from registry.permissions import STANDINGS, Part, Role
from registry.projects.actions import assign_member
from tests.worlds.approvals import World, make_asked, make_collecting
from tests.worlds.oversight import make_confirmed_booking, make_enrolled, make_use
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of, student_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
NO = {403, 404, 422}


def everyone_but_the_chair(approval: Approval, member: Person) -> dict[str, Person]:
    """Give a person of each standing, and those who have a part in it."""
    project = approval.projects.get()
    return {str(role.label): make_person(role) for role in STANDINGS} | {
        "all standings at once": make_person(*STANDINGS),
        "its lead": lead_of(project),
        "its student": student_of(project),
        "a member of the body": member,
    }


def ask(person: Person, address: str, sent: dict[str, Any]) -> tuple[int, int]:
    """Send a deed as a page does and as a program does; give what each was answered."""
    browser, api = Client(), APIClient()
    browser.force_login(person)
    api.force_authenticate(person)
    page = browser.post(f"/studies/{address}", sent)
    return page.status_code, api.post(f"/api/v1/{address}", sent, format="json").status_code


@pytest.mark.postgres
def test_nobody_approves_but_the_chair_and_the_chair_not_a_project_of_their_own() -> None:
    approval, chair, member = make_asked()
    sent = {"reason": "Sound.", "deciders": [member.pk], "outcome": "approve"}
    people = everyone_but_the_chair(approval, member)
    project = approval.projects.get()
    assign_member(project, person=chair, part=Part.OBSERVER, by=lead_of(project))
    for who, person in {**people, "the chair, now a member": chair}.items():
        assert set(ask(person, f"approvals/{approval.pk}/approve/", sent)) <= NO, who
        with pytest.raises((NotPermitted, Unseen)):
            actions.grant_approval(approval, decision="Sound.", deciders=[member], by=person)
    assert Approval.objects.get(pk=approval.pk).state == "submitted"


def test_a_decision_is_of_the_moment_at_which_it_was_recorded_whatever_was_sent() -> None:
    approval, chair, member = make_asked()
    before = timezone.now()
    sent = {
        "reason": "Sound.",
        "deciders": [chair.pk, member.pk],
        "decided_at": "2020-01-01T00:00:00Z",
        "state": "closed",
    }
    api = APIClient()
    api.force_authenticate(chair)
    assert api.post(f"/api/v1/approvals/{approval.pk}/approve/", sent).status_code == 200
    decided = Approval.objects.get(pk=approval.pk)
    assert decided.state == "approved"
    assert decided.decided_at is not None
    assert before <= decided.decided_at <= timezone.now()


@pytest.mark.parametrize(
    "change",
    [
        pytest.param({"state": "approved"}, id="approved by hand"),
        pytest.param({"decided_at": "2020-01-01T00:00:00Z"}, id="back-dated"),
        pytest.param({"max_severity": 3}, id="a higher severity"),
        pytest.param({"ends_on": "2099-01-01"}, id="a later last day"),
    ],
)
def test_what_is_re_written_in_the_shell_is_found(change: dict[str, Any]) -> None:
    approval, *_ = make_asked()
    assert proof.check(with_subjects=True)[0] == []
    Approval.objects.filter(pk=approval.pk).update(**change)
    found, _ = proof.check(with_subjects=True)
    assert any(subject_of(approval) in fault.what for fault in found), found


def test_a_suspension_that_is_lifted_or_back_dated_in_the_shell_is_found() -> None:
    world = make_collecting()
    actions.suspend_approval(world.approval, reason="Fins.", by=make_person(Role.VET))
    assert proof.check(with_subjects=True)[0] == []
    pause = Pause.objects.get()
    for change in ({"began_on": pause.began_on + DAY}, {"ended_on": pause.began_on}):
        Pause.objects.filter(pk=pause.pk).update(**change)
        found, _ = proof.check(with_subjects=True)
        assert any(subject_of(pause) in fault.what for fault in found), change
        Pause.objects.filter(pk=pause.pk).update(began_on=pause.began_on, ended_on=None)
    Pause.objects.all().delete()
    assert any(subject_of(pause) in fault.what for fault in proof.check(with_subjects=True)[0])


def _suspended(world: World) -> timedelta:
    actions.suspend_approval(world.approval, reason="Fins.", by=make_person(Role.VET))
    return timedelta()


def _lapsed(world: World) -> timedelta:
    return timedelta(days=(world.approval.ends_on - timezone.localdate()).days + 1)


@pytest.mark.parametrize(
    ("make", "code"),
    [
        pytest.param(_suspended, "suspended", id="suspended"),
        pytest.param(_lapsed, "outside-dates", id="lapsed"),
    ],
)
def test_no_animal_enters_under_what_is_suspended_or_lapsed_and_a_use_becomes_a_breach(
    make: Any, code: str
) -> None:
    world = make_collecting(ends_on=timezone.localdate() + 5 * DAY)
    booking = make_confirmed_booking(world)
    used = make_enrolled(world, 1)[0]
    after = make(world)
    subjects = list(booking.subjects.all())
    with time_machine.travel(timezone.now() + after, tick=False):
        day = timezone.localdate()
        sent = {"subjects": [one.pk for one in subjects], "from_on": day.isoformat()}
        people = [world.student, world.lead, world.curator, make_person(Role.VET), world.chair]
        for person in people:
            browser, api = Client(), APIClient()
            browser.force_login(person)
            api.force_authenticate(person)
            answers = {
                browser.post(f"/oversight/bookings/{booking.pk}/enrol/", sent).status_code,
                api.post(f"/api/v1/bookings/{booking.pk}/enrol/", sent).status_code,
            }
            assert answers <= NO, person
        with pytest.raises(Unsound):
            enrol_animals(booking, subjects=subjects, from_on=day, by=world.student)
        # It happened all the same: it is written down, and must be explained.
        use = make_use(world, used)
        assert code in {one.code for one in use.breaches.all()}
    assert Enrolment.objects.count() == 1


def test_a_vet_or_the_chair_suspends_at_once_and_nobody_else() -> None:
    world = make_collecting()
    address = f"approvals/{world.approval.pk}/suspend/"
    people = everyone_but_the_chair(world.approval, world.member)
    may = {Role.VET.label, "all standings at once"}
    for who, person in people.items():
        if who not in may:
            assert set(ask(person, address, {"reason": "Fins."})) <= NO, who
    assert Approval.objects.get(pk=world.approval.pk).state == "approved"
    actions.suspend_approval(world.approval, reason="Fins.", by=world.chair)
    assert Pause.objects.get().began_on == timezone.localdate()
