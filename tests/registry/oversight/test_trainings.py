"""Trainings that the house asks for before a procedure: told ahead, refused before, a breach after.

That whoever does a procedure must be trained and competent for it, and that its records are kept:
Directive 2010/63/EU, Articles 23 and 24 (from memory). Which training is the house's own rule.
"""

from datetime import timedelta

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from registry.errors import Conflict, NotPermitted, Unsound
from registry.oversight import actions
from registry.oversight.models import TrainingRule
from registry.people.actions import induct_person
from registry.people.models import Training
from registry.permissions import Role
from tests.worlds.oversight import make_enrolled, make_handling, make_planned_session, make_use
from tests.worlds.people import make_person
from tests.worlds.projects import make_procedure, vocabulary

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()


def in_the_hand() -> Training:
    row = next(row for row in vocabulary("trainings") if row["code"] == "handling-fish")
    return Training.objects.get_or_create(code=row["code"], defaults=row)[0]


def ask(**more: object) -> TrainingRule:
    given: dict[str, object] = {
        "procedure": make_procedure("weighing-measuring"),
        "training": in_the_hand(),
        "why": "Two fish were dropped.",
        "from_on": TODAY - timedelta(days=5),
        "by": make_person(Role.VET),
        **more,
    }
    return actions.set_training_rule(**given)  # type: ignore[arg-type]  # why: a test's own words


@pytest.mark.postgres
def test_a_training_is_asked_for_once_with_a_reason_and_no_longer_with_another() -> None:
    with pytest.raises(NotPermitted):
        ask(by=make_person(Role.KEEPER))
    with pytest.raises(Unsound, match="No reason"):
        ask(why=" ")
    rule = ask()
    with pytest.raises(Conflict, match="already"):
        ask()
    rule = actions.end_training_rule(rule, reason="Taught to all.", by=make_person(Role.CURATOR))
    assert (rule.state, rule.holds_on(TODAY), rule.holds_on(TODAY - timedelta(days=1))) == (
        "ended",
        False,
        True,
    )
    assert ask().holds_on(TODAY)


def test_work_without_the_training_is_refused_ahead_told_ahead_and_a_breach_when_done() -> None:
    world = make_handling()
    enrolled = make_enrolled(world, 1)
    session = make_planned_session(world, enrolled)
    ask()
    with pytest.raises(Unsound, match="training “handling fish and rays in the hand”"):
        make_planned_session(world, enrolled)
    breach = make_use(world, enrolled[0]).breaches.get()
    assert (breach.code, str(world.student) in breach.said) == ("untrained", True)
    watched = make_use(world, enrolled[0], procedure=make_procedure())
    assert not watched.breaches.filter(code="untrained").exists()  # watching asks for none
    api = APIClient()
    api.force_authenticate(world.student)

    def told() -> list[tuple[str, bool]]:
        rows = api.get(f"/api/v1/sessions/{session.pk}/limits/").json()
        return [(one["allowed"], one["is_kept"]) for one in rows if "training" in one["permission"]]

    assert told() == [("not held", False)]
    induct_person(
        world.student,
        training=in_the_hand(),
        given_on=TODAY,
        expires_on=TODAY,
        by=world.curator,
    )
    assert make_planned_session(world, enrolled).state == "planned"
    assert [is_kept for _, is_kept in told()] == [True]
    assert not make_use(world, enrolled[0]).breaches.exists()
    with pytest.raises(Unsound, match="training"):  # it has run out by then
        make_planned_session(world, enrolled, start=timezone.now() + timedelta(days=1))


def test_a_training_is_no_induction_and_one_of_neither_is_refused() -> None:
    world = make_handling()
    given = {"given_on": TODAY, "expires_on": TODAY, "by": world.curator}
    with pytest.raises(Unsound, match="neither"):
        induct_person(world.lead, about=" ", **given)  # type: ignore[arg-type]  # why: as above
    induct_person(world.lead, training=in_the_hand(), **given)  # type: ignore[arg-type]  # why: as above
    breach = make_use(world, by=world.lead).breaches.get()
    assert breach.code == "no-live-permission"
    assert "induction" in breach.said
