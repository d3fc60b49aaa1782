"""The auditor's pages: use of animals as of any day, its export, and the place's first page."""

from dataclasses import dataclass
from datetime import timedelta
from itertools import chain
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone

from registry.animals.models import Restriction
from registry.approvals.models import Approval, Condition
from registry.guarded.cells import csv_lines
from registry.oversight.forms.review import ReviewForm, with_a_year
from registry.oversight.models import Booking, Breach, Concern, Point, Session, Use
from registry.oversight.review import (
    BY,
    COLUMNS,
    Asked,
    as_rows,
    breaches_of,
    map_of,
    sums_of,
    uses_of,
    with_names,
)
from registry.paging import MOST_COUNTED, so_many
from registry.permissions import Verb, allowed, may, reach, require
from registry.web import number_of, page_of, person_of

SOON_DAYS = 60
FIRST = 12
SUMS_A_PAGE = 50
USES_A_PAGE = 25
MOST_BREACHES = 10  # as the template shows them


@dataclass(frozen=True)
class Some:
    """Some rows of a list of which one does not say how long it is: to count sums is to sum."""

    rows: list[Any]
    number: int
    has_next: bool


def _some(rows: QuerySet[Any, Any], number: int) -> Some:
    begins = (min(number, MOST_COUNTED) - 1) * SUMS_A_PAGE
    found = list(rows[begins : begins + SUMS_A_PAGE + 1])
    return Some(found[:SUMS_A_PAGE], number, len(found) > SUMS_A_PAGE)


def _page_number(request: HttpRequest) -> int:
    return number_of(request.GET.get("map")) or 1


@login_required
def review(request: HttpRequest) -> HttpResponse:
    """Show the use of animals: the map or the sums, the breaches and the uses themselves."""
    person = person_of(request)
    require(person, Verb.USE_REVIEW)
    given = with_a_year(request.GET)
    form = ReviewForm(given)
    if not form.is_valid():
        return render(request, "oversight/review.html", {"form": form}, status=422)
    asked, by = form.asked(), form.cleaned_data["by"]
    uses = uses_of(asked)
    # Either the map or the sums: each goes through every use within the bounds.
    number = number_of(request.GET.get("sums")) or 1
    sums = _some(sums_of(uses, by), number) if by else None
    return render(
        request,
        "oversight/review.html",
        {
            "form": form,
            "asked": asked,
            "by": by,
            "by_said": BY[by][0] if by else "",
            "sums": with_names(sums.rows, by) if sums else [],
            "sums_page": sums,
            "map": None if by else map_of(asked, page=_page_number(request)),
            "breaches": breaches_of(asked)[: MOST_BREACHES + 1],
            "page": page_of(request, uses, USES_A_PAGE),
            "query": given.urlencode(),
        },
    )


@login_required
def export_uses(request: HttpRequest) -> HttpResponse | StreamingHttpResponse:
    """Give the same uses as CSV, row by row."""
    require(person_of(request), Verb.USE_REVIEW)
    form = ReviewForm(request.GET or {})
    if not form.is_valid():
        return render(request, "oversight/review.html", {"form": form}, status=422)
    asked = form.asked()
    lines = csv_lines(chain([COLUMNS], as_rows(uses_of(asked))))
    answer = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    name = f"uses-{asked.happened_by}-known-{asked.known_by}.csv"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@login_required
def home(request: HttpRequest) -> HttpResponse:
    """Show what is in use, out of bounds, overdue and to be explained, as far as one may see it."""
    person = person_of(request)
    today = timezone.localdate()
    soon = today + timedelta(days=SOON_DAYS)
    is_reviewer = may(person, Verb.USE_REVIEW)
    approvals = allowed(Approval.objects.all(), person, Verb.APPROVAL_SEE)
    seen = {
        "breaches": allowed(Breach.objects.all(), person, Verb.BREACH_SEE)
        .exclude(state="settled")
        .select_related("project__study", "approval"),
        "conditions": Condition.objects.filter(
            approval__in=approvals.values("pk"), met_on=None, due_on__lte=soon
        )
        .exclude(approval__state__in=["withdrawn", "closed", "refused"])
        .select_related("approval")
        .order_by("due_on"),
        "expiring": approvals.filter(
            Q(state="suspended") | Q(state="approved", ends_on__range=(today, soon))
        ).order_by("ends_on"),
        "bookings": allowed(Booking.objects.all(), person, Verb.BOOKING_SEE)
        .filter(state__in=["requested", "offered"])
        .select_related("project__study"),
        "sessions": allowed(Session.objects.on_day(today), person, Verb.SESSION_SEE).select_related(
            "project__study", "place"
        ),
        "concerns": allowed(Concern.objects.all(), person, Verb.CONCERN_SEE).exclude(
            state="resolved"
        ),
        "points": allowed(Point.objects.all(), person, Verb.POINT_SEE)
        .exclude(state="settled")
        .select_related("audit", "addressee"),
        "restrictions": Restriction.objects.in_force_on(today).select_related(
            "animal", "group", "enclosure"
        ),
    }
    drawn = map_of(Asked(today, today), page=_page_number(request)) if is_reviewer else None
    return render(
        request,
        "oversight/home.html",
        {
            **{name: rows[:FIRST] for name, rows in seen.items()},
            "open_breaches": so_many(seen["breaches"]),
            "in_force": so_many(seen["restrictions"]),
            "today": today,
            "map": drawn,
            "is_reviewer": is_reviewer,
            "sees_all": reach(Use, person, Verb.USE_SEE) is True,
            "uses": so_many(allowed(Use.objects.standing(), person, Verb.USE_SEE)),
        },
    )
