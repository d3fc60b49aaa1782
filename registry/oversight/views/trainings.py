"""Pages about the trainings that procedures ask for."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.oversight.forms.trainings import SET, TRAINING_DEEDS
from registry.oversight.models import TrainingRule
from registry.permissions import Verb, allowed, may
from registry.web import acts_on, deed_page, deed_view, page_of, person_of, seen_or_404

training_deed = deed_view(TrainingRule, TRAINING_DEEDS)


@login_required
def rule_list(request: HttpRequest) -> HttpResponse:
    """List the rules, those that hold first."""
    person = person_of(request)
    rules = allowed(TrainingRule.objects.of_those(), person, Verb.TRAINING_RULE_SEE)
    context = {
        "page": page_of(request, rules.order_by("ended_on", "procedure__name", "pk")),
        "may_set": may(person, Verb.TRAINING_RULE_SET),
    }
    return render(request, "oversight/training_list.html", context)


@login_required
def set_rule(request: HttpRequest) -> HttpResponse:
    """Ask for a training."""
    return deed_page(request, SET, None)


@login_required
def rule(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one rule, with its reason."""
    person = person_of(request)
    shown = seen_or_404(TrainingRule.objects.of_those(), person, pk)
    context = {"rule": shown, "acts": acts_on(shown, person)}
    return render(request, "oversight/training.html", context)
