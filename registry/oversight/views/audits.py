"""Pages about audits, the uses that they look at, and their points."""

from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from registry.oversight.auditing import RISKS, counts_of, useless_sessions
from registry.oversight.forms.audits import AUDIT_DEEDS, OPEN, POINT_DEEDS, SAMPLED_DEEDS
from registry.oversight.models import Audit, Point, SampledUse
from registry.oversight.reports import audit_report
from registry.permissions import Verb, allowed, may
from registry.printing.answers import pdf_answer
from registry.web import (
    acts_on,
    deed_page,
    deed_view,
    page_of,
    person_of,
    seen_among,
    seen_or_404,
)

audit_deed = deed_view(Audit, AUDIT_DEEDS)
point_deed = deed_view(Point, POINT_DEEDS)
sampled_deed = deed_view(SampledUse, SAMPLED_DEEDS)
PAPER = Path(__file__).parents[1] / "audit.typ"
MOST = 50


@login_required
def audit_list(request: HttpRequest) -> HttpResponse:
    """List the audits, and the points put to oneself."""
    person = person_of(request)
    audits = allowed(Audit.objects.all(), person, Verb.AUDIT_SEE).select_related("opener")
    points = allowed(Point.objects.all(), person, Verb.POINT_SEE).filter(addressee=person.pk)
    return render(
        request,
        "oversight/audit_list.html",
        {
            "page": page_of(request, audits),
            "points": points.select_related("audit"),
            "may_open": may(person, Verb.AUDIT_OPEN),
        },
    )


@login_required
def open_audit(request: HttpRequest) -> HttpResponse:
    """Open an audit."""
    return deed_page(request, OPEN, None)


def _shown(request: HttpRequest, pk: int) -> dict[str, Any]:
    """Give all that an audit's page and its report show."""
    person = person_of(request)
    shown = seen_or_404(Audit.objects.select_related("opener"), person, pk)
    points = list(shown.points.select_related("addressee", "breach", "use__procedure"))
    looked_at = allowed(shown.sampled.all(), person, Verb.SAMPLED_USE_SEE)
    sampled = looked_at.select_related(
        "draw", "use__animal", "use__group", "use__procedure", "use__project__study"
    )
    found: dict[str, Any] = {"counts": [], "sessions": []}
    if shown.from_on and shown.to_on and may(person, Verb.USE_REVIEW):
        first, last = shown.from_on, shown.to_on
        found["counts"] = counts_of(first, last, timezone.now())
        found["sessions"] = useless_sessions(first, last).select_related("project__study")[:MOST]
    return {
        "audit": shown,
        "points": points,
        "sampled": sampled,
        "draws": [
            (draw, RISKS[draw.how].said if draw.how in RISKS else "") for draw in shown.draws.all()
        ],
        "seen": seen_among([point.breach for point in points], person),
        "acts": acts_on(shown, person),
        **found,
    }


@login_required
def audit(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an audit: what the program found, the uses drawn, the points."""
    return render(request, "oversight/audit.html", _shown(request, pk))


@login_required
def sampled(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one use that an audit looks at, beside what the register holds of it."""
    person = person_of(request)
    rows = SampledUse.objects.select_related(
        "audit",
        "draw",
        "use__animal",
        "use__group",
        "use__procedure",
        "use__project__study",
        "use__session",
        "use__place",
        "use__recorded_by",
        "use__reversed_by",
    )
    shown = seen_or_404(rows, person, pk)
    context = {
        "sampled": shown,
        "use": shown.use,
        "breaches": allowed(shown.use.breaches.all(), person, Verb.BREACH_SEE),
        "acts": acts_on(shown, person),
    }
    return render(request, "oversight/sampled.html", context)


@login_required
def report(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the report of an audit on paper."""
    return pdf_answer(PAPER, audit_report(_shown(request, pk)), name=f"audit-{pk}")


@login_required
def point(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a point with its answer."""
    person = person_of(request)
    rows = Point.objects.select_related("audit", "addressee", "breach", "use__procedure")
    shown = seen_or_404(rows, person, pk)
    seen = seen_among([shown.audit, shown.breach], person)
    context = {"point": shown, "seen": seen, "acts": acts_on(shown, person)}
    return render(request, "oversight/point.html", context)
