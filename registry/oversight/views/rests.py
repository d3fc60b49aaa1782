"""Pages about the house's rules of rest."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.oversight.forms.rests import REST_DEEDS, SET
from registry.oversight.models import RestRule
from registry.permissions import Verb, allowed, may
from registry.web import acts_on, deed_page, deed_view, page_of, person_of, seen_or_404

rest_deed = deed_view(RestRule, REST_DEEDS)


@login_required
def rest_list(request: HttpRequest) -> HttpResponse:
    """List the rules, those that hold first."""
    person = person_of(request)
    rules = allowed(RestRule.objects.all(), person, Verb.REST_RULE_SEE)
    context = {
        "page": page_of(request, rules.select_related("taxon", "owner").order_by("ended_on", "pk")),
        "may_set": may(person, Verb.REST_RULE_SET),
    }
    return render(request, "oversight/rest_list.html", context)


@login_required
def set_rest(request: HttpRequest) -> HttpResponse:
    """Set a rule."""
    return deed_page(request, SET, None)


@login_required
def rest(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one rule, with its reason."""
    person = person_of(request)
    shown = seen_or_404(RestRule.objects.select_related("taxon", "owner"), person, pk)
    context = {"rule": shown, "acts": acts_on(shown, person)}
    return render(request, "oversight/rest.html", context)
