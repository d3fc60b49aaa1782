"""Pages for bringing in a list of animals: the list, a look at its rows, and what came in."""

from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext_lazy as _

from registry.animals.forms import IMPORT, INTAKE_DEEDS, ImportAnimals
from registry.animals.intake import columns, keeping, limits, told
from registry.animals.intake.dates import Order
from registry.animals.intake.weighing import DAY_COLUMNS, NEW, Outcome, Trial, weigh
from registry.animals.models import Animal, Group, Intake
from registry.animals.views import row_shown, rows_of
from registry.permissions import Verb, allowed, may, require
from registry.saying import number_said
from registry.web import acts_on, deed_page, deed_view, page_of, person_of, seen_or_404

intake_deed = deed_view(Intake, INTAKE_DEEDS)
LABELS = {"arrived_on": _("Days of arrival"), "born_on": _("Days of birth")}
LOOKED_AT_ONCE = 100
"""Rows on one page of a look."""


def _about_the_file() -> dict[str, Any]:
    return {
        "columns": columns.COLUMNS,
        "limits": [
            (_("Rows"), _("%(number)s at most") % {"number": number_said(limits.MOST_ROWS)}),
            (
                _("Size"),
                _("%(number)s MB at most")
                % {"number": number_said(limits.MOST_BYTES // 1_000_000)},
            ),
            (
                _("One cell"),
                _("%(number)s letters at most") % {"number": number_said(limits.MOST_LETTERS)},
            ),
            (
                _("Letters"),
                _("UTF-8, with or without a byte order mark; else read as windows-1252"),
            ),
            (_("Between cells"), _("comma, semicolon or tab")),
            (_("Workbooks"), _("the first sheet that has rows and is not hidden")),
            (
                _("Formulas"),
                _("are not worked out; a workbook’s kept results are read"),
            ),
        ],
    }


@login_required
def bring(request: HttpRequest) -> HttpResponse:
    """Ask for a list of animals; one that can be read is kept, and looked at next."""
    person = person_of(request)
    require(person, Verb.ANIMAL_IMPORT)
    sent = request.method == "POST"
    form = ImportAnimals(
        request.POST if sent else None, request.FILES if sent else None, subject=None, by=person
    )
    if sent and form.is_valid():
        here = reverse("animals:import_look", args=[form.held.sha256])
        return HttpResponseRedirect(f"{here}?{urlencode({'named': form.held.file_name})}")
    context = {"deed": IMPORT, "form": form, **_about_the_file()}
    return render(request, "animals/import.html", context, status=422 if sent else 200)


@login_required
def template(request: HttpRequest) -> HttpResponse:
    """Give the blank template: the names of the columns."""
    require(person_of(request), Verb.ANIMAL_IMPORT)
    heads = {"Content-Disposition": 'attachment; filename="animals.csv"'}
    return HttpResponse(columns.template(), content_type="text/csv; charset=utf-8", headers=heads)


def _orders(request: HttpRequest) -> dict[str, Order]:
    given = request.POST if request.method == "POST" else request.GET
    said = {name: given.get(f"{name}_order", "") for name in DAY_COLUMNS}
    return {name: Order(order) for name, order in said.items() if order in set(Order)}


@login_required
def look(request: HttpRequest, sha256: str) -> HttpResponse:
    """Show what would become of each row of a kept list, and bring them in where that is sent."""
    person = person_of(request)
    require(person, Verb.ANIMAL_IMPORT)
    given = request.POST if request.method == "POST" else request.GET
    held = keeping.kept(sha256, person, given.get("named", ""))
    orders = _orders(request)
    # Looked at when the page is made: after a refusal that is the register as it is now.
    shown: Any = SimpleLazyObject(lambda: _shown(request, weigh(held.read(), orders)))
    extra = {"held": held, "orders": orders, "shown": shown}
    return deed_page(request, IMPORT, None, template="animals/import_look.html", extra=extra)


def _shown(request: HttpRequest, trial: Trial) -> dict[str, Any]:
    """Give what the page of a look says of a trial."""
    new = trial.new
    groups = sum(row.is_group for row in new)
    return {
        "trial": trial,
        "page": Paginator(trial.rows, LOOKED_AT_ONCE).get_page(request.GET.get("page")),
        "how_read": told.how_read(trial),
        "findings": told.findings(trial),
        "to_mend": len(trial.faults),
        "new": trial.count(*NEW),
        "new_animals": len(new) - groups,
        "new_groups": groups,
        "may_send": trial.is_sound and bool(new),
        "asked": [(name, LABELS[name], _example(trial, name)) for name in trial.asked],
        "counted": _counted(trial),
        "taxa": list(trial.taxa.values()),
        "enclosures": list(trial.enclosures.values()),
    }


def _counted(trial: Trial) -> list[str]:
    """Say how many rows fare how; what none of them does is left out."""
    is_asked = trial.asked and not trial.faults
    counts = (
        (trial.count(*NEW), _("%(number)s to be received")),
        (trial.count(Outcome.SAME), _("%(number)s already here and the same")),
        (trial.count(Outcome.DIFFERS), _("%(number)s already here and different")),
        (
            trial.count(Outcome.FAULTY),
            _("%(number)s whose day must be known") if is_asked else _("%(number)s to put right"),
        ),
    )
    return [words % {"number": number_said(number)} for number, words in counts if number]


def _example(trial: Trial, name: str) -> str:
    """Give the first day of a column, as it stands there."""
    return next((line.cells[name] for line in trial.sheet.lines if name in line.cells), "")


@login_required
def intakes(request: HttpRequest) -> HttpResponse:
    """List the files from which animals were brought in, newest first."""
    person = person_of(request)
    rows = allowed(Intake.objects.all(), person, Verb.INTAKE_SEE).select_related("brought_by")
    return render(
        request,
        "animals/intakes.html",
        {"page": page_of(request, rows), "may_bring": may(person, Verb.ANIMAL_IMPORT)},
    )


@login_required
def intake(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what came in with one file."""
    person = person_of(request)
    found = seen_or_404(Intake.objects.select_related("brought_by"), person, pk)
    asked = {"intake": found}
    animals = rows_of(allowed(Animal.objects.all(), person, Verb.ANIMAL_SEE), "animal", asked)
    groups = rows_of(allowed(Group.objects.all(), person, Verb.GROUP_SEE), "group", asked)
    together = animals.union(groups, all=True).order_by("taxon_name", "code", "kind_said")
    page = page_of(request, together)
    return render(
        request,
        "animals/intake.html",
        {
            "intake": found,
            "page": page,
            "rows": [row_shown(row) for row in page],
            "acts": acts_on(found, person),
        },
    )
