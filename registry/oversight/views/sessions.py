"""Pages about sessions: today's first; planning one, and entering what happened."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from registry.moments import after, begin
from registry.oversight.forms import PROJECT_DEEDS, SESSION_DEEDS
from registry.oversight.meant import limits_of, meant_by, of_session
from registry.oversight.models import Session
from registry.oversight.views.lists import counted, in_project, narrowed
from registry.permissions import Verb, allowed
from registry.projects.cautions import on_show_cautions, procedure_cautions
from registry.projects.models import Plan, Project
from registry.web import Deed, acts_on, deed_view, page_of, person_of, seen_or_404

SOON = 20


def _full(rows: QuerySet[Session]) -> QuerySet[Session]:
    found = rows.select_related("project__study", "place").prefetch_related("observers")
    return found.annotate(animals=counted(Session.enrolments.through.objects, "session"))


@login_required
def session_list(request: HttpRequest) -> HttpResponse:
    """List the sessions: today's, the next ones, and the earlier ones, newest first."""
    person = person_of(request)
    projects = in_project(Session.objects.all(), person, Verb.SESSION_SEE, request.GET)
    seen = allowed(Session.objects.all(), person, Verb.SESSION_SEE)
    found = narrowed(seen, request.GET, projects)
    today = timezone.localdate()
    coming = found.filter(planned_start__gte=after(today)).order_by("planned_start", "pk")
    earlier = found.filter(planned_start__lt=begin(today)).order_by("-planned_start", "-pk")
    return render(
        request,
        "oversight/session_list.html",
        {
            "today": today,
            "now": _full(found.filter(pk__in=Session.objects.on_day(today))),
            "coming": _full(coming)[:SOON],
            "coming_count": coming.count(),
            "page": page_of(request, _full(earlier)),
            "asked": request.GET,
            "states": Session.lifecycle.choices,
            "projects": projects,
        },
    )


@login_required
def session(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one session: planned and held, who was in view, what passed a limit."""
    person = person_of(request)
    rows = Session.objects.select_related("project__study", "place", "made_by").prefetch_related(
        "observers"
    )
    shown = seen_or_404(rows, person, pk)
    return render(
        request,
        "oversight/session.html",
        {
            "session": shown,
            "acts": acts_on(shown, person),
            "enrolments": shown.enrolments.select_related("animal__taxon", "group__taxon"),
            "uses": shown.uses.select_related("animal", "group", "procedure", "reversed_by"),
            "breaches": allowed(shown.breaches.all(), person, Verb.BREACH_SEE),
        },
    )


def cautions_of(project: Project) -> list[Any]:
    """Give the cautions of a project's procedures, for whoever is about to do them."""
    plan = Plan.objects.filter(project=project).prefetch_related("procedures", "places").first()
    if plan is None:
        return []
    procedures = list(plan.procedures.all())
    return [
        *on_show_cautions(plan.places.all(), procedures),
        *procedure_cautions(procedures),
    ]


def _of_session(request: HttpRequest, shown: Session, deed: Deed) -> Mapping[str, Any]:
    if deed.path != "hold":
        return {}
    day = timezone.localdate(shown.planned_start)
    told = {"margins": limits_of(of_session(shown)), "margins_on": day}
    return {"cautions": cautions_of(shown.project), **told}


def _of_project(request: HttpRequest, shown: Project, deed: Deed) -> Mapping[str, Any]:
    if deed.path not in {"plan_session", "plan_schedule", "record_use"}:
        return {}
    today = timezone.localdate()
    told = {"margins": limits_of(meant_by(shown, today)), "margins_on": today}
    return {"cautions": cautions_of(shown), **told}


WITH_CAUTIONS = "oversight/work.html"
session_deed = deed_view(
    Session, SESSION_DEEDS, extra=_of_session, templates={"hold": WITH_CAUTIONS}
)
project_deed = deed_view(
    Project,
    PROJECT_DEEDS,
    extra=_of_project,
    templates=dict.fromkeys(("plan_session", "plan_schedule", "record_use"), WITH_CAUTIONS),
)
