"""Pages on which something is drawn, and the papers of a schedule; nothing is written."""

import csv
import json
from collections.abc import Callable
from io import StringIO
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from registry import design
from registry.desk.designing import drawing
from registry.desk.designing.drawn import AllocateForm, DrawForm, ScheduleForm
from registry.desk.designing.drawn_often import SimulateForm
from registry.desk.designing.views import plans_to_write, still_to_give
from registry.errors import Unseen, Unsound
from registry.web import check_form

FORMS: dict[str, tuple[type[DrawForm], Callable[[Any], Any]]] = {
    "allocate": (AllocateForm, drawing.allocated),
    "schedule": (ScheduleForm, drawing.scheduled),
    "simulate": (SimulateForm, drawing.simulated),
}
"""The last part of an address, what is asked there, and how it is answered."""


@login_required
def draw(request: HttpRequest, name: str) -> HttpResponse:
    """Show what is drawn, or ask from what."""
    form = _form(request, name)
    shown = {"form": form, "name": name, **_answered(request, name, form)}
    return render(request, "desk/draw.html", shown)


@login_required
def answer(request: HttpRequest, name: str) -> HttpResponse:
    """Give the answer alone, for a page that is being filled."""
    form = _form(request, name)
    shown = {"name": name, **_answered(request, name, form)}
    return render(request, "desk/_draw_answer.html", shown)


def _form(request: HttpRequest, name: str) -> Any:
    if name not in FORMS:
        raise Unseen(
            "Nothing is drawn here.",
            _("“%(name)s” is no such page.") % {"name": name},
            "Go back to Design.",
        )
    made = FORMS[name][0]
    if not request.GET:
        return made(label_suffix="")
    asked = request.GET.copy()
    for field_name, field in made.base_fields.items():
        if field_name not in asked and isinstance(field.initial, int | float | str):
            asked[field_name] = str(field.initial)
    return made(asked, label_suffix="")


def _answered(request: HttpRequest, name: str, form: Any) -> dict[str, Any]:
    """Give the answer, the refusal, or what is still missing."""
    told = still_to_give(form)
    if told is not None:
        return told
    try:
        found = FORMS[name][1](form)
    except Unsound as refused:
        return {"unsound": refused}
    return {
        "drawn": found,
        "plans": plans_to_write(request),
        "part": form.part,
        "given": json.dumps(found.sent, sort_keys=True),
        "query": _again(form.data, found),
    }


def _again(asked: QueryDict, found: Any) -> str:
    """Give the address that draws the same again."""
    query = asked.copy()
    seed = found.sent.get("seed") or getattr(found, "seed", "")
    if seed:
        query["seed"] = str(seed)
    return query.urlencode()


def _paper(request: HttpRequest) -> Any:
    """Give the schedule that an address asks for again, or refuse it."""
    form = _form(request, "schedule")
    check_form(form)
    return form, drawing.scheduled(form)


@login_required
def calendar(request: HttpRequest) -> HttpResponse:
    """Give a schedule as a calendar file."""
    form, found = _paper(request)
    place = form.cleaned_data.get("place")
    told = design.calendar(
        found.found.sessions,
        found.length,
        title=_("Observation"),
        place=str(place) if place else "",
        zone=timezone.get_current_timezone(),
    )
    return _file(told, "text/calendar; charset=utf-8", "schedule.ics")


@login_required
def sheet(request: HttpRequest) -> HttpResponse:
    """Give the blank sheet of a schedule as CSV: session, time, position and animal stand in it."""
    _asked, found = _paper(request)
    out = StringIO()
    write = csv.writer(out, lineterminator="\r\n").writerow
    write(["session", "at", "position", "animal", "seen", "note"])
    for one in found.sheet:
        write([one.session, one.at.isoformat(timespec="minutes"), one.position, one.animal, "", ""])
    return _file(out.getvalue().encode(), "text/csv; charset=utf-8", "sheet.csv")


def _file(told: bytes, kind: str, name: str) -> HttpResponse:
    heads = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(told, content_type=kind, headers=heads)
