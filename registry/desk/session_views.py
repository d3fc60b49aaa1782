"""Pages for whoever collects today: the sessions, and the blank sheet of one of them."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.sheets import Sheet
from registry.desk.forms import HowOften
from registry.desk.sessions import every_of, full, sessions_of, sheets_of
from registry.errors import Unseen, Unsound
from registry.oversight.models import Session
from registry.web import person_of, seen_or_404


@login_required
def sessions(request: HttpRequest) -> HttpResponse:
    """Show today's sessions with what to check, late ones to enter, and the next."""
    today = timezone.localdate()
    found = sessions_of(person_of(request), today)
    return render(request, "desk/sessions.html", {"today": today, "sessions": found})


def _asked(request: HttpRequest, session: Session) -> tuple[HowOften, float | None]:
    """Give how often scans are made: as asked for, else as the plan says."""
    said = every_of(session.project)
    if "every" not in request.GET:
        return HowOften(initial={"every": said}, label_suffix=""), said
    form = HowOften(request.GET, label_suffix="")
    return form, form.cleaned_data["every"] if form.is_valid() else said


@login_required
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the blank sheets of a session, to print and to take down."""
    person = person_of(request)
    session = seen_or_404(full(), person, pk)
    form, every = _asked(request, session)
    context: dict[str, Any] = {"session": session, "form": form, "every": every}
    try:
        context["sheets"] = sheets_of(session, person, every)
    except Unsound as refused:
        return render(request, "desk/sheet.html", context | {"refusal": refused}, status=422)
    return render(request, "desk/sheet.html", context)


@login_required
def sheet_csv(request: HttpRequest, pk: int, table: str) -> HttpResponse:
    """Give the blank sheet of one table as CSV, named as the dictionary names it."""
    person = person_of(request)
    session = seen_or_404(full(), person, pk)
    _chosen, every = _asked(request, session)
    found: Sheet | None = next(
        (one for one in sheets_of(session, person, every) if one.name == table), None
    )
    if found is None:
        raise Unseen(
            "There is no such sheet.",
            _("The study’s dictionary has no table “%(table)s”.") % {"table": table},
            "Open the session’s page and choose one from there.",
        )
    heads = {"Content-Disposition": f'attachment; filename="{found.name}.csv"'}
    return HttpResponse(found.as_csv, content_type="text/csv; charset=utf-8", headers=heads)
