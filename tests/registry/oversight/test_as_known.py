"""A view as of (happened by a day, known by a day) never changes, whatever is entered afterwards.

Random histories of real deeds, by a fixed seed: uses entered at once and late, uses taken back, an
approval suspended and given back, animals restricted and moved. What each evening could be seen of
some days is kept, and asked again at the end.
"""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any

import pytest
import time_machine
from django.utils import timezone

from registry.animals import actions as animals
from registry.animals.then import then_of
from registry.approvals import actions as approvals
from registry.approvals.models import Approval, Pause
from registry.approvals.standing import covered_days
from registry.errors import Conflict, Unsound
from registry.oversight import actions
from registry.oversight.models import Use
from registry.oversight.review import Asked, breaches_of, sums_of, uses_of
from tests.worlds.animals import make_enclosure, make_restriction
from tests.worlds.approvals import World
from tests.worlds.oversight import make_enrolled, make_handling, make_use

pytestmark = pytest.mark.django_db
DAYS = 6
type View = dict[str, Any]


def seen(world: World, of: Any, happened_by: date, known_by: date) -> View:
    """Give all that the auditor can see of two days, as plain facts."""
    asked = Asked(happened_by, known_by)
    uses = uses_of(asked)
    first = known_by - timedelta(days=20)
    return {
        "uses": sorted(uses.values_list("pk", "animal", "number", "severity", "happened_at")),
        "sums": list(sums_of(uses, "animal")),
        "breaches": sorted(breaches_of(asked).values_list("pk", "code", "said")),
        "covered": covered_days(world.project, first, happened_by, asked.known_at),
        "animal": then_of(of, happened_by, known_by).as_dict(),
    }


def deeds(world: World, enrolled: list[Any], rng: Random) -> list[Callable[[], object]]:
    """Give what may be done on a day; each is refused or done by its own rules."""
    one, approval = rng.choice(enrolled), Approval.objects.get(pk=world.approval.pk)
    standing = Use.objects.standing().order_by("pk")
    late = timezone.now() - timedelta(days=rng.randrange(1, 5))
    return [
        lambda: make_use(world, one),
        lambda: make_use(world, one, happened_at=late),
        lambda: actions.reverse_use(rng.choice(list(standing)), reason="No.", by=world.student),
        lambda: approvals.suspend_approval(approval, reason="Fins.", by=world.chair),
        lambda: approvals.reinstate_approval(approval, reason="Healed.", by=world.chair),
        lambda: make_restriction(one.animal, began_on=timezone.localdate(late)),
        lambda: animals.move_animal(
            one.animal,
            enclosure=make_enclosure(),
            happened_on=timezone.localdate(late),
            by=world.curator,
        ),
    ]


@pytest.mark.postgres
def test_what_was_seen_of_two_days_is_seen_for_ever() -> None:
    rng = Random(11)
    world = make_handling(days_ago=30)
    enrolled = make_enrolled(world, 2)
    kept: dict[tuple[date, date], View] = {}
    done = 0
    morning = datetime.combine(timezone.localdate(), time(9))
    for nth in range(DAYS):
        with time_machine.travel(timezone.make_aware(morning + timedelta(days=nth))):
            for _ in range(3):
                deed = rng.choice(deeds(world, enrolled, rng))
                try:
                    deed()
                    done += 1
                except (Conflict, Unsound, IndexError):
                    continue  # it cannot be done now: nothing was written
            known = timezone.localdate()
            for back in (0, 1, 4):
                day = known - timedelta(days=back)
                kept[day, known] = seen(world, enrolled[0].animal, day, known)
    assert done > DAYS
    assert Pause.objects.exists()
    assert Use.objects.filter(reverses__isnull=False).exists()
    assert len({str(view["uses"]) for view in kept.values()}) > 3
    with time_machine.travel(timezone.make_aware(morning + timedelta(days=DAYS + 30))):
        for (day, known), view in kept.items():
            assert seen(world, enrolled[0].animal, day, known) == view, (day, known)
