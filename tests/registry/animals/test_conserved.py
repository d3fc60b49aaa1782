"""Numbers are conserved over everything that happens, and a state is the same both ways."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from registry.animals import actions
from registry.animals.models import Animal, Event, Group
from registry.animals.reads import numbers_on
from registry.animals.state import State, after, as_of
from registry.errors import Refusal
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_enclosure, make_group, make_taxon
from tests.worlds.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]

GAINED = {Event.Sort.ARRIVED, Event.Sort.BORN}
LOST = {Event.Sort.DEPARTED, Event.Sort.DIED}
START_D = 300


@dataclass
class House:
    """A small collection, and a day that only goes forward."""

    by: Person
    homes: list[Any]
    day: date
    made: int = 0
    snapshots: list[tuple[date, dict[str, State]]] = field(default_factory=list)

    def code(self) -> str:
        self.made += 1
        return f"H{self.made}"

    def one_of(self, model: type[Any], pick: int) -> Any:
        rows = list(model.objects.filter(state="kept").order_by("pk"))
        return rows[pick % len(rows)] if rows else None


def shown_of(row: Animal | Group) -> State:
    """Give the state as the record itself shows it now."""
    if isinstance(row, Group):
        return State(
            count=type(State().count)(row.males, row.females, row.unknown),
            enclosure=row.enclosure_id,
            life_stage=row.life_stage,
            is_estimated=row.is_estimated,
        )
    is_here = row.state == "kept"
    male, female = row.sex == "male", row.sex == "female"
    count = type(State().count)(
        int(is_here and male), int(is_here and female), int(is_here and not (male or female))
    )
    return State(count, row.enclosure_id, row.sex, row.life_stage)


def act(house: House, verb: str, pick: int, n: int) -> None:
    """Do one thing in the house, if it can be done; a refusal changes nothing."""
    by, day = house.by, house.day
    animal, group = house.one_of(Animal, pick), house.one_of(Group, pick)
    if (animal is None or group is None) and verb not in ("receive", "form"):
        return
    home, other = house.homes[n % 3], house.one_of(Group, pick + 1)
    sex = ("unknown", "male", "female")[n % 3]
    change = {("males", "females", "unknown")[n % 3]: n}
    loss = {name: -number for name, number in change.items()}
    deeds: dict[str, Any] = {
        "receive": lambda: make_animal(
            code=house.code(), enclosure=home, sex=sex, arrived_on=day, by=by
        ),
        "form": lambda: make_group(code=house.code(), enclosure=home, arrived_on=day, by=by),
        "move": lambda: actions.move_animal(animal, enclosure=home, happened_on=day, by=by),
        "shift": lambda: actions.move_group(group, enclosure=home, happened_on=day, by=by),
        "sex": lambda: actions.sex_animal(animal, sex=sex, happened_on=day, by=by),
        "stage": lambda: actions.record_stage(group, life_stage="adult", happened_on=day, by=by),
        "born": lambda: actions.count_group(group, **change, sort="born", happened_on=day, by=by),
        "died": lambda: actions.count_group(group, **loss, sort="died", happened_on=day, by=by),
        "recount": lambda: actions.recount_group(
            group, unknown=n, is_estimated=True, happened_on=day, by=by
        ),
        "draw": lambda: actions.draw_animal(
            group, code=house.code(), sex=sex, counted_as="unknown", happened_on=day, by=by
        ),
        "join": lambda: actions.join_group(animal, group=group, happened_on=day, by=by),
        "split": lambda: actions.split_group(
            group, code=house.code(), name="new", enclosure=home, happened_on=day, by=by, **change
        ),
        "merge": lambda: actions.merge_group(group, into=other, happened_on=day, by=by),
        "bear": lambda: actions.bear_young(
            animal, code=house.code(), happened_on=day, by=by, **(change if n else {"unknown": 1})
        ),
        "leave": lambda: actions.leave_animal(animal, sort="died", happened_on=day, by=by),
        "undo": lambda: actions.take_back_animal_event(animal, reason="wrong", by=by),
        "undo group": lambda: actions.take_back_group_event(group, reason="wrong", by=by),
    }
    deeds[verb]()


VERBS = (
    "receive", "form", "move", "shift", "sex", "stage", "born", "died", "recount", "draw", "join",
    "split", "merge", "bear", "leave", "undo", "undo group",
)  # fmt: skip
STEPS = st.lists(
    st.tuples(st.sampled_from(VERBS), st.integers(0, 5), st.integers(0, 4), st.integers(0, 3)),
    min_size=5,
    max_size=25,
)


def make_house() -> House:
    by = make_person(Role.CURATOR)
    make_taxon(by=by)
    house = House(by, [make_enclosure(by=by) for _ in range(3)], days_ago(START_D))
    make_group(code=house.code(), enclosure=house.homes[0], arrived_on=house.day, by=by)
    make_animal(code=house.code(), enclosure=house.homes[1], arrived_on=house.day, by=by)
    return house


def live(house: House, steps: Any) -> None:
    """Let it all happen, and keep how each record looked at the end of every day."""
    for verb, pick, n, days in steps:
        if days and not verb.startswith("undo"):
            # What is taken back changes earlier days too: only days since then are compared.
            house.day += timedelta(days=days)
        try:
            act(house, verb, pick, n)
        except Refusal:
            continue
        if verb.startswith("undo"):
            house.snapshots.clear()
        rows = [*Animal.objects.all(), *Group.objects.all()]
        house.snapshots.append((house.day, {row.code: shown_of(row) for row in rows}))


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(steps=STEPS)
def test_whatever_happens_numbers_are_conserved_and_both_ways_agree(steps: Any) -> None:
    with transaction.atomic():
        check(steps)
        transaction.set_rollback(True)


def check(steps: Any) -> None:
    house = make_house()
    live(house, steps)
    standing = list(Event.objects.standing())
    total = sum(sum(event.changes) for event in standing)
    gained = sum(sum(one.changes) for one in standing if one.sort in GAINED)
    lost = -sum(sum(one.changes) for one in standing if one.sort in LOST)
    corrected = sum(sum(one.changes) for one in standing if one.sort == Event.Sort.COUNTED)
    here = sum(group.number for group in Group.objects.all())
    here += Animal.objects.filter(state="kept").count()
    # The law of the register: what came, less what went, set right by what was counted, is here.
    assert here == total == gained - lost + corrected
    for event in standing:
        partners = [one for one in standing if one.partner_id == event.pk]
        if partners and event.sort != Event.Sort.BORE:
            assert [sum(x) for x in zip(event.changes, partners[0].changes, strict=True)] == [0] * 3
        if event.sort == Event.Sort.SEXED:
            assert sum(event.changes) == 0

    last_of = dict(house.snapshots)
    for day, states in last_of.items():
        for row in [*Animal.objects.all(), *Group.objects.all()]:
            if row.code not in states:
                continue
            events = list(row.events.standing())
            past = as_of(events, day)
            stepped = State()
            for event in sorted(events, key=lambda one: (one.happened_on, one.pk)):
                if event.happened_on <= day:
                    stepped = after(stepped, event)
            assert past == stepped
            seen = states[row.code]
            assert past.count == seen.count, (row, day)
            if seen.enclosure is not None:
                assert past.enclosure == seen.enclosure, (row, day)
        # And the database, which sums by itself, says the same of the whole house.
        assert numbers_on(day) == sum(one.count.total for one in states.values())
