"""Deeds about people."""

from datetime import timedelta

import pytest
from django.utils import timezone

from registry.errors import Conflict, NotPermitted, Unseen, Unsound
from registry.ledger import proof
from registry.ledger.models import Entry
from registry.people import actions
from registry.people.models import Body, Person, the_clock
from registry.people.tokens import digest_of
from registry.permissions import Role
from tests.worlds.people import fresh, make_body, make_institution, make_person

pytestmark = pytest.mark.django_db


def test_nobody_is_added_twice_whatever_the_case_of_the_email() -> None:
    administrator = make_person(Role.ADMINISTRATOR)
    added = actions.add_person(name="Una", email="una@skerrywick.example", by=administrator)
    assert not added.has_usable_password()
    with pytest.raises(Unsound, match="already signs in"):
        actions.add_person(name="Una", email="UNA@skerrywick.example", by=administrator)
    with pytest.raises(NotPermitted):
        actions.add_person(name="Una", email="una2@skerrywick.example", by=added)


def test_an_orcid_with_a_slip_is_refused_when_added_and_when_changed() -> None:
    administrator = make_person(Role.ADMINISTRATOR)
    given = {"name": "Una", "email": "una@skerrywick.example", "by": administrator}
    with pytest.raises(Unsound) as refused:
        actions.add_person(**given, orcid="0000-0002-1825-0098")
    assert "orcid" in refused.value.fields
    una = actions.add_person(**given, orcid="https://orcid.org/0000-0002-1825-0097")
    assert una.orcid == "0000-0002-1825-0097"
    una = fresh(una)
    with pytest.raises(Unsound):
        actions.describe_person(una, name="Una", post="", orcid="1234", by=una)
    actions.describe_person(una, name="Una Strand", post="rays", orcid="", by=una)
    assert (fresh(una).name, fresh(una).post, fresh(una).orcid) == ("Una Strand", "rays", "")


def test_only_oneself_changes_ones_details() -> None:
    keeper, administrator = make_person(Role.KEEPER), make_person(Role.ADMINISTRATOR)
    with pytest.raises(NotPermitted):
        actions.describe_person(keeper, name="x", post="", orcid="", by=administrator)
    with pytest.raises(Unseen):
        actions.describe_person(keeper, name="x", post="", orcid="", by=make_person())


def test_standing_is_given_once_with_its_reason_and_never_to_oneself() -> None:
    administrator, person = make_person(Role.ADMINISTRATOR), make_person()
    actions.give_standing(person, role=Role.VET, reason="our own vet", by=administrator)
    assert Role.VET in fresh(person).roles
    with pytest.raises(Conflict, match="holds it already"):
        actions.give_standing(person, role=Role.VET, reason="again", by=administrator)
    with pytest.raises(NotPermitted):
        actions.give_standing(administrator, role=Role.VET, reason="why not", by=administrator)
    entry = Entry.objects.filter(verb="person.give_standing", actor=administrator).get()
    assert entry.reason == "our own vet"
    assert entry.facts["details"] == {"role": "vet"}


def test_a_standing_that_is_not_held_cannot_be_ended_and_one_that_is_can() -> None:
    administrator, keeper = make_person(Role.ADMINISTRATOR), make_person(Role.KEEPER)
    with pytest.raises(Conflict, match="does not hold it"):
        actions.end_standing(keeper, role=Role.VET, reason="r", by=administrator)
    actions.end_standing(keeper, role=Role.KEEPER, reason="left", by=administrator)
    assert Role.KEEPER not in fresh(keeper).roles
    actions.give_standing(keeper, role=Role.KEEPER, reason="came back", by=administrator)
    assert keeper.standings.count() == 2


def test_the_last_administrators_standing_cannot_be_ended() -> None:
    first, second = make_person(Role.ADMINISTRATOR), make_person(Role.ADMINISTRATOR)
    # Both are at it at once: the second's page was opened while the standing was still held.
    assert second.roles
    actions.end_standing(second, role=Role.ADMINISTRATOR, reason="r", by=first)
    with pytest.raises(Unsound, match="Nobody else could then give standing"):
        actions.end_standing(first, role=Role.ADMINISTRATOR, reason="r", by=second)
    assert Person.objects.with_standing(Role.ADMINISTRATOR).get() == first


def test_an_induction_must_not_expire_before_it_was_given() -> None:
    today = timezone.localdate()
    vet, student = make_person(Role.VET), make_person(Role.STUDENT)
    with pytest.raises(Unsound, match="before it was given"):
        actions.induct_person(
            student, about="quarantine", given_on=today, expires_on=today - timedelta(1), by=vet
        )
    made = actions.induct_person(
        student, about="quarantine", given_on=today, expires_on=today, by=vet
    )
    assert made.is_live_on(today)
    assert not made.is_live_on(today + timedelta(1))
    with pytest.raises(NotPermitted):
        actions.induct_person(vet, about="own", given_on=today, expires_on=today, by=vet)


def test_two_bodies_cannot_bear_one_name() -> None:
    administrator = make_person(Role.ADMINISTRATOR)
    given = {
        "institution": make_institution(),
        "is_ethics": True,
        "quorum": 2,
        "by": administrator,
    }
    actions.open_body(name="Animal ethics", **given)
    with pytest.raises(Unsound, match="one of that name"):
        actions.open_body(name="animal ETHICS", **given)
    assert Body.objects.count() == 1


def test_a_body_has_one_chair_and_a_person_one_seat_on_it() -> None:
    administrator = make_person(Role.ADMINISTRATOR)
    body, chair, member = make_body()
    with pytest.raises(Conflict, match="has a chair"):
        actions.seat_member(body, person=make_person(), is_chair=True, by=administrator)
    with pytest.raises(Conflict, match="has a seat"):
        actions.seat_member(body, person=member, is_chair=False, by=administrator)
    actions.end_seat(body, person=chair, reason="term over", by=administrator)
    with pytest.raises(Conflict, match="has none"):
        actions.end_seat(body, person=chair, reason="again", by=administrator)
    actions.seat_member(body, person=chair, is_chair=True, by=administrator)
    assert body.seats.filter(ended_on=None, is_chair=True).get().person == chair


def test_a_token_is_kept_as_a_digest_and_lives_for_a_year_at_most() -> None:
    person = make_person(Role.STUDENT)
    for days in (0, 367):
        with pytest.raises(Unsound, match="1 to 366 days"):
            actions.make_token(person, name="logger", days=days, by=person)
    secret, token = actions.make_token(person, name="logger", days=366, by=person)
    assert token.digest == digest_of(secret)
    assert secret not in Entry.objects.latest("number").text
    with pytest.raises(Unseen):
        actions.revoke_token(token, by=make_person(Role.STUDENT))
    assert actions.revoke_token(token, by=person).revoked_at is not None


def test_every_deed_about_people_leaves_rows_as_the_ledger_has_them() -> None:
    body, chair, _ = make_body()
    person = make_person(Role.STUDENT)
    _, token = actions.make_token(person, name="logger", days=3, by=person)
    actions.revoke_token(token, by=person)
    actions.end_seat(body, person=chair, reason="r", by=make_person(Role.ADMINISTRATOR))
    actions.describe_person(person, name="Other", post="", orcid="", by=person)
    assert proof.check(with_subjects=True)[0] == []


def test_the_clock_is_one_person_who_cannot_sign_in() -> None:
    assert the_clock() == the_clock()
    assert the_clock().roles == {Role.CLOCK}
    assert not the_clock().check_password("")
