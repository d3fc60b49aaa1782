"""What Today and the morning's letter say of approvals that run out, and of stale screenings."""

from datetime import timedelta

import pytest
import time_machine
from django.utils import timezone

from registry.approvals.actions import amend_approval, screen_procedure
from registry.approvals.screens import Said
from registry.desk.letters import digest_of
from registry.desk.models import MailChoice
from registry.desk.needs import Need, needs_of
from registry.people.actions import plan_meeting
from registry.people.models import Person
from registry.permissions import Role
from registry.projects.models import Project
from tests.worlds.approvals import make_asked, make_collecting
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of, student_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def told(person: Person, words: str) -> list[Need]:
    return [one for one in needs_of(person, timezone.localdate()) if words in one.what]


@pytest.mark.postgres
def test_an_approval_that_runs_out_is_told_to_its_members_and_by_letter_on_three_days() -> None:
    world = make_collecting(ends_on=timezone.localdate() + 70 * DAY)
    assert told(world.lead, "runs out") == []
    by_letter = []
    for ahead in (60, 59, 30, 8, 7, 6):
        with time_machine.travel(timezone.now() + (70 - ahead) * DAY, tick=False):
            today = timezone.localdate()
            assert [one.step for one in told(world.lead, "runs out")] == ["Ask for more time"]
            assert [one.step for one in told(world.student, "runs out")] == ["See the approval"]
            digest = digest_of(world.student, today, timezone.now())
            if digest.is_wanted(MailChoice.How.DUE):
                by_letter.append(ahead)
    assert by_letter == [60, 30, 7]
    amend_approval(world.approval, ends_on=timezone.localdate() + 300 * DAY, by=world.lead)
    with time_machine.travel(timezone.now() + 10 * DAY, tick=False):
        assert "under way" in told(world.lead, "runs out")[0].why


def test_a_stale_screening_is_told_to_the_vet_who_screens_and_to_the_lead() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    screen_procedure(
        world.project,
        procedure=world.procedure,
        taxon=world.taxon,
        life_stage="adult",
        told=Said("uk", "scientific", "none"),
        answer="not regulated",
        by=vet,
    )
    assert told(vet, "Screen again") == []
    # Straight into the row: whatever deed changes the plan, the screening is stale.
    Project.objects.filter(pk=world.project.pk).update(ends_on=world.project.ends_on + DAY)
    assert [one.step for one in told(vet, "Screen again")] == ["Screen it"]
    assert [one.step for one in told(world.lead, "Screen again")] == ["See the project"]
    assert told(make_collecting().lead, "Screen again") == []


def test_what_a_body_is_asked_and_nobody_screened_is_told_to_the_vet_and_the_chair() -> None:
    approval, chair, _ = make_asked()
    vet = make_person(Role.VET)
    assert len(told(vet, "Not screened yet")) == len(told(chair, "Not screened yet")) == 1
    assert told(lead_of(approval.projects.get()), "Not screened yet") == []


def test_a_request_that_comes_too_late_for_a_course_is_told_to_the_student() -> None:
    approval, chair, _ = make_asked()
    project = approval.projects.get()
    plan_meeting(approval.body, held_on=project.ends_on + DAY, by=chair)
    for person in (student_of(project), lead_of(project)):
        assert [one.url for one in told(person, "too late")] == ["/studies/approvals/calendar/"]
    plan_meeting(approval.body, held_on=project.ends_on, by=chair)
    assert told(student_of(project), "too late") == []
