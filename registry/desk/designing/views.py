"""The design page: an answer as one types, and the same without a script."""

import json
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from registry.desk.designing.answers import size_answer
from registry.desk.designing.aside import ASIDE, AsideForm
from registry.desk.designing.asking import SizeForm
from registry.desk.designing.forms import FORMS
from registry.desk.designing.held import Left, SpreadForm, left_by
from registry.desk.designing.taking import DESIGN_DEEDS
from registry.errors import Unsound
from registry.permissions import Verb, allowed
from registry.projects.models import Project
from registry.web import deed_view, person_of

DESIGN = Verb.PROJECT_USE_DESIGN
_NOT_KEPT = ("available", "taxon", "project", "first", "last")
KINDS: dict[str, Any] = {**FORMS, **ASIDE}
project_deed = deed_view(Project, DESIGN_DEEDS, templates={"use_design": "desk/use_design.html"})


@login_required
def designs(request: HttpRequest) -> HttpResponse:
    """Show the designs, or one of them with its answer."""
    kind = request.GET.get("design", "")
    if kind not in KINDS:
        return render(
            request,
            "desk/designs.html",
            {
                "designs": list(FORMS.items()),
                "aside": list(ASIDE.items()),
                "spread_url": reverse("design_spread"),
            },
        )
    form = _form(request, kind)
    shown = {"kind": kind, "form": form}
    shown |= _answered(form) | _taken(request, kind, form)
    return render(request, "desk/design.html", shown)


@login_required
def answer(request: HttpRequest) -> HttpResponse:
    """Give the answer alone, for a page that is being filled."""
    kind = request.GET.get("design", "")
    form = _form(request, kind) if kind in KINDS else None
    shown = _answered(form) | _taken(request, kind, form) if form else {}
    return render(request, "desk/_design_answer.html", shown)


def plans_to_write(request: HttpRequest) -> list[Project]:
    """Give some projects whose plan this person may take a sum into now; one query."""
    mine = allowed(Project.objects.filter(state="drafted"), person_of(request), DESIGN)
    return list(mine.select_related("study")[:6])


def _taken(request: HttpRequest, kind: str, form: Any) -> dict[str, Any]:
    """Give what is sent to take an answer into a plan, and the plans that may take it."""
    if kind in ASIDE or not form.is_bound or not form.is_valid():
        return {}
    names = {*form.fields} - set(_NOT_KEPT)
    given = {name: form.data[name] for name in names if form.data.get(name)}
    if all(given.get(name) for name in ("effect", "n", "power")):
        del given["power"]  # as in the answer: it stood in the form from the first
    return {
        "plans": plans_to_write(request),
        "part": "size",
        "given": json.dumps({"design": kind, **given}, sort_keys=True),
    }


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
    made, asked = KINDS[kind], None
    if len(request.GET) > 1:
        # What is not in the address stands as it stood first: it may bring the spread alone.
        first = {name: field.initial for name, field in made.base_fields.items() if field.initial}
        asked = {**{name: str(value) for name, value in first.items()}, **request.GET.dict()}
    form = made(asked)
    if isinstance(form, SizeForm):
        form.fit(person_of(request))
    return form


def still_to_give(form: Any) -> dict[str, Any] | None:
    """Give what a form still misses or has wrong; None where it is filled."""
    if not form.is_bound:
        return {"missing": _names(form, required=True)}
    if form.is_valid():
        return None
    asked = [name for name in form.errors if name in form.fields]
    empty = [name for name in asked if not form.data.get(name, "").strip()]
    wrong = {name: said for name, said in form.errors.items() if name not in empty}
    return {
        "missing": [form.fields[name].label for name in empty],
        "wrong": [
            (form.fields[name].label if name in form.fields else "", " ".join(map(str, said)))
            for name, said in wrong.items()
        ],
    }


def _answered(form: SizeForm | AsideForm) -> dict[str, Any]:
    """Give the answer, the refusal, or what is still missing."""
    told = still_to_give(form)
    if told is not None:
        return told
    if isinstance(form, SizeForm):
        given = [name for name, value in form.looked_for().items() if value is not None]
        if len(given) < 2:
            names = [form.fields[one].label for one in ("effect", "n") if one not in given]
            return {"missing": names, "either": True}
        if len(given) == 3:  # the power that stands in the form from the first gives way
            form.cleaned_data["power"] = None
    try:
        if isinstance(form, SizeForm):
            return {"answer": size_answer(form)}
        return {"aside": form.answered()}
    except Unsound as refused:
        return {"unsound": refused}


def _names(form: forms.Form, *, required: bool) -> list[Any]:
    return [field.label for field in form.fields.values() if field.required is required]
