"""Where animals are chosen for a study relatives are warned of; the choice stays a person’s."""

import pytest
from django.test import Client

from registry.permissions import Role
from tests.worlds.animals import make_animal
from tests.worlds.kin import make_parent
from tests.worlds.oversight import make_confirmed_booking, make_handling, make_requested_booking
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def test_relatives_are_warned_of_where_animals_are_offered_booked_and_enrolled(
    client: Client,
) -> None:
    world = make_handling()
    booking = make_confirmed_booking(world, n=2)
    pages = (booking.get_absolute_url(), f"{booking.get_absolute_url()}enrol/")
    one, other = (booked.animal for booked in booking.subjects.all())
    client.force_login(world.student)
    for page in pages:
        said = client.get(page).content.decode()
        assert "No two of them are related, as far as their parents are recorded." in said
        assert "Of 2 animals no parent is known for certain" in said
    dam = make_animal(taxon=one.taxon, enclosure=one.enclosure, name="Loveday")
    for young in (one, other):
        make_parent(young, "dam", dam)
    for page in pages:
        said = client.get(page).content.decode()
        assert "Among these 2 animals, 1 pair is related." in said
        assert "half sib" in said
        # m / (1 + (m - 1) 2 K h2) = 2 / (1 + 0.25 x 0.4).
        assert '<td class="n">1.8</td>' in said
    client.force_login(world.curator)
    asked = make_requested_booking(world)
    said = client.get(f"{asked.get_absolute_url()}offer/").content.decode()
    assert f"Kin: Loveday (dam), {other} (half sib)" in said
    assert 'name="animals"' in said
    client.force_login(make_person(Role.AUDITOR))
    assert "How independent are these animals?" in client.get(pages[0]).content.decode()
