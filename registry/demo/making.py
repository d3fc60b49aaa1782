"""The demo as a whole: every chapter written into one diary, which is then played."""

from collections.abc import Callable

from django.apps import apps
from django.db import connection
from django.utils import timezone

from registry.demo import (
    afar,
    animals,
    breeding,
    cohorts,
    cuttlefish,
    eggs,
    findings,
    gentoos,
    identity,
    lumpfish,
    octopus,
    people,
    questions,
    rays,
    review,
    seahorses,
    swabs,
    told,
)
from registry.demo.diary import Diary, Story
from registry.demo.world import World
from registry.ledger.models import Entry
from registry.oversight.models import Audit
from registry.people.models import Person

_CHAPTERS = (
    people.write,
    animals.write,
    identity.write,
    afar.write,
    breeding.write,
    questions.write,
    cohorts.open_studies,
    cuttlefish.write,
    eggs.write,
    gentoos.write,
    lumpfish.write,
    swabs.write,
    seahorses.write,
    rays.write,
    octopus.write,
    findings.write,
    told.write,
    review.write,
)


def is_made() -> bool:
    """Whether the demo is there, to its end: its last audit was opened."""
    return Audit.objects.filter(title=review.LAST).exists()


def missing_columns() -> list[str]:
    """Name the tables and columns that this program asks for and the database lacks."""
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        lacking = []
        for model in apps.get_models():
            table = model._meta.db_table
            if table not in tables:
                lacking.append(table)
                continue
            described = connection.introspection.get_table_description(cursor, table)
            held = {one.name for one in described}
            columns = [str(one.column) for one in model._meta.local_concrete_fields]
            lacking += [f"{table}.{one}" for one in columns if one not in held]
    return lacking


def is_empty() -> bool:
    """Whether the register holds nothing yet: no person, no deed."""
    return not Entry.objects.exists() and not Person.objects.real().exists()


def make(load_vocabulary: Callable[[], object]) -> int:
    """Make the demo in an empty register, and give of how many steps it was made.

    The vocabulary is loaded by its own command, when the story begins: its entries stand first.
    """
    story = Story(timezone.localdate())
    diary, world = Diary(story), World(story)
    diary.at("2023-10-30 09:00", load_vocabulary)
    for chapter in _CHAPTERS:
        chapter(diary, world)
    return diary.play()
