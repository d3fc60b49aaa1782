"""How a site begins, step by step, and the reference data that it stands on."""

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Model
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from registry.desk.beginning import may_begin, steps_for
from registry.desk.forms import LOAD
from registry.desk.models import Vocabulary
from registry.desk.vocabulary import KINDS, Kind
from registry.errors import NotPermitted
from registry.permissions import Verb, allowed, may
from registry.web import deed_page, person_of


@login_required
def begin(request: HttpRequest) -> HttpResponse:
    """Show the steps from an empty register to the first project, and the one that is next."""
    person = person_of(request)
    if not may_begin(person):
        raise NotPermitted(
            "These steps are not for you.",
            "Administrators and curators set the register up.",
            "Today says what needs you.",
        )
    steps = list(steps_for(person))
    undone = [step for step in steps if not step.is_done]
    mine = next((step for step in undone if step.may_do), None)
    return render(
        request,
        "desk/begin.html",
        {
            "steps": steps,
            "undone": len(undone),
            "first": undone[0] if undone else None,
            "next": mine,
        },
    )


@dataclass(frozen=True)
class Shown:
    """One list as the page shows it: what it is, and, where it was loaded, when and its rows."""

    kind: Kind
    held: Vocabulary | None
    rows: list[Model]
    url: str


@login_required
def reference(request: HttpRequest) -> HttpResponse:
    """Show each list of reference data with its date, its sources and its rows."""
    person = person_of(request)
    loaded = allowed(Vocabulary.objects.all(), person, Verb.VOCABULARY_SEE)
    held: dict[str, Vocabulary] = {one.name: one for one in loaded.select_related("loaded_by")}
    shown = []
    for kind in KINDS:
        rows: list[Any] = list(kind.model._default_manager.order_by("pk"))
        shown.append(Shown(kind, held.get(kind.name), rows, reverse(kind.url) if kind.url else ""))
    return render(
        request,
        "desk/reference.html",
        {"lists": shown, "may_load": may(person, Verb.VOCABULARY_LOAD)},
    )


@login_required
def load(request: HttpRequest) -> HttpResponse:
    """Load the lists of reference data."""
    return deed_page(request, LOAD, None)
