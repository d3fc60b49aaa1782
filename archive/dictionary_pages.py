"""Pages of dictionaries: what columns mean, what changed, and what the next cohort begins with."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from archive import shown
from archive.dictionaries import sheet, table_of, tables_of
from archive.engine.codes import CODES, Place
from archive.exports.blank_book import blank_book
from archive.exports.descriptor import descriptor_text
from archive.extending.advice import may_add_column, may_change
from archive.extending.changes import Change, Verdict
from archive.extending.comparing import compare, releases
from archive.gate import gate_told
from archive.models import Dataset, Deposit, Dictionary, DictionaryMapping
from archive.reported import numbered, titled
from registry.errors import Unseen
from registry.permissions import Verb, allowed
from registry.web import acts_on, page_of, person_of, seen_or_404

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
TOLD = {
    Verdict.COMPATIBLE: (
        "held",
        _("compatible"),
        _("Every table that was valid under the version before is valid under this one, and means"
          " the same."),
    ),
    Verdict.MAPPING: (
        "part",
        _("needs a mapping"),
        _("Old tables mean the same once a reviewed rule has translated what is marked below."),
    ),
    Verdict.BREAKING: (
        "barred",
        _("breaking"),
        _("Tables that were valid under the version before may fail under this one, or lose what"
          " they said."),
    ),
}  # fmt: skip
"""Each verdict with its tone, its word, and what it means."""


@login_required
def dictionary_list(request: HttpRequest) -> HttpResponse:
    """List the dictionaries, newest first."""
    rows = allowed(Dictionary.objects.all(), person_of(request), Verb.DICTIONARY_SEE)
    rows = rows.select_related("study", "published_by").order_by("study__title", "-number")
    return render(request, "archive/dictionaries.html", {"page": page_of(request, rows)})


def _dictionary(request: HttpRequest, pk: int) -> Dictionary:
    rows = Dictionary.objects.select_related("study", "published_by")
    return seen_or_404(rows, person_of(request), pk)


@login_required
def dictionary(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a dictionary: a row for each field, and what is other than in the version before."""
    found = _dictionary(request, pk)
    person = person_of(request)
    versions = list(found.study.dictionaries.order_by("number"))
    up_to = [one for one in versions if one.number <= found.number]
    context = {
        "dictionary": found,
        "release": releases([one.descriptor for one in up_to])[-1],
        "before": up_to[-2] if len(up_to) > 1 else None,
        "tables": shown.tables(found.descriptor),
        "others": [one for one in reversed(versions) if one.pk != pk],
        "acts": [act for act in acts_on(found.study, person) if act["path"] == "write_dictionary"],
        "mappings": mappings_of(found),
        "gate": gate_told(found, person),
    }
    mapped = next(iter(acts_on(found, person)), None)
    if context["before"] is not None:
        told = compare(up_to[-2].descriptor, found.descriptor)
        context |= _verdict(told.verdict) | {"changes": _by_table(told.changes)}
        if mapped is not None:
            context["to_map"] = _to_map(told.changes, up_to[-2], mapped["url"])
    context["propose"] = mapped
    return render(request, "archive/dictionary.html", context)


def _verdict(verdict: Verdict) -> dict[str, Any]:
    tone, word, meaning = TOLD[verdict]
    return {"tone": tone, "verdict": word, "meaning": meaning}


def mappings_of(found: Dictionary) -> QuerySet[DictionaryMapping]:
    """Give the mappings that lead to a dictionary, or from it."""
    rows = DictionaryMapping.objects.filter(Q(new=found) | Q(old=found))
    return rows.select_related("old__study", "new__study", "proposer")


def _to_map(changes: Iterable[Change], before: Dictionary, url: str) -> list[dict[str, str]]:
    """Give, for each table that is not compatible, where its mapping begins."""
    worse = {one.table: "" for one in changes if one.verdict is not Verdict.COMPATIBLE}
    tables = [table for table in worse if table and table_of(before.descriptor, table)]
    return [
        {
            "table": table,
            "url": f"{url}?{urlencode({'old': before.pk, 'old_table': table, 'table': table})}",
        }
        for table in tables
    ]


def _by_table(changes: Iterable[Change]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Give the changes of each table, those that need the most attention first."""
    order = [Verdict.BREAKING, Verdict.MAPPING, Verdict.COMPATIBLE]
    ranked = sorted(changes, key=lambda one: (one.table, order.index(one.verdict)))
    return [
        (table, [_verdict(one.verdict) | {"field": one.field, "what": one.what} for one in some])
        for table, some in groupby(ranked, key=lambda one: one.table)
    ]


@login_required
def dictionary_descriptor(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the dictionary's descriptor as a file."""
    found = _dictionary(request, pk)
    return HttpResponse(
        descriptor_text(found.descriptor),
        content_type="application/json",
        headers={"Content-Disposition": 'attachment; filename="datapackage.json"'},
    )


@login_required
def data_sheet(request: HttpRequest, pk: int, table: str) -> HttpResponse:
    """Give a blank data sheet: the header row of one table."""
    for one in tables_of(_dictionary(request, pk).descriptor):
        if one["name"] == table:
            heads = {"Content-Disposition": f'attachment; filename="{table}.csv"'}
            return HttpResponse(sheet(one), content_type="text/csv; charset=utf-8", headers=heads)
    raise Unseen(
        said("The dictionary has no table “%(table)s”.") % {"table": table},
        "It was not found at this address.",
        "Check the address.",
    )


@login_required
def blank(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a blank workbook: a sheet for each table, with drop-downs, units and notes."""
    found = _dictionary(request, pk)
    heads = {"Content-Disposition": f'attachment; filename="blank-{found.pk}.xlsx"'}
    book = blank_book(tables_of(found.descriptor))
    return HttpResponse(book, content_type=WORKBOOK, headers=heads)


# ------------------------------------------------------------------------------ the next cohort


@login_required
def next_cohort(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what the next cohort begins with: dictionary, sheets, what may change, what to mind."""
    person = person_of(request)
    rows = Dataset.objects.select_related("project__study")
    found = seen_or_404(rows, person, pk)
    newest = found.project.study.dictionaries.order_by("-number").first()
    seen = allowed(found.deposits.all(), person, Verb.DEPOSIT_SEE).exclude(state="discarded")
    context: dict[str, Any] = {
        "dataset": found,
        "project": found.project,
        "dictionary": newest,
        "complaints": _complaints(list(seen.order_by("pk"))),
        "extend": next(
            (act for act in acts_on(found.project, person) if act["path"] == "extend"), None
        ),
    }
    if newest is not None:
        context |= {
            "tables": tables_of(newest.descriptor),
            "may_change": may_change(newest.descriptor),
            "may_add": may_add_column(newest.descriptor),
        }
    return render(request, "archive/next.html", context)


def _complaints(deposits: Sequence[Deposit]) -> list[dict[str, Any]]:
    """Give what the newest check of each deposit found, the most frequent first."""
    found: dict[str, dict[str, Any]] = {}
    for deposit in deposits:
        for _number, _kind, entry in numbered(deposit.summary):
            title = titled(entry)
            told = found.setdefault(title, {"title": title, "count": 0, "todo": _todo(entry)})
            told["count"] += entry["count"]
            told["deposit"] = deposit
    return sorted(found.values(), key=lambda one: -one["count"])


def _todo(entry: Mapping[str, Any]) -> str:
    """Give the remedy without the rows of this year's files."""
    code = CODES.get(entry["code"])
    place = Place(entry["table"], None, entry["field"], "", is_many=True)
    return code.remedy(place) if code else str(entry["remedy"])
