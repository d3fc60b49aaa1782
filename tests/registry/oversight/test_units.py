"""Two treatment projects never share a unit; passive observation may overlap."""

import pytest
from django.utils import timezone

from registry.errors import Unsound
from registry.oversight import actions
from registry.oversight.models import Enrolment
from tests.worlds.animals import make_animal
from tests.worlds.approvals import World, make_collecting
from tests.worlds.oversight import make_confirmed_booking, make_two_under_one, make_use

pytestmark = pytest.mark.django_db


def enrol(world: World, unit: str) -> Enrolment:
    """Enrol a new animal of the world's place in a unit."""
    booking = make_confirmed_booking(world, 1)
    return actions.enrol_animals(
        booking,
        subjects=list(booking.subjects.all()),
        from_on=timezone.localdate(),
        unit=unit,
        by=world.student,
    )[0]


@pytest.mark.parametrize("unit", ["tray 1", "", "the enclosure"])
def test_two_treatments_never_share_a_unit(unit: str) -> None:
    first, second = make_two_under_one(max_animals=9)
    named = first.place.name if unit == "the enclosure" else unit
    enrol(first, named)
    enrol(first, "tray 9")
    if not named:  # nothing was said of a unit, so the animals alone are told apart
        enrol(second, "")
        return
    with pytest.raises(Unsound, match="works hands-on"):
        enrol(second, named.upper())
    if unit == "tray 1":
        enrol(second, "tray 2")
        return
    with pytest.raises(Unsound, match="works hands-on"):
        enrol(second, "tray 2")


def test_observation_may_overlap_with_a_treatment() -> None:
    first, _second = make_two_under_one()
    enrol(first, "tray 1")
    watching = make_collecting(places=[first.place], taxon=first.taxon)
    assert enrol(watching, "tray 1").unit == "tray 1"


def test_a_use_in_a_unit_of_another_project_is_recorded_and_is_a_breach() -> None:
    first, second = make_two_under_one(max_animals=9)
    stray = make_animal(taxon=first.taxon, enclosure=first.place)
    before = {one.code for one in make_use(second, animal=stray).breaches.all()}
    enrol(first, first.place.code)
    after = {one.code for one in make_use(second, animal=stray).breaches.all()}
    assert after - before == {"shared-unit"}
