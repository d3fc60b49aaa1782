"""Whose an animal is: each refusal with the success beside it, and the lists that show it."""

from typing import Any

import pytest
from django.test import Client

from registry.animals import actions
from registry.animals.models import Animal, Loan, Taxon
from registry.animals.stockbook import book_of
from registry.desk.needs.animals import loans_to_end
from registry.errors import Conflict, Unsound
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.afar import make_dossier
from tests.worlds.animals import STAY_D, days_ago, make_animal, make_group, make_loan
from tests.worlds.people import make_institution, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def curator() -> Person:
    return make_person(Role.CURATOR)


def kinds(year: int) -> list[Any]:
    return [kind for one in book_of(year, Taxon.objects.all()) for kind in one.kinds]


@pytest.mark.postgres
def test_what_is_lent_here_belongs_to_its_lender_and_goes_back_only_when_it_left(
    curator: Person,
) -> None:
    animal, lender = make_animal(), make_institution("Another coast")
    loan = make_loan(animal, institution=lender, by=curator)
    animal.refresh_from_db()
    assert (animal.owner, loan.owner, loan.holder) == (lender, lender, None)
    assert animal.events.get(sort="owned").institution == lender
    with pytest.raises(Conflict, match="lent to this collection already"):
        make_loan(animal, institution=lender, by=curator)
    with pytest.raises(Unsound, match="for its owner to agree"):
        make_loan(animal, direction="out", by=curator)
    with pytest.raises(Conflict, match="It is on loan"):
        actions.change_owner(animal, owner=None, happened_on=days_ago(0), by=curator)
    for wrong in (days_ago(31), days_ago(-1)):
        with pytest.raises(Unsound):
            actions.end_loan(loan, outcome="returned", ended_on=wrong, by=curator)
    with pytest.raises(Unsound, match="lives here, by the register"):
        actions.end_loan(loan, outcome="returned", ended_on=days_ago(2), by=curator)
    actions.leave_animal(animal, sort="departed", happened_on=days_ago(3), by=curator)
    loan = actions.end_loan(loan, outcome="returned", ended_on=days_ago(2), by=curator)
    assert (loan.state, loan.outcome) == ("ended", "returned")
    animal.refresh_from_db()
    assert animal.owner == lender
    with pytest.raises(Conflict):
        actions.end_loan(loan, outcome="returned", ended_on=days_ago(2), by=curator)


def test_what_is_made_over_belongs_to_who_kept_it(curator: Person) -> None:
    lender = make_institution("Another coast")
    ours, theirs = make_animal(), make_group()
    lent_in = make_loan(theirs, institution=lender, by=curator)
    lent_out = make_loan(ours, direction="out", institution=lender, by=curator)
    for loan in (lent_in, lent_out):
        actions.end_loan(loan, outcome="made_over", ended_on=days_ago(5), by=curator)
    ours.refresh_from_db()
    theirs.refresh_from_db()
    assert (ours.owner, theirs.owner) == (lender, None)
    with pytest.raises(Conflict, match="changed hands"):
        actions.take_back_animal_event(ours, reason="wrong", by=curator)


def test_an_animal_changes_hands_in_order_and_never_to_whose_it_is(curator: Person) -> None:
    animal, other = make_animal(), make_institution("Another coast")
    with pytest.raises(Unsound, match="already"):
        actions.change_owner(animal, owner=None, happened_on=days_ago(9), by=curator)
    actions.change_owner(animal, owner=other, happened_on=days_ago(9), by=curator)
    for wrong in (days_ago(10), days_ago(-1), days_ago(STAY_D + 1)):
        with pytest.raises(Unsound):
            actions.change_owner(animal, owner=None, happened_on=wrong, by=curator)
    actions.change_owner(animal, owner=None, happened_on=days_ago(8), by=curator)
    animal.refresh_from_db()
    assert animal.owner is None


def test_a_loan_is_refused_of_the_dead_and_where_its_days_do_not_hold(curator: Person) -> None:
    gone = actions.leave_animal(make_animal(), sort="died", happened_on=days_ago(90), by=curator)
    with pytest.raises(Conflict, match="It died here"):
        make_loan(gone, by=curator)
    animal = make_animal()
    wrong: list[dict[str, Any]] = [
        {"began_on": days_ago(-1)},
        {"began_on": days_ago(STAY_D + 1)},
        {"expected_end_on": days_ago(31)},
    ]
    for facts in wrong:
        with pytest.raises(Unsound):
            make_loan(animal, by=curator, **facts)
    assert not Loan.objects.exists()


@pytest.mark.postgres
def test_the_stock_list_shows_loans_and_counts_as_if_there_were_none(curator: Person) -> None:
    animal, group = make_animal(), make_group()
    year = days_ago(0).year
    (before,) = kinds(year)
    make_loan(animal, by=curator, began_on=days_ago(0))
    make_loan(group, direction="out", by=curator, began_on=days_ago(0))
    (after,) = kinds(year)
    assert after.line == before.line
    assert (after.lent_in, after.lent_out) == (1, group.number)
    assert [(one.lent_in, one.lent_out) for one in kinds(year - 1)] == [(0, 0)]


def test_the_pages_and_the_dossier_say_whose_it_is(client: Client, curator: Person) -> None:
    animal = make_animal(name="Morwen")
    loan = make_loan(animal, by=curator)
    client.force_login(curator)
    listed = client.get("/animals/loans/").content.decode()
    assert loan.get_absolute_url() in listed
    page = client.get(animal.get_absolute_url()).content.decode()
    assert "Lent to this collection" in page
    assert loan.terms in client.get(loan.get_absolute_url()).content.decode()
    assert "held on loan" in client.get("/animals/stocklist/").content.decode()
    assert (
        "lent_in,lent_out"
        in b"".join(
            client.get("/animals/stocklist.csv").streaming_content  # type: ignore[attr-defined]  # why: it streams
        ).decode()
    )
    (told,) = make_dossier(Animal.objects.get(pk=animal.pk)).content["loans"]
    assert (told["owner"], told["terms"]) == (str(loan.institution), loan.terms)
    client.force_login(make_person(Role.STUDENT))
    assert client.get(loan.get_absolute_url()).status_code == 404
    assert "Lent to this collection" not in client.get(animal.get_absolute_url()).content.decode()


def test_a_curator_is_told_of_a_loan_that_comes_to_its_end(curator: Person) -> None:
    late = make_loan(by=curator, expected_end_on=days_ago(1))
    make_loan(by=curator, expected_end_on=days_ago(-60))
    make_loan(by=curator)
    (need,) = loans_to_end(curator, days_ago(0))
    assert (need.about, need.due) == (late, days_ago(1))
    assert list(loans_to_end(make_person(Role.KEEPER), days_ago(0))) == []
