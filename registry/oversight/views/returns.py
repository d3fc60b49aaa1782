"""Pages of the yearly return: a year as it stands, and what was published; as CSV and on paper."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from registry.guarded.cells import csv_lines
from registry.oversight.forms.returns import PUBLISH
from registry.oversight.models import Enrolment, YearReturn
from registry.oversight.returns import (
    Reckoned,
    named,
    names_of_categories,
    newest_edition,
    packed,
    reckoned,
    unpacked,
    years_asked,
)
from registry.oversight.yearly import Row, differences
from registry.permissions import Verb, allowed, may, require
from registry.printing.answers import pdf_answer
from registry.projects.models import Project
from registry.web import deed_page, number_of, person_of, seen_or_404

PAPER = Path(__file__).parents[1] / "return.typ"
MOST_NAMED = 50


def _year(request: HttpRequest, years: list[int]) -> int:
    asked = number_of(request.GET.get("year"))
    return asked if asked in years else years[min(1, len(years) - 1)]


def _reckoned(year: int) -> Reckoned | None:
    """Give the return as it stands; None where no list is held for the year."""
    try:
        return reckoned(year)
    except LookupError:
        return None


def _table(rows: Mapping[Row, int], names: dict[str, str]) -> list[list[Any]]:
    return [[*named(row, names), number] for row, number in sorted(rows.items(), key=str)]


@login_required
def return_list(request: HttpRequest) -> HttpResponse:
    """Show the return of a year as it stands, what is missing in it, and its editions."""
    person = person_of(request)
    editions = allowed(YearReturn.objects.all(), person, Verb.YEAR_RETURN_SEE)
    years = years_asked()
    year = _year(request, years)
    is_reviewer = may(person, Verb.USE_REVIEW)
    found = _reckoned(year) if is_reviewer else None
    context: dict[str, Any] = {
        "year": year,
        "years": years[::-1],
        "editions": editions.filter(year=year).select_related("published_by"),
        "may_publish": may(person, Verb.YEAR_RETURN_PUBLISH),
        "is_reviewer": is_reviewer,
    }
    if found is not None:
        context |= _standing(found, newest_edition(year))
    return render(request, "oversight/return_list.html", context)


def _standing(found: Reckoned, held: YearReturn | None) -> dict[str, Any]:
    names, gaps = names_of_categories(), found.gaps
    before = unpacked(held.rows) if held else {}
    return {
        "counted": found.counted,
        "rows": _table(found.counted.rows, names),
        "embryos": _table(found.counted.embryos, names),
        "gaps": gaps,
        "projects": Project.objects.filter(pk__in=gaps.projects).select_related("study"),
        "enrolments": Enrolment.objects.filter(pk__in=gaps.enrolments)[:MOST_NAMED],
        "held": held,
        "changed": [
            (named(one.row, names), one.before, one.after)
            for one in differences(before, found.counted.rows)
        ]
        if held
        else [],
    }


@login_required
def publish_return(request: HttpRequest) -> HttpResponse:
    """Publish a return."""
    return deed_page(request, PUBLISH, None)


@login_required
def edition(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one edition, and what it gives differently from the one before it."""
    rows = YearReturn.objects.select_related("published_by")
    shown = seen_or_404(rows, person_of(request), pk)
    names = names_of_categories()
    before = YearReturn.objects.filter(year=shown.year, edition=shown.edition - 1).first()
    told = unpacked(shown.rows)
    context = {
        "shown": shown,
        "rows": _table(told, names),
        "embryos": _table(unpacked(shown.embryos), names),
        "before": before,
        "changed": [
            (named(one.row, names), one.before, one.after)
            for one in differences(unpacked(before.rows), told)
        ]
        if before
        else [],
    }
    return render(request, "oversight/return.html", context)


# --------------------------------------------------------------------------------- to take along


type _Told = tuple[str, int, dict[Row, int], dict[Row, int]]
"""The name of what is taken along, its year, its rows, and its late embryos."""


def _of_edition(request: HttpRequest, pk: int) -> _Told:
    shown = seen_or_404(YearReturn.objects.all(), person_of(request), pk)
    name = f"return-{shown.year}-edition-{shown.edition}"
    return name, shown.year, unpacked(shown.rows), unpacked(shown.embryos)


def _unpublished(request: HttpRequest) -> _Told:
    require(person_of(request), Verb.USE_REVIEW)
    year = _year(request, years_asked())
    found = _reckoned(year)
    if found is None:
        return f"return-{year}-no-list", year, {}, {}
    counted = found.counted
    return f"return-{year}-unpublished", year, dict(counted.rows), dict(counted.embryos)


def _lines(
    year: int, rows: Mapping[Row, int], embryos: Mapping[Row, int]
) -> Iterator[list[object]]:
    """Give the rows as a program reads them, categories by code."""
    yield ["year", "kept_apart", "species", "purpose", "origin", "severity", "reuse", "procedures"]
    for apart, those in (("no", rows), ("late embryo", embryos)):
        for line in packed(dict(those)):
            *row, severity, is_reuse, number = line
            said = "" if severity is None else severity
            yield [year, apart, *row, said, "yes" if is_reuse else "no", number]


def _csv(told: _Told) -> StreamingHttpResponse:
    name, year, rows, embryos = told
    answer = StreamingHttpResponse(
        csv_lines(_lines(year, rows, embryos)), content_type="text/csv; charset=utf-8"
    )
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


def _pdf(told: _Told) -> HttpResponse:
    name, year, rows, embryos = told
    names = names_of_categories()
    reuses = sum(number for row, number in rows.items() if row[4])
    total = sum(rows.values())
    heads = [
        _("Species"),
        _("Purpose"),
        _("Place of birth"),
        _("Severity"),
        _("Re-use"),
        _("Procedures"),
    ]
    facts = {
        "title": _("Yearly return %(year)s") % {"year": year},
        "over": _("Unpublished, as the record stands") if name.endswith("unpublished") else name,
        "facts": [
            (_("Procedures"), str(total)),
            (_("Animals at their first use"), str(total - reuses)),
            (_("Re-uses"), str(reuses)),
            (_("Late embryos, kept apart"), str(sum(embryos.values()))),
        ],
        "heads": heads,
        "rows": [[str(cell) for cell in line] for line in _table(rows, names)],
        "embryos_head": _("Late embryos, kept apart"),
        "embryos": [[str(cell) for cell in line] for line in _table(embryos, names)],
        "caution": _(
            "A procedure counts in the year in which it ended, by its actual severity. The program "
            "counts; a named person answers for the return."
        ),
    }
    return pdf_answer(PAPER, facts, name=name)


@login_required
def return_csv(request: HttpRequest) -> StreamingHttpResponse:
    """Give the return of a year as it stands, as CSV."""
    return _csv(_unpublished(request))


@login_required
def return_pdf(request: HttpRequest) -> HttpResponse:
    """Give the return of a year as it stands, on paper."""
    return _pdf(_unpublished(request))


@login_required
def edition_csv(request: HttpRequest, pk: int) -> StreamingHttpResponse:
    """Give an edition as CSV."""
    return _csv(_of_edition(request, pk))


@login_required
def edition_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """Give an edition on paper."""
    return _pdf(_of_edition(request, pk))
