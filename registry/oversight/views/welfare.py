"""Pages about adverse events, how a project went so far, and an animal's lifetime experience."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.animals.models import Animal, Group
from registry.oversight.account import account_of
from registry.oversight.forms.welfare import EVENT_DEEDS
from registry.oversight.lifetime import lifetime_of, require_lifetimes
from registry.oversight.models import AdverseEvent
from registry.oversight.views.lists import in_project, narrowed
from registry.permissions import Verb, allowed, require
from registry.projects.models import Project
from registry.web import acts_on, deed_view, page_of, person_of, seen_or_404

event_deed = deed_view(AdverseEvent, EVENT_DEEDS)
NEWEST = 50


@login_required
def event_list(request: HttpRequest) -> HttpResponse:
    """List the adverse events; those that wait for the vet first where nothing is asked."""
    person = person_of(request)
    rows = AdverseEvent.objects.all()
    projects = in_project(rows, person, Verb.ADVERSE_EVENT_SEE, request.GET)
    found = narrowed(allowed(rows, person, Verb.ADVERSE_EVENT_SEE), request.GET, projects)
    found = found.select_related("project__study", "animal", "group", "reported_by")
    context = {
        "page": page_of(request, found.order_by("-state", "-happened_at", "-pk")),
        "asked": request.GET,
        "states": AdverseEvent.lifecycle.choices,
        "projects": projects,
    }
    return render(request, "oversight/event_list.html", context)


@login_required
def event(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one adverse event with its assessment."""
    person = person_of(request)
    rows = AdverseEvent.objects.select_related(
        "project__study", "animal", "group", "enrolment", "reported_by", "assessed_by"
    )
    shown = seen_or_404(rows, person, pk)
    return render(request, "oversight/event.html", {"event": shown, "acts": acts_on(shown, person)})


@login_required
def account(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how a project went so far: what its close report will hold."""
    person = person_of(request)
    project = seen_or_404(Project.objects.select_related("study", "plan"), person, pk)
    require(person, Verb.PROJECT_SEE_PLAN, project)
    events = allowed(project.adverse_events.all(), person, Verb.ADVERSE_EVENT_SEE)
    return render(
        request,
        "oversight/account.html",
        {
            "project": project,
            "account": account_of(project),
            "events": events.select_related("animal", "group")[:NEWEST],
            "deviations": project.deviations.select_related("recorded_by")[:NEWEST],
            "times": project.keeper_times.select_related("recorded_by").order_by(
                "-happened_on", "-pk"
            )[:NEWEST],
            "acts": [one for one in acts_on(project, person) if one["path"] in _ACCOUNTED],
        },
    )


_ACCOUNTED = {"report_event", "record_deviation", "log_time"}


def _lifetime(request: HttpRequest, model: Any, pk: int) -> HttpResponse:
    person = person_of(request)
    subject = seen_or_404(model.objects.select_related("taxon"), person, pk)
    require_lifetimes(person)
    context = {"subject": subject, "life": lifetime_of(subject)}
    return render(request, "oversight/lifetime.html", context)


@login_required
def lifetime_of_animal(request: HttpRequest, pk: int) -> HttpResponse:
    """Show all that one animal went through."""
    return _lifetime(request, Animal, pk)


@login_required
def lifetime_of_group(request: HttpRequest, pk: int) -> HttpResponse:
    """Show all that one group went through."""
    return _lifetime(request, Group, pk)
