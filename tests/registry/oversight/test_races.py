"""Two people at once: rows are locked in one order, so that one of them is refused in words."""

from collections.abc import Callable

import pytest
from django.utils import timezone

from registry.errors import Conflict, Unsound
from registry.oversight import actions
from registry.oversight.models import Booking, Breach, Enrolment, Use
from tests.worlds.animals import make_animal
from tests.worlds.approvals import World
from tests.worlds.oversight import (
    make_confirmed_booking,
    make_enrolled,
    make_handling,
    make_offered_booking,
    make_two_under_one,
    make_use,
)
from tests.worlds.together import at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def enrolling(world: World, booking: Booking) -> Callable[[], object]:
    """Give the deed that enrols all of a booking from today."""
    subjects = list(booking.subjects.all())
    return lambda: actions.enrol_animals(
        booking, subjects=subjects, from_on=timezone.localdate(), by=world.student
    )


def test_the_last_place_of_a_limit_is_taken_by_one_of_two_projects() -> None:
    first, second = make_two_under_one(max_animals=2)
    make_enrolled(first, 1)
    deeds = [enrolling(world, make_confirmed_booking(world, 1)) for world in (first, second)]
    (refused,) = at_once(*deeds)
    assert isinstance(refused, Unsound)
    assert "2 are taken, 0 left" in refused.why
    assert Enrolment.objects.count() == 2


def test_an_animal_is_enrolled_once_by_two_students_at_once() -> None:
    world = make_handling()
    deed = enrolling(world, make_confirmed_booking(world, 1))
    (refused,) = at_once(deed, deed)
    assert "already" in refused.why
    assert Enrolment.objects.count() == 1


def test_an_animal_is_confirmed_to_one_of_two_projects() -> None:
    first, second = make_handling(), make_handling()
    animal = make_animal(taxon=first.taxon, enclosure=first.place)
    free = make_animal(taxon=first.taxon, enclosure=first.place)
    asked = make_offered_booking(second, animals=[free])
    actions.refuse_booking(asked, reason="for a test", by=second.curator)
    bookings = []
    for world in (first, second):
        booking = actions.request_booking(
            world.project,
            wish="this one",
            starts_on=timezone.localdate(),
            ends_on=world.project.ends_on,
            by=world.student,
        )
        bookings.append((world, booking))

    def offering(world: World, booking: Booking) -> Callable[[], object]:
        return lambda: actions.offer_booking(
            booking,
            animals=[animal],
            places=[world.place],
            starts_on=booking.starts_on,
            ends_on=booking.ends_on,
            by=world.curator,
        )

    (refused,) = at_once(*(offering(*pair) for pair in bookings))
    assert isinstance(refused, Conflict)
    assert "is offered to" in refused.why
    assert sorted(
        Booking.objects.filter(pk__in=[b.pk for _, b in bookings]).values_list("state", flat=True)
    ) == ["offered", "requested"]


def test_of_two_contacts_at_once_the_one_too_many_is_a_breach() -> None:
    world = make_handling(max_contacts_each=2)
    (enrolment,) = make_enrolled(world, 1)
    make_use(world, enrolment)
    assert at_once(*[lambda: make_use(world, enrolment)] * 2) == []
    assert Use.objects.count() == 3
    assert [one.code for one in Breach.objects.all()] == ["over-contacts"]


def test_a_use_is_taken_back_once() -> None:
    world = make_handling()
    use = make_use(world)
    deed = lambda: actions.reverse_use(use, reason="wrong", by=world.student)  # noqa: E731
    (refused,) = at_once(deed, deed)
    assert isinstance(refused, Conflict)
    assert Use.objects.filter(reverses=use).count() == 1
