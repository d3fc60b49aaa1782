"""Pages about loans: what is lent to this collection and by it, and one loan."""

from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.forms import LOAN_DEEDS
from registry.animals.models import Loan
from registry.ledger.lines import history_of
from registry.permissions import Verb, allowed
from registry.saying import day_said
from registry.web import acts_on, deed_view, page_of, person_of, seen_or_404

loan_deed = deed_view(Loan, LOAN_DEEDS)
_ABOUT = ("animal__taxon", "group__taxon", "institution")


@login_required
def loan_list(request: HttpRequest) -> HttpResponse:
    """List the loans that run, or all."""
    found = allowed(Loan.objects.all(), person_of(request), Verb.LOAN_SEE)
    is_all = request.GET.get("which") == "all"
    if not is_all:
        found = found.filter(state="lent")
    page = page_of(request, found.select_related(*_ABOUT))
    today = timezone.localdate()
    rows = [(row, row.is_overdue_on(today)) for row in page]
    return render(request, "animals/loans.html", {"page": page, "rows": rows, "is_all": is_all})


@login_required
def loan(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one loan: who owns what, who keeps it, until when, on what terms."""
    person = person_of(request)
    rows = Loan.objects.select_related(*_ABOUT, "recorded_by", "ended_by")
    shown = seen_or_404(rows, person, pk)
    facts: list[tuple[Any, ...]] = [
        (_("Of"), shown.subject, shown.subject.get_absolute_url()),
        (_("Owner"), shown.owner or settings.SITE_NAME),
        (_("Holder"), shown.holder or settings.SITE_NAME),
        (_("Since"), day_said(shown.began_on)),
        (_("Until"), _until(shown)),
        (_("Recorded by"), shown.recorded_by.name),
        (_("Ended"), day_said(shown.ended_on) if shown.ended_on else ""),
        (_("Outcome"), shown.get_outcome_display()),
        (_("Ended by"), shown.ended_by.name if shown.ended_by else ""),
    ]
    return render(
        request,
        "animals/loan.html",
        {
            "subject": shown,
            "facts": facts,
            "is_overdue": shown.is_overdue_on(timezone.localdate()),
            "history": history_of(shown, person),
            "acts": acts_on(shown, person),
        },
    )


def _until(loan: Loan) -> str:
    day = loan.expected_end_on
    return day_said(day) if day else _("no end was agreed")
