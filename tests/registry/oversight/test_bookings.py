"""Deeds on bookings."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from registry.animals.actions import leave_animal
from registry.animals.models import Restriction
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.oversight import actions
from registry.oversight.models import Booking
from registry.permissions import Role, can
from registry.projects.actions import abandon_project
from tests.worlds.animals import (
    days_ago,
    make_animal,
    make_enclosure,
    make_group,
    make_restriction,
)
from tests.worlds.approvals import World, make_collecting
from tests.worlds.oversight import (
    make_confirmed_booking,
    make_enrolled,
    make_handling,
    make_offered_booking,
    make_requested_booking,
)
from tests.worlds.people import fresh, make_person

pytestmark = pytest.mark.django_db


def offer(world: World, **changes: Any) -> Booking:
    """Offer one animal of the world for the days that were asked for."""
    booking = changes.pop("booking", None) or make_requested_booking(world)
    given = {
        "animals": [],
        "groups": [],
        "places": [world.place],
        "starts_on": booking.starts_on,
        "ends_on": booking.ends_on,
        "by": world.curator,
        **changes,
    }
    return actions.offer_booking(booking, **given)


def test_a_booking_is_asked_for_within_the_project_and_in_words() -> None:
    world = make_collecting()
    first, last = world.project.starts_on, world.project.ends_on
    today = timezone.localdate()
    for starts_on, ends_on, why in (
        (last, first, "before it starts"),
        (first, today - timedelta(days=1), "has passed"),
        (today, last + timedelta(days=1), "The project runs"),
    ):
        with pytest.raises(Unsound, match=why):
            actions.request_booking(
                world.project, wish="rays", starts_on=starts_on, ends_on=ends_on, by=world.student
            )
    with pytest.raises(Unsound, match="which animals"):
        actions.request_booking(
            world.project, wish=" ", starts_on=today, ends_on=last, by=world.student
        )
    booking = actions.request_booking(
        world.project, wish="rays", starts_on=today, ends_on=last, by=world.student
    )
    assert booking.state == "requested"
    entry = Entry.objects.get(verb="project.request_booking")
    assert (entry.after, entry.project_number) == ("requested", world.project.pk)


def test_a_project_that_is_over_books_nothing() -> None:
    world = make_collecting()
    abandon_project(world.project, reason="no student", by=world.lead)
    with pytest.raises(Conflict):
        make_requested_booking(world)


def test_only_a_curator_offers_and_confirms() -> None:
    world = make_collecting()
    animal = make_animal(taxon=world.taxon, enclosure=world.place)
    booking = make_requested_booking(world)
    for person in (world.student, world.lead, make_person(Role.KEEPER)):
        with pytest.raises(NotPermitted):
            offer(world, booking=booking, animals=[animal], by=person)
    offer(world, booking=booking, animals=[animal])
    with pytest.raises(NotPermitted):
        actions.confirm_booking(booking, by=world.lead)
    confirmed = actions.confirm_booking(booking, by=world.curator)
    assert confirmed.state == "confirmed"
    assert can(confirmed, fresh(world.student)) == ["enrol"]
    assert can(confirmed, fresh(world.lead)) == ["release", "enrol"]


def test_an_offer_holds_animals_places_and_days() -> None:
    world = make_collecting()
    animal = make_animal(taxon=world.taxon, enclosure=world.place)
    booking = make_requested_booking(world)
    with pytest.raises(Unsound, match="No animal or group"):
        offer(world, booking=booking)
    with pytest.raises(Unsound, match="No place"):
        offer(world, booking=booking, animals=[animal], places=[])
    with pytest.raises(Unsound, match="before it starts"):
        offer(world, booking=booking, animals=[animal], ends_on=days_ago(40))
    offered = offer(world, booking=booking, animals=[animal], max_contacts_each=4, note="mornings")
    assert (offered.state, offered.max_contacts_each) == ("offered", 4)
    assert [one.animal for one in offered.subjects.all()] == [animal]
    with pytest.raises(Conflict):
        offer(world, booking=booking, animals=[animal])


def test_no_more_of_a_group_is_offered_than_it_holds() -> None:
    world = make_collecting()
    group = make_group(taxon=world.taxon, enclosure=world.place)
    for number in (0, group.number + 1):
        with pytest.raises(Conflict, match="holds 9 animals"):
            offer(world, groups=[(group, number)])
    assert offer(world, groups=[(group, group.number)]).subjects.get().number == 9


def test_an_animal_that_left_is_not_offered() -> None:
    world = make_collecting()
    gone, here = (make_animal(taxon=world.taxon, enclosure=world.place) for _ in range(2))
    leave_animal(gone, sort="departed", happened_on=days_ago(0), by=world.curator)
    with pytest.raises(Conflict, match="left the collection"):
        offer(world, animals=[gone, here])
    assert offer(world, animals=[here]).state == "offered"


@pytest.mark.parametrize("is_open_ended", [True, False])
def test_a_restriction_that_lasts_into_the_days_bars_an_offer(is_open_ended: bool) -> None:
    world = make_collecting()
    animal = make_animal(taxon=world.taxon, enclosure=world.place)
    today = timezone.localdate()
    until = None if is_open_ended else today + timedelta(days=5)
    make_restriction(animal, expected_end_on=until)
    with pytest.raises(Conflict, match="under a restriction since"):
        offer(world, animals=[animal])
    later = today + timedelta(days=6)
    if is_open_ended:
        with pytest.raises(Conflict, match="under a restriction since"):
            offer(world, animals=[animal], starts_on=later)
    else:
        assert offer(world, animals=[animal], starts_on=later).state == "offered"


def test_a_restriction_past_its_expected_end_still_bars_until_it_is_ended() -> None:
    world = make_collecting()
    animal = make_animal(taxon=world.taxon, enclosure=world.place)
    make_restriction(animal, began_on=days_ago(9), expected_end_on=days_ago(2))
    with pytest.raises(Conflict, match="under a restriction"):
        offer(world, animals=[animal])


def test_observation_only_bars_handling_and_not_watching() -> None:
    watching, handling = make_collecting(), make_handling()
    for world in (watching, handling):
        animal = make_animal(taxon=world.taxon, enclosure=world.place)
        make_restriction(animal, strength=Restriction.Strength.OBSERVATION_ONLY)
        if world is handling:
            with pytest.raises(Conflict, match="observation only"):
                offer(world, animals=[animal])
        else:
            assert offer(world, animals=[animal]).state == "offered"


def test_a_restricted_enclosure_bars_who_lives_there_and_the_place_itself() -> None:
    world = make_collecting()
    other = make_enclosure()
    inside = make_animal(taxon=world.taxon, enclosure=other)
    outside = make_animal(taxon=world.taxon, enclosure=world.place)
    make_restriction(other)
    with pytest.raises(Conflict, match="under a restriction"):
        offer(world, animals=[inside])
    with pytest.raises(Conflict, match="under a restriction"):
        offer(world, animals=[outside], places=[world.place, other])
    assert offer(world, animals=[outside]).state == "offered"


def test_an_animal_is_not_lent_twice_where_either_project_does_more_than_watch() -> None:
    holder, asker = make_collecting(), make_handling()
    animal = make_animal(taxon=holder.taxon, enclosure=holder.place)
    make_confirmed_booking(holder, animals=[animal])
    with pytest.raises(Conflict, match="is confirmed to"):
        offer(asker, animals=[animal])
    after = make_requested_booking(asker)
    holder_booking = holder.project.bookings.get()
    actions.release_booking(holder_booking, by=holder.curator)
    assert offer(asker, booking=after, animals=[animal]).state == "offered"


def test_two_projects_that_only_watch_may_share_an_animal() -> None:
    holder, asker = make_collecting(), make_collecting()
    animal = make_animal(taxon=holder.taxon, enclosure=holder.place)
    make_confirmed_booking(holder, animals=[animal])
    assert offer(asker, animals=[animal]).state == "offered"


def test_days_that_do_not_overlap_do_not_bar() -> None:
    holder, asker = make_handling(), make_handling()
    animal = make_animal(taxon=holder.taxon, enclosure=holder.place)
    soon = timezone.localdate() + timedelta(days=20)
    make_confirmed_booking(holder, animals=[animal], ends_on=soon)
    with pytest.raises(Conflict, match="is confirmed to"):
        offer(asker, animals=[animal], starts_on=soon)
    after = soon + timedelta(days=1)
    assert offer(asker, animals=[animal], starts_on=after).state == "offered"


def test_a_group_that_another_project_handles_is_barred_whole() -> None:
    holder, asker = make_handling(), make_handling()
    group = make_group(taxon=holder.taxon, enclosure=holder.place)
    make_confirmed_booking(holder, groups=[(group, 3)])
    with pytest.raises(Conflict, match="is confirmed to"):
        offer(asker, groups=[(group, 3)])


def test_a_confirmation_looks_again_at_what_bars() -> None:
    world = make_collecting()
    booking = make_offered_booking(world)
    animal = booking.subjects.first().animal
    restriction = make_restriction(animal)
    with pytest.raises(Conflict, match="under a restriction"):
        actions.confirm_booking(booking, by=world.curator)
    assert Booking.objects.get(pk=booking.pk).state == "offered"
    restriction.__class__.objects.filter(pk=restriction.pk).update(ended_on=days_ago(0))
    assert actions.confirm_booking(booking, by=world.curator).state == "confirmed"


def test_a_refusal_has_a_reason() -> None:
    world = make_collecting()
    booking = make_requested_booking(world)
    with pytest.raises(Unsound, match="No reason"):
        actions.refuse_booking(booking, reason=" ", by=world.curator)
    actions.refuse_booking(booking, reason="They are brooding.", by=world.curator)
    assert Entry.objects.get(verb="booking.refuse").reason == "They are brooding."


def test_a_booking_is_released_once_every_animal_has_left() -> None:
    world = make_collecting()
    (enrolment,) = make_enrolled(world, 1)
    booking = enrolment.booking
    with pytest.raises(Conflict, match="still enrolled"):
        actions.release_booking(booking, by=world.lead)
    actions.discharge_animal(enrolment, left_on=days_ago(0), actual_severity=0, by=world.student)
    released = actions.release_booking(booking, by=world.lead)
    assert (released.state, released.released_on) == ("released", days_ago(0))
