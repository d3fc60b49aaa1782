"""The rules of a mapping tried on the tables that they carry over, for whoever may read these."""

from dataclasses import dataclass, field
from typing import Any

from archive.columnar import tables_in
from archive.dictionaries import table_of
from archive.extending.room import PoolRoom
from archive.extending.rules import rule_as_dict
from archive.models import DictionaryMapping, Version
from archive.pooling import MODULE, Source, for_child, newest_of_each
from archive.shown import FIRST_ROWS, MOST_COLUMNS
from archive.ways import Ways
from registry.errors import Refusal
from registry.guarded.asking import ask
from registry.permissions import Verb, allowed

MOST = 5
"""Versions that are tried, the newest first. The house's own choice, no source."""
_NEXT = "Read the tables themselves beside the rules; nothing is changed by a trial."


@dataclass(frozen=True)
class Trial:
    """What came of it: a version with what is told of its table, how many more there are."""

    tables: list[tuple[Version, dict[str, Any]]] = field(default_factory=list)
    left_out: int = 0


def try_rules(mapping: DictionaryMapping, person: Any) -> Trial:
    """Try a mapping's rules on the newest version of each dataset that this person may read.

    A table whose columns are still copied, or that the rules do not fit at all, is told of with
    `refused` and `next`; see `archive.extending.trying.tried` for what is told else.
    """
    sources = _sources(mapping, person)
    tables = [(one.version, _told(one)) for one in sources[:MOST]]
    asked = [told for _, told in tables if "refused" not in told]
    if asked:
        own = [rule_as_dict(rule) for rule in mapping.as_rules]
        trial = {
            "new": table_of(mapping.new.descriptor, mapping.table),
            "rows": FIRST_ROWS,
            "columns": MOST_COLUMNS,
        }
        cohorts = [one | {"rules": [*one["rules"], *own]} for one in asked]
        try:
            found = ask(MODULE, {"trial": trial, "cohorts": cohorts}, PoolRoom(), next=_NEXT)
            came = found["tables"]
        except Refusal as refused:
            came = [{"refused": refused.why, "next": refused.next}] * len(asked)
        waiting = iter(came)
        tables = [
            (version, told if "refused" in told else next(waiting)) for version, told in tables
        ]
    return Trial(tables, len(sources) - len(tables))


def _told(source: Source) -> dict[str, Any]:
    try:
        return for_child(source)
    except Refusal as refused:
        return {"refused": refused.why, "next": refused.next}


def _sources(mapping: DictionaryMapping, person: Any) -> list[Source]:
    """Give the tables from which rules that hold lead to the mapping's own, the newest first."""
    ways = Ways.now()
    known = {pk for pk, _table in ways.leads_to(mapping.old_id, mapping.old_table)}
    held = allowed(Version.objects.held(), person, Verb.VERSION_READ)
    held = held.filter(dictionary__in=known, deposit__pool=None, is_published=True)
    found = []
    for version in newest_of_each(held).select_related("dataset").order_by("-accepted_at", "-pk"):
        for table in tables_in(version):
            start = (version.dictionary_id or 0, str(table["name"]))
            way = ways.between(*start, mapping.old_id, mapping.old_table)
            if way is not None:
                found.append(Source(version, table, way))
    return found
