"""Pages about how long records are kept, and about holds."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.oversight.forms.holds import HOLD_DEEDS
from registry.oversight.models import Hold, RetentionRule
from registry.permissions import Verb, allowed
from registry.web import acts_on, deed_view, page_of, person_of, seen_or_404

hold_deed = deed_view(Hold, HOLD_DEEDS)


@login_required
def retention(request: HttpRequest) -> HttpResponse:
    """Show how long which records are kept at least, and what is held beyond that."""
    holds = allowed(Hold.objects.all(), person_of(request), Verb.HOLD_SEE)
    context = {
        "rules": RetentionRule.objects.all(),
        "page": page_of(request, holds.select_related("project__study", "set_by")),
    }
    return render(request, "oversight/retention.html", context)


@login_required
def hold(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one hold."""
    person = person_of(request)
    shown = seen_or_404(Hold.objects.select_related("project__study", "set_by"), person, pk)
    context = {"hold": shown, "acts": acts_on(shown, person)}
    return render(request, "oversight/hold.html", context)
