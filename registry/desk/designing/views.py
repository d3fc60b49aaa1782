"""The design page: an answer as one types, and the same without a script."""

from typing import Any

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.desk.designing.answers import phases_answer, size_answer
from registry.desk.designing.asking import SizeForm
from registry.desk.designing.forms import FORMS, PhasesForm
from registry.errors import Unsound

ONE_ANIMAL = "one-animal"


@login_required
def designs(request: HttpRequest) -> HttpResponse:
    """Show the designs, or one of them with its answer."""
    kind = request.GET.get("design", "")
    if kind != ONE_ANIMAL and kind not in FORMS:
        return render(request, "desk/designs.html", {"designs": list(FORMS.items())})
    form = _form(request, kind)
    shown = {"kind": kind, "form": form, "is_one_animal": kind == ONE_ANIMAL, **_answered(form)}
    return render(request, "desk/design.html", shown)


@login_required
def answer(request: HttpRequest) -> HttpResponse:
    """Give the answer alone, for a page that is being filled."""
    kind = request.GET.get("design", "")
    form = _form(request, kind) if kind == ONE_ANIMAL or kind in FORMS else None
    return render(request, "desk/_design_answer.html", _answered(form) if form else {})


def _form(request: HttpRequest, kind: str) -> Any:
    made: Any = PhasesForm if kind == ONE_ANIMAL else FORMS[kind]
    return made(request.GET) if len(request.GET) > 1 else made()


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
