"""Pages about enrolments."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from registry.oversight.bars import restricted_on
from registry.oversight.facts import loads_of, subject_of
from registry.oversight.forms import ENROLMENT_DEEDS
from registry.oversight.models import Enrolment
from registry.oversight.views.lists import in_project, narrowed, of_animal
from registry.permissions import Verb, allowed
from registry.web import acts_on, deed_view, page_of, person_of, seen_or_404

enrolment_deed = deed_view(Enrolment, ENROLMENT_DEEDS)


@login_required
def enrolment_list(request: HttpRequest) -> HttpResponse:
    """List the enrolments, by state, project and animal."""
    person = person_of(request)
    projects = in_project(Enrolment.objects.all(), person, Verb.ENROLMENT_SEE, request.GET)
    seen = allowed(Enrolment.objects.all(), person, Verb.ENROLMENT_SEE)
    found = of_animal(narrowed(seen, request.GET, projects), request.GET).select_related(
        "project__study", "animal__taxon", "group__taxon", "arm"
    )
    return render(
        request,
        "oversight/enrolment_list.html",
        {
            "page": page_of(request, found),
            "asked": request.GET,
            "states": Enrolment.lifecycle.choices,
            "projects": projects,
        },
    )


@login_required
def enrolment(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one enrolment: its days, its uses, what bars the animal now."""
    person = person_of(request)
    rows = Enrolment.objects.select_related(
        "project__study", "animal__taxon", "group__taxon", "arm", "booking", "enrolled_by"
    )
    shown = seen_or_404(rows, person, pk)
    today = timezone.localdate()
    subject = shown.subject
    here = ([subject], []) if shown.animal_id else ([], [subject])
    loads = loads_of(*here, today).get(subject_of(subject), {})
    uses = shown.uses.select_related("procedure", "recorded_by", "reversed_by", "place")
    return render(
        request,
        "oversight/enrolment.html",
        {
            "enrolment": shown,
            "acts": acts_on(shown, person),
            "page": page_of(request, uses, 25),
            "bars": restricted_on([subject], today, is_contact=True)[subject_of(subject)],
            "loads": [(days, loads.get(days, 0)) for days in (7, 28, 365)],
        },
    )
