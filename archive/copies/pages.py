"""The page that says how the copies stand."""

from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.db.models import Count, Min, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from archive.copies.models import Copy, StoreRun
from archive.copies.reviewing import to_review, years_kept
from archive.copies.rounds import SECOND, stores, without_copy
from archive.models import Version
from registry.permissions import Verb, allowed, require
from registry.web import page_of, person_of


@require_safe
@login_required
def look(request: HttpRequest) -> HttpResponse:
    """Show the stores, their copies, what is damaged, and the rounds through them."""
    person = person_of(request)
    require(person, Verb.COPY_SEE)
    copies = allowed(Copy.objects.kept(), person, Verb.COPY_SEE)
    damaged = copies.filter(state="damaged").select_related("version__dataset").order_by("pk")
    context = {
        "stores": _stores(copies),
        "has_second": bool(settings.SECOND_STORE),
        "damaged": damaged,
        "waiting": len(without_copy(SECOND)) if settings.SECOND_STORE else 0,
        "mended": copies.exclude(aside="").select_related("version__dataset").order_by("-pk")[:20],
        "versions": Version.objects.filter(is_published=True).exclude(state="erased").count(),
        "every_days": settings.SCRUB_DAYS,
        "years": years_kept(),
        "to_review": list(to_review()[:100]),
        "page": page_of(request, allowed(StoreRun.objects.all(), person, Verb.STORE_RUN_SEE)),
    }
    return render(request, "archive/copies.html", context)


def _stores(copies: Any) -> list[dict[str, Any]]:
    counts = {
        row["place"]: row
        for row in copies.order_by()
        .values("place")
        .annotate(
            number=Count("pk"),
            damaged=Count("pk", filter=Q(state="damaged")),
            oldest=Min("checked_at"),
        )
    }
    none = {"number": 0, "damaged": 0, "oldest": None}
    return [
        {"label": Copy.Place(place).label, "where": held.where, **counts.get(place, none)}
        for place, held in stores().items()
    ]
