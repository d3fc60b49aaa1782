"""Uses that a dataset shows: each animal of each held session once, limits kept or not."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from registry.errors import Conflict, NotPermitted
from registry.ledger.models import Entry
from registry.oversight import actions
from registry.oversight.entering import unentered
from registry.oversight.models import Session, Use
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.approvals import World
from tests.worlds.oversight import make_enrolled, make_handling, make_held_session
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def enter(world: World, seen: list[tuple[str, str]], by: Person | None = None) -> None:
    actions.enter_uses(
        world.project,
        seen=seen,
        procedure=world.procedure,
        source="From a test",
        by=by or world.lead,
    )


def empty_sessions(world: World, n: int) -> list[Session]:
    """Give sessions that were held without an animal in view."""
    now = timezone.now()
    return [
        make_held_session(world, [], start=now + timedelta(minutes=40 * nth)) for nth in range(n)
    ]


@pytest.mark.postgres
def test_each_animal_of_each_session_becomes_a_use_once() -> None:
    world = make_handling()
    first, second = make_enrolled(world, 2)
    one, other = empty_sessions(world, 2)
    seen = [(one.code, first.code), (one.code, second.code), (other.code, first.code)]
    seen += [seen[0], ("S-none", first.code), (one.code, "R-none")]
    assert unentered(world.project, seen).uses == 3
    with pytest.raises(NotPermitted):
        enter(world, seen, by=make_person(Role.KEEPER))
    enter(world, seen)
    uses = list(Use.objects.filter(project=world.project).order_by("pk"))
    assert [(use.session, use.enrolment) for use in uses] == [
        (one, first),
        (one, second),
        (other, first),
    ]
    assert {use.happened_at for use in uses} == {one.started_at, other.started_at}
    assert set(one.enrolments.all()) == {first, second}
    with pytest.raises(Conflict, match="on record already"):
        enter(world, seen)
    wrong = uses[0]
    actions.reverse_use(wrong, reason="It was not there.", by=world.student)
    with pytest.raises(Conflict, match="on record already"):
        enter(world, seen)
    assert Use.objects.standing().filter(project=world.project).count() == 2


def test_what_data_show_outside_a_limit_is_entered_and_opens_breaches_in_their_order() -> None:
    world = make_handling(max_contacts_each=2)
    ray = make_enrolled(world, 1)[0]
    sessions = empty_sessions(world, 4)
    enter(world, [(one.code, ray.code) for one in sessions])
    passed = [use.breaches.count() for use in Use.objects.order_by("happened_at")]
    assert passed == [0, 0, 1, 1]
    assert set(world.project.breaches.values_list("code", flat=True)) == {"over-contacts"}
    entered = Entry.objects.filter(verb="project.record_use").count()
    assert entered == 4


def test_a_session_held_with_its_animals_is_on_record_and_nothing_else_is_no_data() -> None:
    world = make_handling()
    ray = make_enrolled(world, 1)[0]
    held = make_held_session(world, [ray])
    with pytest.raises(Conflict, match="on record already"):
        enter(world, [(held.code, ray.code)])
    with pytest.raises(Conflict, match="no held session"):
        enter(world, [("S-none", ray.code)])


def test_many_sessions_of_a_day_cost_as_many_queries_as_one() -> None:
    counts = []
    for sessions in (1, 5):
        world = make_handling()
        ray = make_enrolled(world, 1)[0]
        held = empty_sessions(world, sessions)
        with CaptureQueriesContext(connection) as asked:
            enter(world, [(one.code, ray.code) for one in held])
        counts.append(len(asked))
    assert counts[0] == counts[1]
