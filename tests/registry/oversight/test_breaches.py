"""Deeds on breaches."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.html import escape

from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger import proof
from registry.ledger.models import Entry
from registry.oversight import actions
from registry.oversight.actions import BreachFound
from registry.oversight.models import Breach
from registry.people.models import the_clock
from registry.permissions import Role
from tests.worlds.animals import days_ago
from tests.worlds.approvals import make_collecting
from tests.worlds.oversight import make_breach, make_enrolled
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def test_a_breach_is_explained_queried_explained_better_and_settled() -> None:
    world = make_collecting()
    breach, auditor = make_breach(world), make_person(Role.AUDITOR)
    with pytest.raises(NotPermitted):
        actions.explain_breach(breach, explanation="It swam in.", by=world.student)
    with pytest.raises(Unsound, match="No explanation"):
        actions.explain_breach(breach, explanation="  ", by=world.lead)
    with pytest.raises(Conflict):
        actions.settle_breach(breach, by=auditor)
    actions.explain_breach(breach, explanation="It swam in.", by=world.lead)
    with pytest.raises(NotPermitted):
        actions.settle_breach(breach, by=world.lead)
    with pytest.raises(Unsound, match="No reason"):
        actions.query_breach(breach, reason="", by=auditor)
    actions.query_breach(breach, reason="From where?", by=auditor)
    actions.explain_breach(breach, explanation="The gate stood open; now locked.", by=world.lead)
    settled = actions.settle_breach(breach, by=auditor)
    assert settled.state == "settled"
    told = Entry.objects.filter(verb__startswith="breach.").order_by("number")
    assert [(one.after, one.reason) for one in told] == [
        ("explained", "It swam in."),
        ("opened", "From where?"),
        ("explained", "The gate stood open; now locked."),
        ("settled", ""),
    ]


def test_the_chair_of_the_body_settles_and_never_in_an_own_project() -> None:
    world = make_collecting()
    breach = make_breach(world)
    Breach.objects.filter(pk=breach.pk).update(approval=world.approval)
    actions.explain_breach(breach, explanation="It swam in.", by=world.lead)
    with pytest.raises(NotPermitted):
        actions.settle_breach(breach, by=world.member)
    assert actions.settle_breach(breach, by=world.chair).state == "settled"


def test_what_data_show_opens_a_breach_once_for_each_finding() -> None:
    world = make_collecting()
    (enrolment,) = make_enrolled(world, 1)
    clock = the_clock()
    found = [
        BreachFound("not-enrolled", "Row 4: “3-41” was never enrolled.", happened_on=days_ago(1)),
        BreachFound(
            "outside-approval",
            "Row 5: not every needed permission was live.",
            approval=world.approval.pk,
            animal=enrolment.animal_id,
        ),
    ]
    with pytest.raises(NotPermitted):
        actions.open_breaches(world.project, found=found, deposit_number=5, by=world.lead)
    opened = actions.open_breaches(
        world.project, found=[*found, found[0]], deposit_number=5, by=clock
    )
    again = actions.open_breaches(world.project, found=found, deposit_number=5, by=clock)
    assert [one.pk for one in opened] == [one.pk for one in again]
    assert Breach.objects.count() == 2
    assert (opened[1].approval, opened[1].animal) == (world.approval, enrolment.animal)
    assert Entry.objects.filter(verb="breach.open").count() == 1
    actions.open_breaches(world.project, found=found[:1], deposit_number=6, by=clock)
    assert Breach.objects.count() == 3


def test_two_hundred_breaches_are_opened_with_as_many_queries_as_two() -> None:
    world = make_collecting()
    clock = the_clock()
    asked = []
    for deposit, number in ((5, 2), (6, 200)):
        found = [
            BreachFound("not-enrolled", f"“R-{one}” was not enrolled.") for one in range(number)
        ]
        with CaptureQueriesContext(connection) as queries:
            opened = actions.open_breaches(
                world.project, found=found, deposit_number=deposit, by=clock
            )
        assert len(opened) == number
        asked.append(len(queries))
    assert asked[0] == asked[1]
    assert proof.check(with_subjects=True)[0] == []


def test_the_page_to_explain_a_breach_says_what_it_is_that_went_outside(client: Client) -> None:
    world = make_collecting()
    breach = make_breach(world)
    client.force_login(world.lead)
    page = client.get(f"/oversight/breaches/{breach.pk}/explain/")
    assert page.context["form"].matter == breach.said
    assert str(escape(breach.said)) in page.content.decode()
    actions.explain_breach(breach, explanation="The gate stood open.", by=world.lead)
    client.force_login(make_person(Role.AUDITOR))
    asked = client.get(f"/oversight/breaches/{breach.pk}/query/").content.decode()
    assert "Explained: The gate stood open." in asked


def test_whoever_sees_own_projects_alone_is_told_that_the_numbers_are_theirs(
    client: Client,
) -> None:
    make_breach(make_collecting())
    client.force_login(make_person(Role.ADMINISTRATOR))
    told = client.get("/oversight/").content.decode()
    assert "In your own projects no uses on record and no breaches to settle" in told
    client.force_login(make_person(Role.AUDITOR))
    assert "1 breach to settle" in client.get("/oversight/").content.decode()
