"""Pages of analyses: asking one, what it gave with its figures, and what can be taken away."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from archive.citations import CITED
from archive.figures import Figure, figures_of
from archive.forms import ANALYSIS_DEEDS
from archive.handing import methods_of
from archive.models import Analysis, Version
from registry.errors import Unseen
from registry.printing.pictures import MEDIA, picture_answer
from registry.saying import number_said
from registry.web import acts_on, deed_view, person_of, seen_or_404

LONG = 14
"""Rows above which a table is folded."""

analysis_deed = deed_view(Analysis, ANALYSIS_DEEDS)


def _analysis(request: HttpRequest, pk: int) -> Analysis:
    rows = Analysis.objects.select_related(
        "version__dataset__project__study", "asked_by"
    ).prefetch_related(Prefetch("sources", Version.objects.select_related(CITED)))
    return seen_or_404(rows, person_of(request), pk)


@login_required
def analysis(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an analysis: what was found, how, how sure, and what could not be computed."""
    found = _analysis(request, pk)
    person = person_of(request)
    result = found.result
    return render(
        request,
        "archive/analysis.html",
        {
            "analysis": found,
            "version": found.version,
            "sources": found.sources.all(),
            "figures": figures_of(found),
            "forms": list(MEDIA),
            "tables": [_shown(one) for one in result.get("tables", [])],
            "tests": [_test(one) for one in result.get("tests", [])],
            "methods": methods_of(found),
            "choice": result.get("choice"),
            "columns": found.request.get("columns", {}).items(),
            "sittings": found.sittings.select_related("person", "dictionary__study"),
            "acts": [
                act
                for act in acts_on(found, person)
                if found.sort == Analysis.Sort.AGREEMENT or act["path"] != "name_sitting"
            ],
        },
    )


def _shown(table: dict[str, Any]) -> dict[str, Any]:
    """Give a table with its cells as words; numbers stand right."""
    rows = table["rows"]
    numeric = [
        all(isinstance(row[at], int | float) or row[at] is None for row in rows)
        for at in range(len(table["heads"]))
    ]
    return {
        "name": table["name"],
        "title": table["title"],
        "is_long": len(rows) > LONG,
        "heads": list(zip(table["heads"], numeric, strict=True)),
        "rows": [
            (_cell(row[0]), list(zip(map(_cell, row[1:]), numeric[1:], table["heads"][1:],
                                     strict=True)))
            for row in rows
        ],
    }  # fmt: skip


def _cell(value: Any) -> str:
    if value is None:
        return "–"
    if not isinstance(value, float):
        return str(value)
    short = float(f"{value:.4g}")
    return number_said(short, 0 if short.is_integer() else None)


def _test(test: dict[str, Any]) -> dict[str, Any]:
    """Give a test with its numbers as words."""
    figures = ", ".join(f"{letter} = {_cell(value)}" for letter, value in test["figures"])
    return {
        **test,
        "effect": _cell(test["effect"]),
        "low": _cell(test["low"]),
        "high": _cell(test["high"]),
        "figures": figures,
        "has_ends": test["low"] is not None or test["high"] is not None,
        "p": _cell(test["p"]),
        "smallest_p": _cell(test["smallest_p"]),
    }


def _figure(found: Analysis, name: str) -> Figure:
    for one in figures_of(found):
        if one.name == name:
            return one
    raise Unseen(
        "The analysis has no such figure.", "It has others, or none.", "Look at its own page."
    )


@login_required
def figure(request: HttpRequest, pk: int, name: str, form: str) -> HttpResponse:
    """Give one figure as a file: SVG, PDF or PNG."""
    found = _analysis(request, pk)
    one = _figure(found, name)
    return picture_answer(
        one.alone, form, title=f"{found.title}: {one.caption}", name=f"analysis-{pk}-{name}"
    )
