"""How related the animals of one kind are: a page, and the kinship of each two as CSV."""

from collections.abc import Iterator
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from registry.animals.kin import effective_breeders, inbreeding, kinship_matrix, mean_kinship
from registry.animals.kin.kinship import MOST_IN_MATRIX
from registry.animals.models import Animal, Taxon
from registry.animals.pedigrees import Lineage, lineage_of
from registry.errors import TooLarge
from registry.guarded.cells import csv_lines
from registry.permissions import Verb, allowed
from registry.saying import number_said
from registry.web import person_of, seen_or_404

MOST_LIVING = 5_000
A_PAGE = 50


def living_of(taxon: Taxon, person: Any) -> list[Animal]:
    """Give the animals of a kind that live here, told apart; groups have no pedigree.

    Raises
    ------
    TooLarge
        When they are more than 5,000.
    """
    rows = allowed(Animal.objects.all(), person, Verb.ANIMAL_SEE)
    living = list(rows.filter(taxon=taxon, state="kept").order_by("code")[: MOST_LIVING + 1])
    if len(living) > MOST_LIVING:
        most = number_said(MOST_LIVING)
        raise TooLarge(
            _("Their kinship was not worked out."),
            _("More than %(most)s of them live here.") % {"most": most},
            _("Look at the animals of one study or of one animal’s page instead."),
        )
    return living


def matrix_of(taxon: Taxon, living: list[Animal]) -> Iterator[list[float]]:
    """Give the kinship of each with all the living, row by row.

    Raises
    ------
    TooLarge
        When they and their ancestors are more than 3,000.
    """
    keys = [one.pk for one in living]
    line = lineage_of([taxon], keys).pedigree.down_to(keys)
    if len(line) > MOST_IN_MATRIX:
        most = number_said(MOST_IN_MATRIX)
        raise TooLarge(
            _("The table was not made."),
            _("They and their ancestors are more than %(most)s.") % {"most": most},
            _("The page gives the mean kinship of each."),
        )
    matrix = kinship_matrix(line)
    places = [line.places[key] for key in keys]
    return ([round(matrix[max(a, b)][min(a, b)], 9) for b in places] for a in places)


def _breeders(held: Lineage, living: list[Animal]) -> tuple[int, int]:
    """Give how many certain sires and dams the living have."""
    of = [held.parents.get(one.pk, {}) for one in living]
    return tuple(len({one[role] for one in of if role in one}) for role in ("sire", "dam"))  # type: ignore[return-value]  # why: two roles


@login_required
def kin(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the mean kinship and the inbreeding of each that lives here, rare blood first."""
    taxon = seen_or_404(Taxon.objects.all(), person_of(request), pk)
    living = living_of(taxon, person_of(request))
    context: dict[str, Any] = {"subject": taxon, "living": len(living)}
    if living:
        held = lineage_of([taxon], [one.pk for one in living])
        keys = [one.pk for one in living]
        line = held.pedigree.down_to(keys)
        inbred = inbreeding(line)
        means = mean_kinship(line, keys)
        rows = sorted(zip(means, living, strict=True), key=lambda row: (row[0], row[1].code))
        page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
        males, females = _breeders(held, living)
        context |= {
            "page": page,
            "rows": [(one, mean, inbred[line.places[one.pk]]) for mean, one in page],
            "diversity": 1 - sum(means) / len(means),
            "males": males,
            "females": females,
            "breeders": effective_breeders(males, females),
            "unknown": sum(not held.parents.get(key) for key in keys),
            "uncertain": sum(key in held.uncertain for key in keys),
            "has_table": len(line) <= MOST_IN_MATRIX,
        }
    return render(request, "animals/kin.html", context)


@login_required
def kin_csv(request: HttpRequest, pk: int) -> StreamingHttpResponse:
    """Give the kinship of each two that live here, as a square table."""
    taxon = seen_or_404(Taxon.objects.all(), person_of(request), pk)
    living = living_of(taxon, person_of(request))
    rows = matrix_of(taxon, living)

    def lines() -> Iterator[list[object]]:
        yield ["code", *(one.code for one in living)]
        for one, row in zip(living, rows, strict=True):
            yield [one.code, *row]

    answer = StreamingHttpResponse(csv_lines(lines()), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="kinship-{taxon.pk}.csv"'
    return answer
