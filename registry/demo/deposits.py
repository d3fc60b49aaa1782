"""Data packages of the demo on their way into the archive: deposited, checked, accepted."""

import json
from typing import Any

from archive import actions as archive
from archive.acceptance import accept
from archive.models import Deposit, PooledTable, Version
from archive.pooling import take_in_table
from archive.rounds import take_in
from archive.tasks import check
from registry.demo.cohorts import Cohort, project_of
from registry.demo.diary import Diary
from registry.demo.world import TEXTS, World

type Tables = dict[str, str]
"""Tables of a package as text, by the names of their files."""

_SINCE, _UNTIL = "x:since", "x:until"


def descriptor_of(name: str, number: int) -> dict[str, Any]:
    """Give a dictionary in one of its versions: the fields that had come by then, and not gone."""
    text = (TEXTS / "dictionaries" / f"{name}.json").read_text(encoding="utf-8")
    whole: dict[str, Any] = json.loads(text)
    for table in whole["resources"]:
        fields = [
            one
            for one in table["schema"]["fields"]
            if one.pop(_SINCE, 1) <= number <= one.pop(_UNTIL, number)
        ]
        table["schema"]["fields"] = fields
    return whole


def publish(
    diary: Diary, world: World, moment: str, name: str, number: int, notes: str, by: str
) -> None:
    """Write into the diary that a study's dictionary was published."""
    diary.at(moment, _publish, world, name, number, notes, by, is_alone=True)


def _publish(world: World, name: str, number: int, notes: str, by: str) -> None:
    world.dictionaries[f"{name}-{number}"] = archive.publish_dictionary(
        world.studies[name],
        descriptor=descriptor_of(name, number),
        notes=notes,
        by=world.people[by],
    )


def deposit(
    diary: Diary,
    world: World,
    moment: str,
    key: str,
    cohort: Cohort,
    dictionary: str,
    tables: Tables,
    note: str = "",
) -> None:
    """Write into the diary that a package was deposited and checked.

    It stands in no wider transaction, and the check is made at once: no worker runs yet.
    """
    diary.at(moment, _deposit, world, key, cohort, dictionary, tables, note, is_alone=True)


def _deposit(
    world: World, key: str, cohort: Cohort, dictionary: str, tables: Tables, note: str
) -> None:
    student = world.people[cohort.student]
    opened = archive.open_deposit(
        project_of(world, cohort.key),
        dictionary=world.dictionaries[dictionary],
        note=note,
        by=student,
    )
    for name, text in tables.items():
        kept = take_in(opened, name, [text.encode()])
        archive.add_files(opened, kept=[kept], by=student)
    archive.submit_deposit(opened, by=student)
    world.deposits[key] = check(opened)


def pooled(
    diary: Diary, world: World, moment: str, key: str, cohort: Cohort, title: str, note: str
) -> None:
    """Write into the diary that the lead of a cohort deposited a pooled table, and its check."""
    diary.at(moment, _pooled, world, key, cohort, title, note, is_alone=True)


def _pooled(world: World, key: str, cohort: Cohort, title: str, note: str) -> None:
    pool = PooledTable.objects.get(title=title)
    lead = world.people[cohort.lead]
    opened = archive.deposit_pool(
        pool,
        project=project_of(world, cohort.key),
        kept=take_in_table(pool),
        note=note,
        by=lead,
    )
    archive.submit_deposit(opened, by=lead)
    world.deposits[key] = check(opened)


def accepted(
    diary: Diary,
    world: World,
    moment: str,
    key: str,
    *,
    access: str = "open",
    until: str = "",
    step: str = "minor",
) -> None:
    """Write into the diary that the data steward accepted a deposit."""
    diary.at(moment, _accept, world, key, access, until, step, is_alone=True)


def _accept(world: World, key: str, access: str, until: str, step: str) -> None:
    world.versions[key] = accept(
        Deposit.objects.get(pk=world.deposits[key].pk),
        licence="CC-BY-4.0",
        access=access,
        embargoed_until=world.story.day(until) if until else None,
        step=step,
        by=world.people["noor"],
    )


def withdrawn(diary: Diary, world: World, moment: str, key: str, by_key: str, why: str) -> None:
    """Write into the diary that a version was withdrawn for another that stands in its place."""
    diary.at(moment, _withdraw, world, key, by_key, why)


def _withdraw(world: World, key: str, by_key: str, why: str) -> None:
    archive.withdraw_version(
        world.versions[key],
        ground=Version.Ground.SUPERSEDED,
        reason=why,
        replaced_by=world.versions[by_key],
        by=world.people["noor"],
    )
