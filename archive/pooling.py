"""What a pooled table's child is asked, and the ways by which its sources are carried over."""

import io
import json
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db.models import Prefetch, QuerySet, prefetch_related_objects
from django.utils.translation import gettext as _

from archive.columnar import copy_of, enqueue_columns, make_columns, tables_in
from archive.engine.descriptor import NAME
from archive.extending.fitting import still_open
from archive.extending.room import PoolRoom
from archive.extending.rules import rule_as_dict
from archive.models import Dictionary, PooledTable, Version
from archive.rounds import give_back, take_in_pooled
from archive.storage.quarantine import Kept
from archive.terms import number_parts
from archive.ways import Way, Ways
from registry.errors import Conflict, Gone, Refusal, Unsound
from registry.guarded.asking import ask

MODULE = "archive.extending.pool_child"
AT_ONCE = 200_000
"""Rows of which the columns are copied while somebody waits; more are left to the worker."""
_WHAT = "The versions were not pooled."
_NEXT = "Sift the rows, ask for fewer columns, or take the versions one by one."


@dataclass(frozen=True)
class Source:
    """A version with its table, and the way by which the table is carried over."""

    version: Version
    resource: dict[str, Any]
    way: Way


def newest_of_each(rows: QuerySet[Version]) -> QuerySet[Version]:
    """Give the newest of some versions for each dataset."""
    newest: dict[int, tuple[tuple[int, ...], int]] = {}
    for dataset, number, pk in rows.values_list("dataset", "number", "pk"):
        mark = (number_parts(number), pk)
        newest[dataset] = max(mark, newest.get(dataset, mark))
    return Version.objects.filter(pk__in=[pk for _number, pk in newest.values()])


def sources_of(
    versions: Sequence[Version], dictionary: Dictionary, table: str, ways: Ways
) -> list[Source]:
    """Give how each version's table is carried over, oldest first, the dictionary's own last.

    Raises
    ------
    Unsound
        When no way leads from one of them, or something that differs has no rule.
    """
    found = [_source(one, dictionary, table, ways) for one in versions]
    if not any(one.version.dictionary_id == dictionary.pk for one in found):
        raise Unsound(_WHAT, "None was checked by the dictionary itself.", "Choose one that was.")
    found.sort(
        key=lambda one: (one.version.dictionary_id == dictionary.pk, one.version.accepted_at)
    )
    newest = found[-1].resource
    for one in found:
        if one.version.dictionary_id == dictionary.pk:
            continue
        if left := still_open(one.resource, newest, one.way.rules):
            raise Unsound(
                _WHAT,
                _("Between %(version)s and the newest dictionary this has no rule: %(left)s")
                % {"version": one.version, "left": " ".join(left)},
                "Propose a mapping of the two dictionaries, have it reviewed, or leave that"
                " version out.",
                fields={"sources": " ".join(left)},
            )
    return found


def _source(version: Version, dictionary: Dictionary, table: str, ways: Ways) -> Source:
    for resource in tables_in(version):
        way = ways.between(version.dictionary_id or 0, str(resource["name"]), dictionary.pk, table)
        if way is not None:
            return Source(version, resource, way)
    why = _("No mapping that holds leads from %(version)s to %(table)s of %(dictionary)s.") % {
        "version": version,
        "table": table,
        "dictionary": dictionary,
    }
    raise Unsound(
        _WHAT,
        why,
        "Propose one, have it reviewed, or leave that version out.",
        fields={"sources": why},
    )


def cohorts_of(pool: PooledTable) -> list[Source]:
    """Give the sources of a pooled table as it was made.

    Raises
    ------
    Gone
        When it was withdrawn.
    Conflict
        When a source or a mapping was withdrawn since.
    """
    what = "The table was not read."
    if pool.state == "withdrawn":
        raise Gone(
            what,
            _("It was withdrawn: %(withdrawn_because)s")
            % {"withdrawn_because": pool.withdrawn_because},
            "Pool the cohorts anew.",
        )
    versions = pool.sources.select_related("dataset__project", "dictionary")
    mappings = pool.mappings.select_related("old__study", "new").order_by("pk")
    prefetch_related_objects([pool], Prefetch("sources", versions), Prefetch("mappings", mappings))
    if gone := pool.gone:
        raise Conflict(
            what,
            _("Withdrawn since it was pooled: %(gone)s.") % {"gone": ", ".join(map(str, gone))},
            "Pool the versions that are held anew, on the study’s page.",
        )
    ways = Ways.now(pool.mappings.all())
    return sources_of(list(pool.sources.all()), pool.dictionary, pool.table, ways)


def read(sources: Sequence[Source], asked: Mapping[str, Any]) -> dict[str, Any]:
    """Have the child look at the table of some sources, sum it up or write it: its answer.

    Raises
    ------
    Conflict
        When the columns of a source are still copied.
    Unsound, TooLarge
        As the child says.
    """
    return ask(
        MODULE, {**asked, "cohorts": [for_child(one) for one in sources]}, PoolRoom(), next=_NEXT
    )


def for_child(source: Source) -> dict[str, Any]:
    """Give a source as the child takes it; its columns are copied where there is no copy yet.

    Raises
    ------
    Conflict
        When they are still copied, or cannot be.
    """
    path = copy_of(source.version, source.resource)
    if not path.exists():
        _copy(source.version, path)
    return {
        "identifier": source.version.identifier,
        "path": str(path.resolve()),
        "resource": source.resource,
        "rules": [rule_as_dict(rule) for rule in source.way.rules],
    }


def _copy(version: Version, path: Path) -> None:
    if version.rows > AT_ONCE:
        enqueue_columns(version)
        raise Conflict(
            "The table was not read yet.",
            _("The columns of %(version)s are being copied.") % {"version": version},
            "Nothing is to be done: open the page again in a minute.",
        )
    told = make_columns(version)
    if not path.exists():
        raise Conflict(
            "The table was not read.",
            _("The columns of %(version)s could not be copied: %(values)s")
            % {"version": version, "values": " ".join(told.values())},
            "Leave that version out; its table itself is whole.",
        )


def take_in_table(pool: PooledTable) -> list[Kept]:
    """Have the child write a pooled table with its description, and take both in to quarantine."""
    with tempfile.TemporaryDirectory(prefix="pool-") as room:
        target = Path(room) / "pooled.csv"
        told = read(
            cohorts_of(pool),
            {
                "write": {"target": str(target), "form": "csv"},
                "describe": {
                    "name": "pooled",
                    "title": pool.title,
                    "description": f"Rows of {pool.sources.count()} versions; each says where it"
                    " is from.",
                },
            },
        )
        descriptor = {"name": "pooled", "title": pool.title, "resources": [told["resource"]]}
        kept: list[Kept] = []
        try:
            with target.open("rb") as table:
                kept.append(take_in_pooled(target.name, table))
            text = json.dumps(descriptor, ensure_ascii=False, indent=2).encode()
            kept.append(take_in_pooled(NAME, io.BytesIO(text)))
        except Refusal:
            give_back(kept)
            raise
    return kept


@contextmanager
def written(pool: PooledTable, form: str, conditions: Sequence[Any]) -> Iterator[Path]:
    """Have the child write a pooled table, and lend the file that it wrote."""
    with tempfile.TemporaryDirectory(prefix="pool-") as room:
        target = Path(room) / "pooled"
        read(
            cohorts_of(pool),
            {"conditions": list(conditions), "write": {"target": str(target), "form": form}},
        )
        yield target
