"""The page for whoever keeps the site, and the word for a monitor."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from registry.permissions import Verb, require
from registry.running.backup.packing import version_of_program
from registry.running.standing import VERIFYING, amiss, facts, health, verified
from registry.running.variables import VARIABLES
from registry.web import person_of


@require_safe
@login_required
def look(request: HttpRequest) -> HttpResponse:
    """Show what is set, how the site stands, and how it is kept."""
    require(person_of(request), Verb.SITE_SEE)
    return render(
        request,
        "running/look.html",
        {
            "version": version_of_program(),
            "amiss": list(amiss()),
            "facts": facts(),
            "verified": [verified(command) for command in VERIFYING],
            "variables": VARIABLES,
        },
    )


@require_safe
@never_cache
def healthy(request: HttpRequest) -> JsonResponse:
    """Tell a monitor whether database, store and worker answer: 200, or 503 and which does not."""
    faults = health()
    is_well = not any(faults.values())
    shape = {"healthy": is_well, "parts": {name: said or "well" for name, said in faults.items()}}
    return JsonResponse(shape, status=200 if is_well else 503)
