"""Deeds on uses: nothing that happened is refused into silence."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from registry.approvals.actions import suspend_approval
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.oversight import actions
from registry.oversight.counting import AsOf, Subject, contacts_of, distinct_animals
from registry.oversight.facts import loads_of, use_rows
from registry.oversight.models import Enrolment, Use
from registry.oversight.used import enrolment_rows
from registry.permissions import Role, can
from registry.projects.actions import abandon_project
from tests.worlds.animals import (
    days_ago,
    make_animal,
    make_enclosure,
    make_group,
    make_restriction,
    make_taxon,
)
from tests.worlds.approvals import induct, make_collecting
from tests.worlds.oversight import (
    make_enrolled,
    make_handling,
    make_planned_session,
    make_two_under_one,
    make_use,
)
from tests.worlds.people import fresh, make_person
from tests.worlds.projects import make_procedure

pytestmark = pytest.mark.django_db


def codes(use: Use) -> list[str]:
    return sorted(use.breaches.values_list("code", flat=True))


def test_a_use_within_every_limit_opens_no_breach() -> None:
    world = make_handling()
    use = make_use(world)
    assert codes(use) == []
    assert (use.severity, use.place, use.state) == (1, world.place, "standing")
    assert Entry.objects.get(verb="project.record_use").project_number == world.project.pk


def test_an_animal_that_was_never_enrolled_is_recorded_and_is_a_breach() -> None:
    world = make_handling()
    animal = make_animal(taxon=world.taxon, enclosure=world.place)
    use = make_use(world, animal=animal)
    assert (codes(use), use.enrolment) == (["not-enrolled"], None)
    breach = use.breaches.get()
    assert (breach.state, breach.animal, breach.happened_on) == ("opened", animal, days_ago(0))
    (enrolment,) = make_enrolled(world, 1)
    found = make_use(world, animal=enrolment.animal)
    assert (codes(found), found.enrolment) == ([], enrolment)


def test_a_day_outside_the_enrolment_and_the_booking_is_a_breach() -> None:
    world = make_handling(days_ago=10)
    (enrolment,) = make_enrolled(world, 1, starts_on=days_ago(5), from_on=days_ago(4))
    early = make_use(world, enrolment, happened_at=timezone.now() - timedelta(days=6))
    assert codes(early) == ["not-enrolled", "outside-booking"]
    between = make_use(world, enrolment, happened_at=timezone.now() - timedelta(days=5))
    assert codes(between) == ["not-enrolled"]
    assert codes(make_use(world, enrolment)) == []


def test_a_use_under_a_restriction_is_a_breach_and_watching_under_observation_only_is_not() -> None:
    world = make_handling()
    (enrolment,) = make_enrolled(world, 1)
    assert codes(make_use(world, enrolment)) == []
    make_restriction(enrolment.animal, strength="observation_only")
    assert codes(make_use(world, enrolment)) == ["restricted"]
    watched = make_use(world, enrolment, procedure=make_procedure("watching-outside"))
    assert "restricted" not in codes(watched)


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"severity": 3}, ["over-severity"]),
        ({"procedure": "netting"}, ["procedure-not-covered"]),
        ({"place": "elsewhere"}, ["place-not-approved"]),
        ({"by": "lead"}, ["person-not-named"]),
    ],
)
def test_each_limit_of_an_approval_that_is_passed_is_a_breach(
    changes: dict[str, Any], found: list[str]
) -> None:
    world = make_handling()
    world.approval.people.set([world.student])
    induct(world.lead, by=world.curator)
    given: dict[str, Any] = {
        "elsewhere": make_enclosure(),
        "lead": world.lead,
        "netting": make_procedure("netting"),
    }
    (enrolment,) = make_enrolled(world, 1)
    assert codes(make_use(world, enrolment)) == []
    use = make_use(world, enrolment, **{k: given.get(v, v) for k, v in changes.items()})
    assert codes(use) == found
    assert {one.approval for one in use.breaches.all()} == {world.approval}


def test_a_suspended_approval_is_a_breach_on_the_day_and_not_before_it() -> None:
    world = make_handling(days_ago=3)
    (enrolment,) = make_enrolled(world, 1, starts_on=days_ago(3), from_on=days_ago(3))
    suspend_approval(world.approval, reason="Look again.", by=make_person(Role.VET))
    assert codes(make_use(world, enrolment)) == ["suspended"]
    before = make_use(world, enrolment, happened_at=timezone.now() - timedelta(days=1))
    assert codes(before) == []


def test_contacts_beyond_the_booking_and_the_approval_are_breaches() -> None:
    world = make_handling(max_contacts_each=2)
    (enrolment,) = make_enrolled(world, 1, max_contacts_each=1)
    assert codes(make_use(world, enrolment)) == []
    second = make_use(world, enrolment)
    assert [(one.code, one.approval) for one in second.breaches.all()] == [("over-contacts", None)]
    assert codes(make_use(world, enrolment)) == ["over-contacts", "over-contacts"]


def test_an_animal_beyond_the_number_is_a_breach_over_all_projects() -> None:
    first, second = make_two_under_one(max_animals=1)
    make_enrolled(first, 1)
    animal = make_animal(taxon=first.taxon, enclosure=first.place)
    assert codes(make_use(second, animal=animal)) == ["not-enrolled", "over-animals"]


def test_more_severity_than_the_plan_expects_is_a_breach_though_the_approval_allows_it() -> None:
    world = make_handling(max_severity=3)
    (enrolment,) = make_enrolled(world, 1)
    use = make_use(world, enrolment, severity=2)
    assert [(one.code, one.approval) for one in use.breaches.all()] == [("over-severity", None)]


def test_another_kind_of_animal_is_a_breach() -> None:
    world = make_handling()
    lumpfish = make_taxon("Cyclopterus lumpus", "lumpfish", "bony_fish")
    group = make_group(taxon=lumpfish, enclosure=world.place)
    use = make_use(world, group=group, number=4)
    assert codes(use) == ["not-enrolled", "taxon-not-covered"]
    assert use.breaches.filter(group=group).count() == 2


def test_a_late_entry_is_marked_and_is_no_breach() -> None:
    world = make_handling(days_ago=20)
    (enrolment,) = make_enrolled(world, 1, starts_on=days_ago(20), from_on=days_ago(20))
    on_time = make_use(world, enrolment, happened_at=timezone.now() - timedelta(days=7))
    late = make_use(world, enrolment, happened_at=timezone.now() - timedelta(days=8))
    assert (on_time.is_late, on_time.days_late) == (False, 7)
    assert (late.is_late, late.days_late, codes(late)) == (True, 8, [])


def test_what_cannot_be_is_refused() -> None:
    world, other = make_handling(), make_handling()
    (enrolment,) = make_enrolled(world, 1)
    (stranger,) = make_enrolled(other, 1)
    for changes, why in (
        ({"happened_at": timezone.now() + timedelta(minutes=1)}, "has not happened yet"),
        ({"animal": enrolment.animal}, "Not exactly one"),
        ({"enrolment": stranger}, "enrolled in another project"),
        ({"number": 2}, "An animal is one"),
        ({"session": make_planned_session(other)}, "of another project"),
    ):
        with pytest.raises(Unsound, match=why):
            make_use(world, **{"enrolment": enrolment, **changes})
    with pytest.raises(NotPermitted):
        make_use(world, enrolment, by=make_person(Role.CURATOR))
    assert make_use(world, enrolment).pk
    abandon_project(world.project, reason="over", by=world.lead)
    with pytest.raises(Conflict):
        make_use(world, enrolment)


def test_a_wrong_entry_is_taken_back_beside_it_and_counts_no_more() -> None:
    world = make_handling(max_contacts_each=1)
    (enrolment,) = make_enrolled(world, 1)
    wrong = make_use(world, enrolment)
    known = timezone.now()
    with pytest.raises(Unsound, match="No reason"):
        actions.reverse_use(wrong, reason=" ", by=world.student)
    reversing = actions.reverse_use(wrong, reason="The other ray.", by=world.student)
    wrong = Use.objects.get(pk=wrong.pk)
    assert (wrong.state, reversing.state) == ("reversed", "reversing")
    assert "reverse" not in can(wrong, fresh(world.student))
    who = f"taken back already, by {world.student}"
    for again, said in ((wrong, who), (reversing, "is itself the entry")):
        with pytest.raises(Conflict, match=said):
            actions.reverse_use(again, reason="again", by=world.student)
    assert list(Use.objects.standing()) == []
    assert codes(make_use(world, enrolment)) == []
    rows = use_rows(Use.objects.all())
    subject = Subject("animal", enrolment.animal_id)
    assert contacts_of(rows) == {subject: 1}
    # As it was known then, the first entry stands and the later one is not there yet.
    assert contacts_of(rows, AsOf(known_by=known)) == {subject: 1}
    assert [one.pk for one in Use.objects.known_by(known)] == [wrong.pk]
    assert loads_of([enrolment.animal], [], days_ago(0)) == {subject: {7: 1, 28: 1, 365: 1}}
    entries = enrolment_rows(Enrolment.objects.filter(project=world.project))
    assert distinct_animals(entries, rows) == 1


def test_a_breach_of_an_entry_that_is_taken_back_is_still_to_be_explained() -> None:
    world = make_collecting()
    use = make_use(world, animal=make_animal(taxon=world.taxon, enclosure=world.place))
    actions.reverse_use(use, reason="Wrong code.", by=world.student)
    assert use.breaches.get().state == "opened"
