"""Downloads of the collection: as a list that can be brought in again, and in Darwin Core terms."""

import io
from collections.abc import Iterable, Iterator
from datetime import date
from zipfile import ZIP_DEFLATED, ZipFile

import xlsxwriter  # type: ignore[import-untyped]  # why: it ships no types
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.export import CORE_FILE, archive_meta, as_darwin_core, as_lists, chosen
from registry.animals.forms import CollectionFilter
from registry.animals.intake.limits import MOST_ROWS
from registry.animals.models import Animal, Group
from registry.errors import TooLarge
from registry.guarded.cells import csv_lines
from registry.permissions import Verb, allowed
from registry.saying import number_said
from registry.web import person_of

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def _chosen(request: HttpRequest) -> tuple[QuerySet[Animal], QuerySet[Group]]:
    person = person_of(request)
    form = CollectionFilter(request.GET)
    return chosen(
        allowed(Animal.objects.all(), person, Verb.ANIMAL_SEE),
        allowed(Group.objects.all(), person, Verb.GROUP_SEE),
        form.cleaned_data if form.is_valid() else {},
    )


def _named[A: HttpResponseBase](answer: A, name: str) -> A:
    day = timezone.localdate().isoformat()
    stem, dot, suffix = name.rpartition(".")
    answer["Content-Disposition"] = f'attachment; filename="{stem}-{day}{dot}{suffix}"'
    return answer


def _csv(rows: Iterator[list[object]], name: str) -> HttpResponseBase:
    lines = csv_lines(rows)
    answer = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    return _named(answer, name)


@login_required
def animals_csv(request: HttpRequest) -> HttpResponseBase:
    """Give the animals and groups that the list shows, as CSV."""
    return _csv(as_lists(*_chosen(request)), "animals.csv")


@login_required
def darwin_core_csv(request: HttpRequest) -> HttpResponseBase:
    """Give the same in Darwin Core terms."""
    return _csv(as_darwin_core(*_chosen(request)), "occurrences.csv")


@login_required
def darwin_core_archive(request: HttpRequest) -> HttpResponseBase:
    """Give the same as an archive: the table with the metafile by which programs read it."""
    made = io.BytesIO()
    with ZipFile(made, "w", ZIP_DEFLATED) as packed:
        packed.writestr("meta.xml", archive_meta())
        with packed.open(CORE_FILE, "w", force_zip64=True) as core:
            for line in csv_lines(as_darwin_core(*_chosen(request))):
                core.write(line.encode())
    return _named(HttpResponse(made.getvalue(), content_type="application/zip"), "darwin-core.zip")


@login_required
def animals_xlsx(request: HttpRequest) -> HttpResponseBase:
    """Give the same as a workbook, with days as days and codes as text."""
    animals, groups = _chosen(request)
    if animals.count() + groups.count() > MOST_ROWS:
        raise TooLarge(
            _("The workbook was not made."),
            _("It would have more than %(most)s rows.") % {"most": number_said(MOST_ROWS)},
            _("Narrow the list first, or take the CSV, which may be of any length."),
        )
    made = io.BytesIO()
    _write(made, as_lists(animals, groups))
    return _named(HttpResponse(made.getvalue(), content_type=WORKBOOK), "animals.xlsx")


def _write(made: io.BytesIO, rows: Iterable[list[object]]) -> None:
    """Write a workbook row by row; no cell of text becomes a formula or a link."""
    options = {
        "constant_memory": True,
        "default_date_format": "yyyy-mm-dd",
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with xlsxwriter.Workbook(made, options) as book:
        sheet = book.add_worksheet("Animals")
        bold = book.add_format({"bold": True})
        for number, row in enumerate(rows):
            for column, cell in enumerate(row):
                if isinstance(cell, date):
                    sheet.write_datetime(number, column, cell)
                elif isinstance(cell, str):
                    if cell:
                        sheet.write_string(number, column, cell, None if number else bold)
                else:
                    sheet.write(number, column, cell)
        sheet.freeze_panes(1, 0)
