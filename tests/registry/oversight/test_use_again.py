"""An animal that went through a procedure elsewhere enters a licensed project as the law allows."""

import pytest
from django.utils import timezone

from registry.approvals.actions import decide_reuse
from registry.errors import Unsound
from registry.oversight.actions import discharge_animal, enrol_animals, release_booking
from registry.oversight.bars import margins_of
from registry.oversight.margins import Limited
from registry.permissions import Role
from tests.worlds.approvals import make_granted
from tests.worlds.oversight import (
    make_confirmed_booking,
    make_enrolled,
    make_handling,
    make_regulated,
    make_use,
)
from tests.worlds.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]


def test_it_enters_with_consent_and_a_vets_advice_and_not_before() -> None:
    first, vet, today = make_regulated(), make_person(Role.VET), timezone.localdate()
    enrolment = make_enrolled(first, 1)[0]
    make_use(first, enrolment, severity=1)
    discharge_animal(enrolment, left_on=today, actual_severity=1, by=first.student)
    release_booking(enrolment.booking, by=first.curator)
    world = make_regulated(taxon=first.taxon, places=[first.place])
    booking = make_confirmed_booking(world, animals=[enrolment.animal])

    def again() -> list[bool]:
        return [one.is_kept for one in margins_of(booking, today) if one.limited == Limited.AGAIN]

    assert again() == [False]
    subjects = list(booking.subjects.all())
    with pytest.raises(Unsound, match="went through a procedure in another project"):
        enrol_animals(booking, subjects=subjects, from_on=today, by=world.student)
    make_granted(world.project, kind="licence", reuse_consent="kind")
    decide_reuse(
        world.project,
        animal=enrolment.animal,
        has_recovered=True,
        reason="Feeds well.",
        by=vet,
    )
    assert again() == [True]
    assert enrol_animals(booking, subjects=subjects, from_on=today, by=world.student)


def test_one_that_was_only_watched_enters_as_at_its_first_use() -> None:
    first, today = make_handling(), timezone.localdate()
    enrolment = make_enrolled(first, 1)[0]
    make_use(first, enrolment, severity=0)
    discharge_animal(enrolment, left_on=today, actual_severity=0, by=first.student)
    release_booking(enrolment.booking, by=first.curator)
    world = make_handling(taxon=first.taxon, places=[first.place])
    booking = make_confirmed_booking(world, animals=[enrolment.animal])
    assert not [one for one in margins_of(booking, today) if one.limited == Limited.AGAIN]
    subjects = list(booking.subjects.all())
    assert enrol_animals(booking, subjects=subjects, from_on=today, by=world.student)
