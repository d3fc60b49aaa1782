"""Asks for the books at 5,000 animals and at 50,000, with groups and 50,000 and 500,000 events.

The other side is ten times what a tenth of the size took, so that a ratio of 1 is growth in a
straight line; a list that is brought in is held against 1 ms a row. Queries and memory are told
beside the lines.
"""

import csv
import random
import resource
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.animals import actions
from registry.animals.export import as_lists
from registry.animals.intake.reading import read
from registry.animals.intake.weighing import weigh
from registry.animals.models import Animal, Enclosure, Event, Group, Intake, Parentage, Taxon
from registry.animals.relatives import kin_of, relatedness_of
from registry.animals.stockbook import book_of
from registry.people.models import Person
from registry.permissions import Role
from tests.benchmarks._said import note, say
from tests.worlds.people import make_person

TAXA, WHOLE, ROWS = 50, 50_000, 20_000
EVENTS_EACH = 9
START = date(2010, 1, 1)


def lay_out(first: int, last: int, person: Person) -> None:
    """Write animals of 50 taxa with their events and parents, and a tenth as many groups."""

    chance = random.Random(20261130)
    taxa, homes = list(Taxon.objects.order_by("pk")), list(Enclosure.objects.order_by("pk"))
    days = [START + timedelta(days=chance.randrange(6_000)) for _ in range(first, last)]
    held = Animal.objects.bulk_create(
        [
            Animal(code=f"B-{n}", taxon=taxa[n % TAXA], enclosure=homes[n % 200],
                   sex=("male", "female")[n // TAXA % 2], arrived_on=day, born_on=day)
            for n, day in enumerate(sorted(days), start=first)
        ],
        batch_size=500,
    )  # fmt: skip
    groups = Group.objects.bulk_create(
        [
            Group(code=f"BG-{n}", name=f"Shoal {n}", sort="shoal", taxon=taxa[n % TAXA],
                  enclosure=homes[n % 200], unknown=20, arrived_on=START)
            for n in range(first // 10, last // 10)
        ],
        batch_size=500,
    )  # fmt: skip

    def happened() -> Any:
        for one in held:
            yield Event(animal=one, sort="born", happened_on=one.arrived_on, recorded_by=person,
                        males=one.sex == "male", females=one.sex == "female",
                        born_on=one.born_on)  # fmt: skip
            for n in range(EVENTS_EACH - 1):
                day = one.arrived_on + timedelta(days=n)
                yield Event(animal=one, sort="moved", happened_on=day, recorded_by=person,
                            enclosure=homes[n])  # fmt: skip
        for group in groups:
            for n in range(10):
                day = START + timedelta(days=chance.randrange(6_000))
                yield Event(group=group, sort=("arrived", "died")[n % 2], happened_on=day,
                            recorded_by=person, unknown=(3, -1)[n % 2])  # fmt: skip

    Event.objects.bulk_create(happened(), batch_size=1_000)
    # Parents are two years older, of the same taxon: eight generations.
    gap = len(held) // TAXA // 8
    Parentage.objects.bulk_create(
        (
            Parentage(animal=one, role=role, parent=held[n - TAXA * back], evidence="genetic",
                      recorded_by=person)
            for n, one in enumerate(held) if n >= TAXA * (gap + 16)
            for role, back in (("dam", gap + n % 7 * 2 + 1), ("sire", gap + n % 5 * 2))
        ),
        batch_size=1_000,
    )  # fmt: skip


def measured(asked: Callable[[], object]) -> tuple[float, int]:
    """Give the seconds and the queries that something takes."""

    with CaptureQueriesContext(connection) as queries:
        began = time.perf_counter()
        asked()
        took = time.perf_counter() - began
    return took, len(queries)


def asked() -> dict[str, tuple[float, int]]:
    """Ask for each book once."""

    kind = Taxon.objects.order_by("pk")[0]
    newest = list(Animal.objects.filter(taxon=kind).order_by("-pk")[:40])
    return {
        "stock list of a year": measured(lambda: book_of(2020, Taxon.objects.all())),
        "kin of one animal": measured(lambda: kin_of(newest[0])),
        "relatedness of 40": measured(lambda: relatedness_of(newest)),
        "export of all": measured(
            lambda: sum(1 for _ in as_lists(Animal.objects.all(), Group.objects.all()))
        ),
    }


def bring_in(folder: Path, by: Person) -> None:
    """Look at a list of 20,000 rows, bring it in, and undo it."""

    path = folder / "list.csv"
    with path.open("w", newline="") as written:
        writer = csv.writer(written)
        writer.writerow(["code", "taxon", "enclosure", "arrived_on", "chip"])
        for n in range(ROWS):
            writer.writerow([f"N-{n}", f"Raja {n % TAXA}", "B1", "2024-03-01", f"98511{n:010}"])
    sheet = read(path, file_name="list.csv", sha256="0" * 64)
    took, queries = measured(lambda: weigh(sheet))
    note(f"  looked at {ROWS:,} rows with {queries} queries")
    say("look at 20,000 rows", took, ROWS / 1_000, "s")
    took, queries = measured(lambda: actions.import_animals(sheet, by=by))
    note(f"  brought in with {queries} queries")
    say("bring in 20,000 rows", took, ROWS / 1_000, "s")
    intake = Intake.objects.get()
    took, queries = measured(lambda: actions.undo_intake(intake, reason="Measured.", by=by))
    note(f"  undone with {queries} queries")
    say("undo 20,000 rows", took, ROWS / 1_000, "s")


def main() -> None:
    """Lay out a tenth and ask, then the rest and ask again; then bring a list in and undo it."""
    by = make_person(Role.CURATOR)
    Taxon.objects.bulk_create(
        Taxon(scientific_name=f"Raja {n}", common_name=f"ray {n}", taxon_class="bony_fish")
        for n in range(TAXA)
    )
    Enclosure.objects.bulk_create(Enclosure(code=f"B{n}", name=f"Tank B{n}") for n in range(200))
    lay_out(0, WHOLE // 10, by)
    tenth = asked()
    lay_out(WHOLE // 10, WHOLE, by)
    for case, (took, queries) in asked().items():
        before, few = tenth[case]
        note(f"  {case}: {few} queries at {WHOLE // 10:,} animals, {queries} at {WHOLE:,}")
        say(case, took * 1000, before * 10_000, "ms")
    with tempfile.TemporaryDirectory() as folder:
        bring_in(Path(folder), by)
    note(f"  peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
