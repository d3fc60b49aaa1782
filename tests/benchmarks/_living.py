"""A collection of so many animals, written row by row without the deeds, and its reads measured."""

import json
import random
import sys
import time
import tracemalloc
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.db import connection
from django.test import Client

from registry.animals.models import Animal, Enclosure, Event, Group, Restriction, Taxon
from registry.animals.reads import lived_in, numbers_on, states_on
from registry.people.models import Person

BATCH = 5_000
EVENTS_EACH = 9
FIRST = date(2016, 1, 1)
DAYS = 3_600


def make(number: int, by: Person) -> None:
    """Write taxa, enclosures, animals with nine events each, and a group to ten animals."""
    chance = random.Random(20261130)
    taxa = [
        Taxon(scientific_name=f"Species {n}", common_name=f"kind {n}", taxon_class="bony_fish")
        for n in range(100)
    ]
    homes = [Enclosure(code=f"B{n}", name=f"Tank B{n}") for n in range(300)]
    Taxon.objects.bulk_create(taxa)
    Enclosure.objects.bulk_create(homes)
    animals = [
        Animal(
            code=f"a{n}",
            taxon=taxa[n % 100],
            sex=("male", "female", "unknown")[n % 3],
            enclosure=homes[n % 300],
            arrived_on=FIRST + timedelta(days=n % 900),
        )
        for n in range(number)
    ]
    groups = [
        Group(
            code=f"g{n}",
            name=f"Group {n}",
            sort="shoal",
            taxon=taxa[n % 100],
            unknown=50,
            enclosure=homes[n % 300],
            arrived_on=FIRST + timedelta(days=n % 900),
        )
        for n in range(number // 10)
    ]
    Animal.objects.bulk_create(animals, batch_size=BATCH)
    Group.objects.bulk_create(groups, batch_size=BATCH)
    events: list[Event] = []
    for kind, rows in (("animal", animals), ("group", groups)):
        for n, row in enumerate(rows):
            events += _life(kind, row, n, homes, chance, by)
            if len(events) > 4 * BATCH:
                Event.objects.bulk_create(events, batch_size=BATCH)
                events.clear()
    Event.objects.bulk_create(events, batch_size=BATCH)
    begun = {"sort": "moult", "begun_by": by, "began_on": date(2026, 1, 1)}
    Restriction.objects.bulk_create(
        [Restriction(animal=one, **begun) for one in animals[:: max(1, number // 500)]]
        + [Restriction(enclosure=one, **begun) for one in homes[::30]]
    )


def _life(
    kind: str, row: Any, n: int, homes: list[Enclosure], chance: random.Random, by: Person
) -> list[Event]:
    """Give an arrival, and moves, measures and counts after it."""
    shared = {kind: row, "recorded_by": by}
    change = {"unknown": 50} if kind == "group" else {row.sex + "s" * (row.sex != "unknown"): 1}
    life = [
        Event(
            sort="arrived",
            happened_on=row.arrived_on,
            enclosure=homes[chance.randrange(300)],
            life_stage="adult",
            sex=row.sex if kind == "animal" else "",
            **change,
            **shared,
        )
    ]
    days = sorted(chance.randrange(900, DAYS) for _ in range(EVENTS_EACH))
    for place, day in enumerate(days):
        on = FIRST + timedelta(days=day)
        if place % 3 == 0:
            home = row.enclosure if place == EVENTS_EACH - 3 else homes[chance.randrange(300)]
            life.append(Event(sort="moved", happened_on=on, enclosure=home, **shared))
        elif kind == "group":
            life.append(Event(sort="counted", happened_on=on, **shared))
        else:
            measured = {"measure": "mass_g", "value": 100.0 + n % 50}
            life.append(Event(sort="measured", happened_on=on, **measured, **shared))
    return life


def measured(asked: Callable[[], object]) -> dict[str, float]:
    """Give queries, seconds and megabytes; asked once before, so that nothing is compiled in it."""
    asked()
    made = []

    def counting(execute: Any, *given: Any) -> Any:
        made.append(given[0])
        return execute(*given)

    with connection.execute_wrapper(counting):
        began = time.perf_counter()
        asked()
        took = time.perf_counter() - began
    tracemalloc.start()
    asked()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return {"queries": len(made), "s": took, "mb": peak}


def main() -> None:
    """Make the collection, and print what each read took as one JSON object."""
    by = Person.objects.filter(is_system=True).first() or Person.objects.create(
        email="keeper@example.org", name="A keeper"
    )
    make(int(sys.argv[1]), by)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    client = Client(headers={"host": "localhost"})
    client.force_login(by)
    day = FIRST + timedelta(days=2_000)
    home = Enclosure.objects.get(code="B7")
    animals = list(Animal.objects.all()[:50])

    def page(address: str) -> Callable[[], object]:
        def ask() -> object:
            answer = client.get(address)
            assert answer.status_code == 200, (address, answer.status_code)
            return answer

        return ask

    dates = "from_on=2026-03-01&to_on=2026-03-30"
    cases: dict[str, Callable[[], object]] = {
        "list of animals": page("/animals/"),
        "available in March": page(f"/oversight/available/?{dates}"),
        "free in March": page(f"/oversight/available/?{dates}&free=on"),
        "page of an animal": page(animals[7].get_absolute_url()),
        "enclosure on a day": page(f"{home.get_absolute_url()}?on={day.isoformat()}"),
        "who lived in it": lambda: lived_in(home, day),
        "states of fifty": lambda: states_on(animals, day),
        "numbers on a day": lambda: numbers_on(day),
    }
    print(json.dumps({case: measured(asked) for case, asked in cases.items()}))


if __name__ == "__main__":
    main()
