"""The stock list of a year, as a page, as CSV and on paper."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Taxon
from registry.animals.stockbook import Class, Kind, book_of, total, year_asked
from registry.animals.stocklist import Change, Column, StockLine
from registry.guarded.cells import csv_lines
from registry.permissions import Verb, allowed
from registry.printing.answers import pdf_answer
from registry.web import person_of

PAPER = Path(__file__).with_name("printed") / "stocklist.typ"
_SEXES = ("males", "females", "unknown")


def _heads() -> list[tuple[Column, str]]:
    """Give the columns between the two ends, in their order, with their names."""
    return [
        (Column.ARRIVED, _("Arrived")),
        (Column.BRED, _("Born or hatched")),
        (Column.DIED_EARLY, _("Died within 30 days")),
        (Column.DIED, _("Other deaths")),
        (Column.DEPARTED, _("Departed")),
        (Column.SEXED, _("Sexed")),
        (Column.RECOUNTED, _("Recounted")),
    ]


def _book(request: HttpRequest, year: int) -> list[Class]:
    return book_of(year, allowed(Taxon.objects.all(), person_of(request), Verb.TAXON_SEE))


def _shown(line: StockLine) -> list[Change]:
    return [
        line.held_at_start,
        *(line.shown(column) for column, _said in _heads()),
        line.held_at_end,
    ]


def lent_said(kind: Kind) -> str:
    """Say how many of a kind are on loan, which way."""
    if not kind.lent_in and not kind.lent_out:
        return ""
    numbers = {"kind": kind.taxon.common_name, "here": kind.lent_in, "out": kind.lent_out}
    return _("%(kind)s: %(here)s held on loan, %(out)s lent out.") % numbers


def _ends(year: int) -> tuple[str, str]:
    """Give the names of the first and the last column."""
    is_over = year < timezone.localdate().year
    return _("1 January"), _("31 December") if is_over else _("Today")


@login_required
def stocklist(request: HttpRequest) -> HttpResponse:
    """Show the stock list of a year."""
    year, years = year_asked(request.GET.get("year", ""))
    book = _book(request, year)
    first, last = _ends(year)
    heads = [first, *(said for _column, said in _heads()), last]

    def cells(line: StockLine) -> list[tuple[str, Change]]:
        return list(zip(heads, _shown(line), strict=True))

    classes = [
        {
            "label": one.label,
            "rows": [(kind, cells(kind.line), kind.line.is_sound) for kind in one.kinds],
            "sum": cells(one.line),
        }
        for one in book
    ]
    whole = total(one.line for one in book)
    return render(
        request,
        "animals/stocklist.html",
        {
            "year": year,
            "years": years[::-1],
            "heads": heads,
            "classes": classes,
            "total": cells(whole),
            "held": (whole.held_at_start.total, whole.held_at_end.total),
            "unsound": [kind.taxon for one in book for kind in one.kinds if not kind.line.is_sound],
        },
    )


def _lines(book: list[Class]) -> Iterator[list[object]]:
    """Give the list as a program reads it: a column for each sex, losses as plain counts."""
    names = ["held_at_start", *(column.value for column, _said in _heads()), "held_at_end"]
    sexes = [f"{name}_{sex}" for name in names for sex in _SEXES]
    yield ["taxon_class", "scientific_name", "common_name", *sexes, "lent_in", "lent_out"]
    for one in book:
        for kind in one.kinds:
            numbers = [number for change in _shown(kind.line) for number in change]
            taxon = kind.taxon
            named = [taxon.taxon_class, taxon.scientific_name, taxon.common_name]
            yield [*named, *numbers, kind.lent_in, kind.lent_out]


@login_required
def stocklist_csv(request: HttpRequest) -> StreamingHttpResponse:
    """Give the stock list of a year as CSV."""
    year, _years = year_asked(request.GET.get("year", ""))
    lines = csv_lines(_lines(_book(request, year)))
    answer = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="stocklist-{year}.csv"'
    return answer


@login_required
def stocklist_pdf(request: HttpRequest) -> HttpResponse:
    """Give the stock list of a year on paper."""
    year, _years = year_asked(request.GET.get("year", ""))
    book = _book(request, year)
    first, last = _ends(year)
    rows: list[dict[str, Any]] = []
    for one in book:
        rows.append({"kind": "class", "cells": [one.label, *map(str, _shown(one.line))]})
        rows += [
            {
                "kind": "taxon",
                "latin": kind.taxon.scientific_name,
                "cells": [kind.taxon.common_name, *map(str, _shown(kind.line))],
            }
            for kind in one.kinds
        ]
    whole = total(one.line for one in book)
    facts = {
        "title": _("Stock list %(year)s") % {"year": year},
        "over": _("Males.females.unknown; eggs are not counted."),
        "heads": [_("Kind"), first, *(said for _column, said in _heads()), last],
        "rows": rows,
        "total": [_("All together"), *map(str, _shown(whole))],
        "sums": " ".join(
            [
                _("%(first)s animals on 1 January, %(last)s at the end.")
                % {"first": whole.held_at_start.total, "last": whole.held_at_end.total},
                *(said for one in book for kind in one.kinds if (said := lent_said(kind))),
            ]
        ),
    }
    return pdf_answer(PAPER, facts, name=f"stocklist-{year}")
