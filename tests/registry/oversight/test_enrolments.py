"""Deeds on enrolments."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.utils import timezone

from registry.animals.models import LifeStage, Restriction
from registry.approvals.actions import suspend_approval
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.oversight import actions
from registry.oversight.models import Booking, Enrolment
from registry.permissions import Role
from registry.projects.actions import abandon_project, halt_project
from tests.worlds.animals import (
    days_ago,
    make_animal,
    make_enclosure,
    make_group,
    make_restriction,
    make_taxon,
)
from tests.worlds.approvals import World, make_collecting, make_ready
from tests.worlds.oversight import (
    make_confirmed_booking,
    make_enrolled,
    make_handling,
    make_offered_booking,
    make_two_under_one,
    make_use,
)
from tests.worlds.people import make_person
from tests.worlds.projects import make_procedure

pytestmark = pytest.mark.django_db


def enrol(world: World, booking: Booking, **changes: Any) -> list[Enrolment]:
    """Enrol all that is booked from today, unless said otherwise."""
    given = {
        "subjects": list(booking.subjects.all()),
        "from_on": timezone.localdate(),
        "by": world.student,
        **changes,
    }
    return actions.enrol_animals(booking, **given)


def test_animals_enter_under_their_own_codes_or_those_given() -> None:
    world = make_collecting()
    booking = make_confirmed_booking(world, 2)
    first, second = booking.subjects.all()
    arm = world.project.plan.arms.get()
    enrolments = enrol(world, booking, codes={second.pk: "U-02"}, arm=arm, unit="pool 1")
    assert [one.code for one in enrolments] == [first.animal.code, "U-02"]
    assert {(one.arm, one.unit, one.state) for one in enrolments} == {(arm, "pool 1", "enrolled")}
    entry = Entry.objects.get(verb="booking.enrol")
    assert (entry.before, entry.after) == ("confirmed", "confirmed")


def test_a_project_takes_animals_once_its_plan_is_accepted_and_not_when_halted() -> None:
    accepted = make_ready()
    assert enrol(accepted, make_confirmed_booking(accepted))
    halted = make_collecting()
    booking = make_confirmed_booking(halted)
    halt_project(halted.project, reason="A ray stopped feeding.", by=make_person(Role.KEEPER))
    with pytest.raises(Conflict, match="halted"):
        enrol(halted, booking)
    abandon_project(halted.project, reason="no use", by=halted.lead)
    with pytest.raises(Conflict, match="abandoned"):
        enrol(halted, booking)


def test_only_a_confirmed_booking_gives_animals() -> None:
    world = make_collecting()
    booking = make_offered_booking(world)
    with pytest.raises(Conflict):
        enrol(world, booking)
    actions.confirm_booking(booking, by=world.curator)
    with pytest.raises(NotPermitted):
        enrol(world, booking, by=world.curator)
    assert len(enrol(world, booking)) == 2


def test_only_what_is_booked_enters_within_the_days_and_in_an_arm_of_the_plan() -> None:
    world, other = make_collecting(), make_collecting()
    soon = timezone.localdate() + timedelta(days=9)
    booking = make_confirmed_booking(world, ends_on=soon)
    strange = make_confirmed_booking(other).subjects.all()
    with pytest.raises(Unsound, match="Nothing was chosen"):
        enrol(world, booking, subjects=[])
    with pytest.raises(Unsound, match="not in this booking"):
        enrol(world, booking, subjects=list(strange))
    with pytest.raises(Unsound, match="The booking is from"):
        enrol(world, booking, from_on=soon + timedelta(days=1))
    with pytest.raises(Unsound, match="not in the plan"):
        enrol(world, booking, arm=other.project.plan.arms.get())
    assert enrol(world, booking, arm=world.project.plan.arms.get(), from_on=soon)


def test_an_animal_enters_once_and_a_code_names_one() -> None:
    world = make_collecting()
    first, second = make_confirmed_booking(world, 2).subjects.all()
    booking = first.booking
    enrol(world, booking, subjects=[first])
    with pytest.raises(Unsound, match="enrolled in this project already"):
        enrol(world, booking, subjects=[first], codes={first.pk: "again"})
    with pytest.raises(Conflict, match="name something else"):
        enrol(world, booking, subjects=[second], codes={second.pk: first.animal.code})
    assert enrol(world, booking, subjects=[second])[0].code == second.animal.code


def test_a_group_enters_by_number_up_to_what_was_booked() -> None:
    world = make_collecting()
    group = make_group(taxon=world.taxon, enclosure=world.place)
    booking = make_confirmed_booking(world, groups=[(group, 7)])
    with pytest.raises(Unsound, match=r"7 of .* are booked"):
        enrol(world, booking, number=8)
    (five,) = enrol(world, booking, number=5)
    assert (five.number, five.code) == (5, group.code)
    with pytest.raises(Unsound, match="5 of them enrolled"):
        enrol(world, booking, number=3, codes={booking.subjects.get().pk: "rest"})
    (two,) = enrol(world, booking, number=2, codes={booking.subjects.get().pk: "rest"})
    assert two.number == 2


def test_a_restriction_bars_and_observation_only_lets_watchers_in() -> None:
    watching, handling = make_collecting(), make_handling()
    for world in (watching, handling):
        booking = make_confirmed_booking(world, 1)
        animal = booking.subjects.get().animal
        make_restriction(animal, strength=Restriction.Strength.OBSERVATION_ONLY)
        if world is handling:
            with pytest.raises(Unsound, match="observation only"):
                enrol(world, booking)
        else:
            assert enrol(world, booking)
    booking = make_confirmed_booking(watching, 1)
    make_restriction(booking.subjects.get().animal)
    with pytest.raises(Unsound, match="bars all research"):
        enrol(watching, booking)


@pytest.mark.parametrize(
    ("ready", "why"),
    [
        ({"starts_on": days_ago(-3)}, "holds from"),
        ({"life_stage": "pup"}, "covers undulate ray as pup"),
        ({"max_severity": 0, "procedure": "weighing-measuring"}, "allows sub-threshold at most"),
    ],
)
def test_what_an_approval_does_not_cover_is_refused_and_named(
    ready: dict[str, Any], why: str
) -> None:
    if "procedure" in ready:
        ready = {**ready, "procedure": make_procedure(ready["procedure"])}
    world = make_ready(**ready)
    booking = make_confirmed_booking(world, 1)
    with pytest.raises(Unsound, match=why):
        enrol(world, booking)
    assert not world.project.enrolments.exists()


def test_a_day_of_the_week_that_is_not_approved_is_refused() -> None:
    today = timezone.localdate()
    world = make_ready(weekdays=str(today.isoweekday()))
    booking = make_confirmed_booking(world, 1)
    with pytest.raises(Unsound, match="allows"):
        enrol(world, booking, from_on=today + timedelta(days=1))
    assert enrol(world, booking)


def test_another_taxon_or_place_is_not_covered() -> None:
    world = make_collecting()
    lumpfish = make_taxon("Cyclopterus lumpus", "lumpfish", "bony_fish")
    stranger = make_animal(taxon=lumpfish, enclosure=world.place)
    elsewhere = make_animal(taxon=world.taxon, enclosure=make_enclosure("QX", name="Quarantine"))
    here = make_animal(taxon=world.taxon, enclosure=world.place, life_stage=LifeStage.ADULT)
    booking = make_confirmed_booking(world, animals=[stranger, elsewhere, here])
    first, second, third = booking.subjects.all()
    with pytest.raises(Unsound, match="does not cover lumpfish"):
        enrol(world, booking, subjects=[first])
    with pytest.raises(Unsound, match="does not name Quarantine"):
        enrol(world, booking, subjects=[second])
    assert enrol(world, booking, subjects=[third])


def test_a_suspended_approval_covers_nothing() -> None:
    world = make_collecting()
    booking = make_confirmed_booking(world)
    suspend_approval(world.approval, reason="Two rays were hurt.", by=make_person(Role.VET))
    with pytest.raises(Unsound, match="is suspended on"):
        enrol(world, booking)


def test_an_induction_that_ran_out_is_named() -> None:
    world = make_collecting(ends_on=days_ago(-290))
    booking = make_confirmed_booking(world)
    world.student.inductions.update(expires_on=days_ago(-4))
    with pytest.raises(Unsound, match=f"{world.student.name} does not hold it"):
        enrol(world, booking, from_on=days_ago(-5))
    assert enrol(world, booking, from_on=days_ago(-4))


def test_numbers_count_across_all_the_projects_of_an_approval() -> None:
    first, second = make_two_under_one(max_animals=3)
    enrol(first, make_confirmed_booking(first, 2))
    booking = make_confirmed_booking(second, 2)
    with pytest.raises(Unsound, match=r"allows 3 undulate ray .* 3 are taken, 0 left"):
        enrol(second, booking)
    one, other = booking.subjects.all()
    assert enrol(second, booking, subjects=[one])
    with pytest.raises(Unsound, match="3 are taken"):
        enrol(second, booking, subjects=[other])


def test_an_animal_that_is_in_one_project_takes_no_second_place_in_the_other() -> None:
    first, second = make_two_under_one(max_animals=1)
    animal = make_animal(taxon=first.taxon, enclosure=first.place)
    (one,) = enrol(first, make_confirmed_booking(first, animals=[animal]))
    actions.discharge_animal(one, left_on=days_ago(0), actual_severity=0, by=first.student)
    actions.release_booking(one.booking, by=first.lead)
    assert enrol(second, make_confirmed_booking(second, animals=[animal]))
    with pytest.raises(Unsound, match="1 are taken, 0 left"):
        enrol(first, make_confirmed_booking(first, 1))


# ------------------------------------------------------------------------------------- leaving


def test_the_actual_severity_is_never_below_what_the_uses_reached() -> None:
    world = make_handling()
    (enrolment,) = make_enrolled(world, 1)
    for severity in (1, 2, 0):
        make_use(world, enrolment, severity=severity)
    with pytest.raises(Unsound, match="reached moderate"):
        actions.discharge_animal(
            enrolment, left_on=days_ago(0), actual_severity=1, by=world.student
        )
    left = actions.discharge_animal(
        enrolment, left_on=days_ago(0), actual_severity=2, by=world.student
    )
    assert (left.state, left.actual_severity) == ("discharged", 2)
    # The use that reached it has its breach; the discharge opens no second one.
    assert world.project.breaches.filter(code="over-severity").count() == 1


def test_what_lesser_events_add_up_to_is_a_breach_where_it_was_not_expected() -> None:
    world = make_handling()
    (enrolment,) = make_enrolled(world, 1)
    make_use(world, enrolment, severity=1)
    assert not world.project.breaches.exists()
    actions.withdraw_animal(
        enrolment,
        left_on=days_ago(0),
        reason="It stopped feeding.",
        actual_severity=2,
        by=make_person(Role.VET),
    )
    breach = world.project.breaches.get()
    assert (breach.code, breach.animal) == ("over-severity", enrolment.animal)


def test_a_withdrawal_has_a_reason_and_a_day_after_the_last_use() -> None:
    world = make_collecting(days_ago=5)
    (enrolment,) = make_enrolled(world, 1, starts_on=days_ago(5), from_on=days_ago(4))
    make_use(world, enrolment, happened_at=timezone.now() - timedelta(days=1))
    leave = {"reason": "ill", "actual_severity": 0, "by": world.student}
    for day, why in (
        (days_ago(-1), "has not come"),
        (days_ago(5), "lies before"),
        (days_ago(2), "It was used on"),
    ):
        with pytest.raises(Unsound, match=why):
            actions.withdraw_animal(enrolment, left_on=day, **leave)
    with pytest.raises(Unsound, match="No reason"):
        actions.withdraw_animal(enrolment, left_on=days_ago(0), **{**leave, "reason": ""})
    left = actions.withdraw_animal(enrolment, left_on=days_ago(1), **leave)
    assert (left.state, left.left_on) == ("withdrawn", days_ago(1))
    assert Entry.objects.get(verb="enrolment.withdraw").reason == "ill"


def test_who_was_enrolled_on_a_day_stays_readable_after_it_left() -> None:
    world = make_collecting(days_ago=3)
    (enrolment,) = make_enrolled(world, 1, starts_on=days_ago(3), from_on=days_ago(3))
    with time_machine.travel(timezone.now() - timedelta(days=1), tick=False):
        actions.discharge_animal(
            enrolment, left_on=days_ago(0), actual_severity=0, by=world.student
        )
    live = Enrolment.objects.live_on
    assert live(days_ago(3)).count() == live(days_ago(1)).count() == 1
    assert live(days_ago(0)).count() == 0
