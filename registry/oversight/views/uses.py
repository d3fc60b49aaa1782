"""Pages about uses of animals."""

from datetime import date

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _

from registry.moments import after, begin
from registry.oversight.forms import USE_DEEDS
from registry.oversight.models import Breach, Use
from registry.oversight.views.lists import in_project, of_animal, of_project
from registry.permissions import Verb, allowed
from registry.projects.models import Procedure
from registry.web import acts_on, deed_view, number_of, page_of, person_of, seen_or_404

use_deed = deed_view(Use, USE_DEEDS)


def _day(said: str) -> date | None:
    try:
        return date.fromisoformat(said)
    except ValueError:
        return None


def _late() -> QuerySet[Use]:
    """Give the uses that were recorded later than the house allows."""
    return Use.objects.told().filter(days_late__gt=settings.LATE_ENTRY_DAYS)


def _which(said: str) -> QuerySet[Use]:
    """Give the entries of a kind; those that stand, unless another is asked for."""
    every = Use.objects.all()
    if said == "all":
        return every
    if said == "late":
        return _late()
    if said == "reversed":
        later = Use.objects.filter(reverses=OuterRef("pk"))
        return every.filter(Q(reverses__isnull=False) | Exists(later))
    if said == "breach":
        return every.filter(Exists(Breach.objects.filter(use=OuterRef("pk"))))
    return Use.objects.standing()


@login_required
def use_list(request: HttpRequest) -> HttpResponse:
    """List the uses; by project, animal, procedure, days, lateness, and whether they stand."""
    person, asked = person_of(request), request.GET
    projects = in_project(Use.objects.all(), person, Verb.USE_SEE, asked)
    found = of_animal(allowed(_which(asked.get("which", "")), person, Verb.USE_SEE), asked)
    found = of_project(found, projects)
    for name in ("procedure", "session", "enrolment"):
        if (number := number_of(asked.get(name))) is not None:
            found = found.filter(**{name: number})
    if since := _day(asked.get("since", "")):
        found = found.filter(happened_at__gte=begin(since))
    if until := _day(asked.get("until", "")):
        found = found.filter(happened_at__lt=after(until))
    found = found.select_related(
        "project__study", "animal", "group", "procedure", "place", "recorded_by", "reversed_by"
    )
    return render(
        request,
        "oversight/use_list.html",
        {
            "page": page_of(request, found),
            "asked": asked,
            "procedures": Procedure.objects.all(),
            "projects": projects,
            "whiches": [
                ("", _("that stand")),
                ("all", _("all entries")),
                ("late", _("recorded late")),
                ("breach", _("that passed a limit")),
                ("reversed", _("taken back")),
            ],
        },
    )


@login_required
def use(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one use, and each limit that it passed."""
    person = person_of(request)
    rows = Use.objects.select_related(
        "project__study",
        "animal__taxon",
        "group__taxon",
        "procedure",
        "place",
        "session",
        "enrolment",
        "recorded_by",
        "reverses",
        "reversed_by__recorded_by",
    )
    shown = seen_or_404(rows, person, pk)
    return render(
        request,
        "oversight/use.html",
        {
            "use": shown,
            "acts": acts_on(shown, person),
            "breaches": allowed(shown.breaches.all(), person, Verb.BREACH_SEE),
            "late_days": settings.LATE_ENTRY_DAYS,
        },
    )
