"""Which animals can be used for what, and when; of each that cannot, why not."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import CharField, QuerySet, Value
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Animal, Group
from registry.errors import Unsound
from registry.oversight.bars import Wanted, barred_between, free_between
from registry.oversight.facts import subject_of
from registry.oversight.forms.available import USUAL, AvailableForm
from registry.permissions import Verb, allowed
from registry.web import page_of, person_of


def _form(asked: QueryDict) -> AvailableForm:
    """Give the form with the days that stand where none was given."""
    given = asked.copy()
    today = timezone.localdate()
    given.setdefault("from_on", today.isoformat())
    given.setdefault("to_on", (today + USUAL).isoformat())
    return AvailableForm(given, auto_id="%s", label_suffix="")


def _rows(form: AvailableForm, person: Any) -> QuerySet[Any]:
    """Give the animals and the groups that were asked about, as names of rows of two kinds."""
    asked, found = form.cleaned_data, []
    for model, verb in ((Animal, Verb.ANIMAL_SEE), (Group, Verb.GROUP_SEE)):
        rows: QuerySet[Any] = allowed(model._default_manager.filter(state="kept"), person, verb)
        for name in ("taxon", "enclosure"):
            if asked.get(name):
                rows = rows.filter(**{name: asked[name]})
        if asked["free"]:
            days = (asked["from_on"], asked["to_on"])
            rows = free_between(rows, *days, is_contact=form.is_contact)
        kind = Value(model.kind, output_field=CharField())
        rows = rows.order_by().annotate(of=kind)
        found.append(rows.values_list("of", "pk", "taxon__common_name", "code"))
    return found[0].union(found[1], all=True).order_by("taxon__common_name", "code", "of")


def reasons_of(
    keys: Sequence[tuple[str, int]], first: date, last: date, *, is_contact: bool
) -> list[tuple[Animal | Group, list[str]]]:
    """Give each animal and group with why not, in the order given; five queries for all."""
    animals = Animal.objects.select_related("taxon", "enclosure").in_bulk(
        [pk for kind, pk in keys if kind == Animal.kind]
    )
    groups = Group.objects.select_related("taxon", "enclosure").in_bulk(
        [pk for kind, pk in keys if kind == Group.kind]
    )
    wanted = Wanted(
        None, [*animals.values()], [(one, one.number) for one in groups.values()], [], first, last
    )
    bars = barred_between(wanted, is_contact=is_contact)
    rows: list[Animal | Group] = [
        animals[pk] if kind == Animal.kind else groups[pk] for kind, pk in keys
    ]
    return [(row, bars[subject_of(row)]) for row in rows]


@login_required
def available(request: HttpRequest) -> HttpResponse:
    """List animals and groups with whether they can be used within the dates, and why not."""
    form = _form(request.GET)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        page = page_of(request, _rows(form, person_of(request)))
        keys = [(kind, pk) for kind, pk, *_ in page]
        asked = form.cleaned_data
        context |= {
            "page": page,
            "rows": reasons_of(keys, asked["from_on"], asked["to_on"], is_contact=form.is_contact),
            "asked": asked,
            "is_contact": form.is_contact,
            "is_narrowed": any(asked[name] for name in ("taxon", "enclosure", "free")),
        }
    return render(request, "oversight/available.html", context)


@login_required
def available_json(request: HttpRequest) -> JsonResponse:
    """Give one page of the same list for a program."""
    form = _form(request.GET)
    if not form.is_valid():
        refused = Unsound(
            _("Nothing was looked up."),
            _("What was asked does not hold."),
            _("Mend what is named, and ask again."),
            fields={name: str(said[0]) for name, said in form.errors.items()},
        )
        return JsonResponse(refused.as_dict(), status=refused.status)
    page = page_of(request, _rows(form, person_of(request)))
    asked = form.cleaned_data
    rows = reasons_of(
        [(kind, pk) for kind, pk, *_ in page],
        asked["from_on"],
        asked["to_on"],
        is_contact=form.is_contact,
    )
    return JsonResponse(
        {
            "count": page.paginator.count,
            "page": page.number,
            "pages": page.paginator.num_pages,
            "from_on": asked["from_on"].isoformat(),
            "to_on": asked["to_on"].isoformat(),
            "results": [
                {
                    "kind": row.kind,
                    "id": row.pk,
                    "code": row.code,
                    "taxon": row.taxon.scientific_name,
                    "is_free": not why,
                    "why_not": why,
                }
                for row, why in rows
            ],
        }
    )
