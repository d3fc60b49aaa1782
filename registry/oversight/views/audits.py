"""Pages about audits and their points."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.oversight.forms.audits import AUDIT_DEEDS, OPEN, POINT_DEEDS
from registry.oversight.models import Audit, Point
from registry.permissions import Verb, allowed, may
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


@login_required
def audit(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an audit with its points."""
    person = person_of(request)
    shown = seen_or_404(Audit.objects.select_related("opener"), person, pk)
    points = shown.points.select_related("addressee", "breach")
    return render(
        request,
        "oversight/audit.html",
        {
            "audit": shown,
            "points": points,
            "seen": seen_among([point.breach for point in points], person),
            "acts": acts_on(shown, person),
        },
    )


@login_required
def point(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a point with its answer."""
    person = person_of(request)
    rows = Point.objects.select_related("audit", "addressee", "breach")
    shown = seen_or_404(rows, person, pk)
    seen = seen_among([shown.audit, shown.breach], person)
    context = {"point": shown, "seen": seen, "acts": acts_on(shown, person)}
    return render(request, "oversight/point.html", context)
