"""A supervisor and a student design a study by the pages, on a phone and without a script."""

from typing import Any

import pytest

from registry.permissions import Role
from registry.projects.actions import accept_plan
from registry.projects.models import Allocation
from tests.worlds.animals import make_animal, make_enclosure, make_taxon
from tests.worlds.browsing import DESK, PHONE, Visitor
from tests.worlds.people import fresh, make_person
from tests.worlds.projects import lead_of, make_written, student_of

pytestmark = [
    pytest.mark.browser,
    pytest.mark.journey,
    pytest.mark.django_db(transaction=True),
]


@pytest.fixture
def window(live_server: Any, new_context: Any) -> Any:
    def opened(person: Any, *, is_on_phone: bool) -> Visitor:
        context = new_context(
            base_url=live_server.url,
            viewport=PHONE if is_on_phone else DESK,
            java_script_enabled=False,
        )
        visitor = Visitor(fresh(person), context.new_page(), is_on_phone)
        visitor.sign_in()
        return visitor

    return opened


def test_a_design_goes_from_the_first_question_to_a_sealed_key_without_a_script(
    window: Any,
) -> None:
    taxon, place = make_taxon(), make_enclosure()
    for _ in range(12):
        make_animal(taxon=taxon, enclosure=place)
    project = make_written(taxon=taxon, places=[place])
    lead = window(lead_of(project), is_on_phone=False)
    student = window(student_of(project), is_on_phone=True)

    # The student works it out on a phone, and takes it into the plan.
    student.page.goto(f"/studies/projects/{project.pk}/plan/")
    student.follows("How many, and what can be found")
    student.follows("Two groups")
    student.types(Standard_deviation="1", Smallest_effect_that_would_matter="1.2")
    student.main.get_by_text("What the collection can bear").click()
    student.chooses("Animals", str(taxon))
    student.presses("Work it out")
    student.reads("You need 24, and can have 12.", "Or pool 2 cohorts", "What is assumed")
    student.presses(f"Use this in the plan of {project}")
    student.reads("It stands in the plan now")

    # The lead says who gets what and when to look, and who holds the key.
    lead.page.goto("/design/")
    lead.follows("Who gets what")
    lead.chooses("Method", "complete: all at once")
    lead.types(Treatments="still, brisk", Units="8")
    lead.presses("Draw it")
    lead.reads("Who gets what, by this draw", "To draw it again")
    lead.presses(f"Use this in the plan of {project}")
    lead.page.goto("/design/draw/schedule/")
    lead.types(Animals="R1, R2, R3", From="2027-05-03", Until="2027-05-14")
    lead.types(Times_of_day="10:00 quiet\n14:00 busy")
    lead.presses("Draw it")
    lead.reads("20 sessions", "animal × position")
    lead.presses(f"Use this in the plan of {project}")
    lead.page.goto(f"/studies/projects/{project.pk}/write_plan/")
    lead.picks(lead.person.name)
    lead.presses("Keep the plan")
    lead.page.goto(f"/studies/projects/{project.pk}/submit/")
    lead.presses("Submit the plan")

    # Somebody else accepts it: the key is drawn, and the student stays blind.
    accept_plan(project, by=make_person(Role.SUPERVISOR))
    sealed = Allocation.objects.get(plan__project=project)
    lead.page.goto(f"/studies/projects/{project.pk}/plan/")
    lead.follows("Units, codes and the sealed key")
    lead.follows("Open the key")
    lead.reads("This is the key.", "brisk")
    student.page.goto(sealed.get_absolute_url())
    student.reads(sealed.codes["1"], lead.person.name)
    assert not student.offers("Open the key")
    student.page.goto(f"/studies/projects/{project.pk}/plan/")
    student.follows("on one page, to print")
    student.reads("4. Randomisation", sealed.commitment, "20 sessions")
    lead.page.goto(sealed.get_absolute_url())
    lead.follows("Reveal the key")
    lead.types(Why_now="The data are in, and the analysis is fixed.")
    lead.presses("Reveal the key")
    student.page.goto(sealed.get_absolute_url())
    student.follows("Open the key")
    student.reads(sealed.seed, "the allocation is the same")
