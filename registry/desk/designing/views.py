"""The design page: an answer as one types, and the same without a script."""

from typing import Any
from urllib.parse import urlencode

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from registry.desk.designing.answers import phases_answer, size_answer
from registry.desk.designing.asking import SizeForm
from registry.desk.designing.forms import FORMS, PhasesForm
from registry.desk.designing.held import Left, SpreadForm, left_by
from registry.errors import Unsound
from registry.web import person_of

ONE_ANIMAL = "one-animal"


@login_required
def designs(request: HttpRequest) -> HttpResponse:
    """Show the designs, or one of them with its answer."""
    kind = request.GET.get("design", "")
    if kind != ONE_ANIMAL and kind not in FORMS:
        return render(
            request,
            "desk/designs.html",
            {"designs": list(FORMS.items()), "spread_url": reverse("design_spread")},
        )
    form = _form(request, kind)
    shown = {"kind": kind, "form": form, "is_one_animal": kind == ONE_ANIMAL, **_answered(form)}
    return render(request, "desk/design.html", shown)


@login_required
def answer(request: HttpRequest) -> HttpResponse:
    """Give the answer alone, for a page that is being filled."""
    kind = request.GET.get("design", "")
    form = _form(request, kind) if kind == ONE_ANIMAL or kind in FORMS else None
    return render(request, "desk/_design_answer.html", _answered(form) if form else {})


@login_required
def spread(request: HttpRequest) -> HttpResponse:
    """Show what a held version says of an outcome's spread, and lead to designs with it."""
    form = SpreadForm(request.GET, person=person_of(request))
    shown: dict[str, Any] = {"form": form}
    if form.is_whole:
        try:
            left = left_by(form)
            shown |= {"left": left, "uses": _uses(left)}
        except Unsound as refused:
            shown["unsound"] = refused
    return render(request, "desk/spread.html", shown)


def _uses(left: Left) -> list[tuple[Any, str]]:
    """Give the designs that take such a spread, each with its address."""
    found = left.estimate
    known = {
        "sd": f"{found.sd:.4g}",
        "icc": f"{found.icc:.3f}",
        "rho": f"{found.icc:.3f}",
        "per_unit": f"{found.per_unit:.4g}",
    }
    uses = []
    for kind in ("tanks", "groups", "several", "pairs", "before-after", "crossover"):
        asked = FORMS[kind].base_fields
        given = {name: value for name, value in known.items() if name in asked}
        query = urlencode({"design": kind, **given, "spread_from": left.identifier})
        uses.append((FORMS[kind].title, f"{reverse('design')}?{query}"))
    return uses


def _form(request: HttpRequest, kind: str) -> Any:
    made: Any = PhasesForm if kind == ONE_ANIMAL else FORMS[kind]
    if len(request.GET) < 2:
        return made()
    # What is not in the address stands as it stood first: an address may bring the spread alone.
    first = {name: field.initial for name, field in made.base_fields.items() if field.initial}
    return made({**{name: str(value) for name, value in first.items()}, **request.GET.dict()})


def _answered(form: SizeForm | PhasesForm) -> dict[str, Any]:
    """Give the answer, the refusal, or what is still missing."""
    if not form.is_bound:
        return {"missing": _names(form, required=True)}
    if not form.is_valid():
        empty = [name for name in form.errors if not form.data.get(name, "").strip()]
        wrong = {name: said for name, said in form.errors.items() if name not in empty}
        return {
            "missing": [form.fields[name].label for name in empty if name in form.fields],
            "wrong": [
                (form.fields[name].label if name in form.fields else "", " ".join(map(str, said)))
                for name, said in wrong.items()
            ],
        }
    if not isinstance(form, PhasesForm):
        given = [name for name, value in form.looked_for().items() if value is not None]
        if len(given) < 2:
            names = [form.fields[one].label for one in ("effect", "n") if one not in given]
            return {"missing": names, "either": True}
        if len(given) == 3:  # the power that stands in the form from the first gives way
            form.cleaned_data["power"] = None
    try:
        if isinstance(form, PhasesForm):
            return {"phases": phases_answer(form)}
        return {"answer": size_answer(form)}
    except Unsound as refused:
        return {"unsound": refused}


def _names(form: forms.Form, *, required: bool) -> list[Any]:
    return [field.label for field in form.fields.values() if field.required is required]
