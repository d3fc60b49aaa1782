"""Pages about breaches: the list, and one with its explanation."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.ledger.models import Entry, subject_of
from registry.oversight.forms import BREACH_DEEDS
from registry.oversight.models import Breach
from registry.oversight.views.lists import in_project, narrowed, of_animal
from registry.permissions import Verb, allowed
from registry.web import acts_on, deed_view, page_of, person_of, seen_among, seen_or_404

breach_deed = deed_view(Breach, BREACH_DEEDS)


@login_required
def breach_list(request: HttpRequest) -> HttpResponse:
    """List the breaches, newest first; by state, project, animal and kind."""
    person, asked = person_of(request), request.GET
    projects = in_project(Breach.objects.all(), person, Verb.BREACH_SEE, asked)
    found = narrowed(allowed(Breach.objects.all(), person, Verb.BREACH_SEE), asked, projects)
    found = of_animal(found, asked)
    if code := asked.get("code"):
        found = found.filter(code=code)
    codes = allowed(Breach.objects.all(), person, Verb.BREACH_SEE)
    return render(
        request,
        "oversight/breach_list.html",
        {
            "page": page_of(
                request, found.select_related("project__study", "animal", "group", "approval")
            ),
            "asked": asked,
            "states": Breach.lifecycle.choices,
            "codes": codes.order_by("code").values_list("code", flat=True).distinct(),
            "projects": projects,
        },
    )


@login_required
def breach(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one breach: what happened, the limit it passed, how it was explained and queried."""
    person = person_of(request)
    rows = Breach.objects.select_related(
        "project__study",
        "approval",
        "use__recorded_by",
        "session",
        "animal",
        "group",
        "explained_by",
    )
    shown = seen_or_404(rows, person, pk)
    entries = Entry.objects.filter(subject=subject_of(shown)).select_related("actor")
    return render(
        request,
        "oversight/breach.html",
        {
            "breach": shown,
            "seen": seen_among([shown.approval, shown.use, shown.session], person),
            "acts": acts_on(shown, person),
            "entries": allowed(entries, person, Verb.ENTRY_SEE).order_by("number"),
        },
    )
