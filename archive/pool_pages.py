"""The page of a pooled table: its rows, sifted and summed up, what it is made of, and its files."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import FileResponse, HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from archive.models import PooledTable, Version
from archive.pooling import Source, cohorts_of, read, written
from registry.errors import Gone, Refusal, Unsound
from registry.permissions import Verb, allowed
from registry.saying import number_said
from registry.web import acts_on, number_of, person_of, seen_or_404

ROWS = 50
CONDITIONS = 3
"""Conditions that the page offers; a program gives as many as it likes."""
HOWS = (
    ("is", _("is")),
    ("is not", _("is not")),
    ("at least", _("is at least")),
    ("at most", _("is at most")),
    ("has in it", _("has in it")),
    ("is filled", _("is filled")),
    ("is missing", _("is missing")),
)
MEDIA = {
    "csv": ("text/csv; charset=utf-8", "csv"),
    "spreadsheet": ("text/csv; charset=utf-8", "csv"),
    "parquet": ("application/vnd.apache.parquet", "parquet"),
    "xlsx": ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "xlsx"),
}


@dataclass(frozen=True)
class Asked:
    """What an address asks of a pooled table."""

    conditions: list[dict[str, str]] = field(default_factory=list)
    by: list[str] = field(default_factory=list)
    of: str = ""
    page: int = 1

    @classmethod
    def of_address(cls, given: QueryDict) -> "Asked":
        """Read it."""
        conditions = []
        for at in range(1, CONDITIONS + 1):
            how = given.get(f"how{at}", "is")
            if (column := given.get(f"column{at}", "")) and how in dict(HOWS):
                conditions.append(
                    {"column": column, "how": how, "value": given.get(f"value{at}", "")}
                )
        by = [name for name in (given.get("by1", ""), given.get("by2", "")) if name]
        page = max(number_of(given.get("page")) or 1, 1)
        return cls(conditions, list(dict.fromkeys(by)), given.get("of", ""), page)

    def for_child(self, page: int) -> dict[str, Any]:
        """Give it as the child takes it."""
        asked: dict[str, Any] = {
            "conditions": self.conditions,
            "look": {"first": (page - 1) * ROWS, "size": ROWS},
        }
        if self.by:
            asked["summary"] = {"by": self.by, "of": self.of}
        return asked

    @property
    def address(self) -> str:
        """The conditions alone, for the addresses of files."""
        said = {
            f"{key}{at}": value
            for at, one in enumerate(self.conditions, start=1)
            for key, value in one.items()
        }
        return f"?{urlencode(said)}" if said else ""

    @property
    def lines(self) -> list[dict[str, Any]]:
        """The conditions that the form shows, those that are empty last."""
        empty = {"column": "", "how": "is", "value": ""}
        some = [*self.conditions, *[empty] * CONDITIONS][:CONDITIONS]
        return [one | {"at": at} for at, one in enumerate(some, start=1)]


def _pool(person: Any, pk: int) -> PooledTable:
    rows = PooledTable.objects.select_related("study", "dictionary__study", "maker")
    return seen_or_404(rows, person, pk)


@login_required
def pool(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a pooled table: a page of its rows as they are asked for, and where they are from."""
    person = person_of(request)
    found = _pool(person, pk)
    asked = Asked.of_address(request.GET)
    refusal: Refusal | None = None
    told: Mapping[str, Any] = {}
    status = 200
    try:
        sources = cohorts_of(found)
    except Gone as gone:
        refusal, sources, status = None, [], gone.status
    except Refusal as refused:
        refusal, sources = refused, []
    if sources:
        told, refusal = _told(sources, asked)
        status = refusal.status if refusal else 200
    page = Paginator(range(told.get("count", 0)), ROWS).get_page(asked.page)
    context = {
        "pool": found,
        "asked": asked,
        "hows": HOWS,
        "refusal": refusal,
        "columns": told.get("columns", []),
        "all_columns": [
            *(one["name"] for one in told.get("columns", [])),
            "_source",
            "_source_row",
        ],
        "numbers": [one["name"] for one in told.get("columns", []) if one["is_number"]],
        "rows": _cells(told),
        "count": told.get("count"),
        "groups": _groups(told["groups"], is_summed=bool(asked.of)) if "groups" in told else None,
        "page": page,
        "versions": found.sources.select_related("dataset").order_by("accepted_at", "pk"),
        "mappings": found.mappings.order_by("pk"),
        "kept_as": allowed(Version.objects.filter(deposit__pool=found), person, Verb.VERSION_SEE)
        .select_related("dataset")
        .order_by("pk"),
        "acts": acts_on(found, person),
    }
    return render(request, "archive/pool.html", context, status=status)


def _told(sources: Sequence[Source], asked: Asked) -> tuple[Mapping[str, Any], Refusal | None]:
    """Give what the child tells; where it refuses what was asked, the columns and why."""
    try:
        told = read(sources, asked.for_child(asked.page))
        if told["count"] and not told["rows"]:
            last = (told["count"] - 1) // ROWS + 1
            told = read(sources, asked.for_child(last))
        return told, None
    except Refusal as refused:
        if not (asked.conditions or asked.by):
            return {}, refused
        return read(sources, {}), refused


def _cells(told: Mapping[str, Any]) -> list[list[tuple[Any, bool]]]:
    """Give each row's cells, and whether they stand in a column of numbers."""
    numbers = [one["is_number"] for one in told.get("columns", [])] + [False, True]
    return [list(zip(row, numbers, strict=True)) for row in told.get("rows", [])]


def _groups(
    groups: Sequence[tuple[list[str | None], Mapping[str, Any]]], *, is_summed: bool
) -> list[tuple[list[str | None], list[str]]]:
    """Give each group's values, and its numbers as they are written."""
    names = ("mean", "deviation", "least", "most") if is_summed else ()
    return [
        (
            key,
            [number_said(told["count"])]
            + ([number_said(told["n"])] if is_summed else [])
            + [_figure(told.get(name)) for name in names],
        )
        for key, told in groups
    ]


def _figure(value: float | None) -> str:
    """Write a number with four figures that count."""
    return "" if value is None else number_said(Decimal(f"{Decimal(f'{value:.4g}'):f}"))


@login_required
def pool_file(request: HttpRequest, pk: int, form: str) -> HttpResponseBase:
    """Give the rows that are asked for as a file."""
    found = _pool(person_of(request), pk)
    return file_answer(found, form, Asked.of_address(request.GET).conditions)


def conditions_of(text: str) -> list[dict[str, str]]:
    """Read conditions as a program gives them.

    Raises
    ------
    Unsound
        When they are no list of objects, each with column, how and value.
    """
    try:
        given = json.loads(text) if text else []
        read_ones = [
            {key: str(one.get(key, "")) for key in ("column", "how", "value")} for one in given
        ]
        json.dumps(read_ones, ensure_ascii=False).encode()  # half a character has no place in UTF-8
    except (ValueError, RecursionError, AttributeError, TypeError):
        read_ones = [{"how": ""}]
    if any(one["how"] not in dict(HOWS) for one in read_ones):
        why = said("where: each object says a column, and how it is: %(ways)s.") % {
            "ways": ", ".join(dict(HOWS))
        }
        raise Unsound("No rows were given.", why, "Mend it or leave it out.", fields={"where": why})
    return read_ones


def file_answer(found: PooledTable, form: str, conditions: list[dict[str, str]]) -> FileResponse:
    """Give the rows of a pooled table as a file of that form."""
    media, ending = MEDIA[form]
    name = f"pooled-{found.pk}{'-spreadsheet' if form == 'spreadsheet' else ''}.{ending}"
    with written(found, form, conditions) as path:
        opened = path.open("rb")  # it outlives its name, and goes when it was sent
    return FileResponse(opened, as_attachment=True, filename=name, content_type=media)
