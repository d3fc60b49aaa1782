"""The decision calendar: when each body meets, and what waits for it."""

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.approvals.brief import WAITING_READS, waiting_of
from registry.approvals.models import Approval
from registry.people.models import Body, Meeting
from registry.permissions import Verb, allowed
from registry.web import page_of, person_of


@login_required
def calendar(request: HttpRequest) -> HttpResponse:
    """Show each body with its meetings to come and the requests that wait for one."""
    person = person_of(request)
    bodies = allowed(Body.objects.select_related("institution"), person, Verb.BODY_SEE)
    page = page_of(
        request,
        bodies.prefetch_related(
            Prefetch("meetings", Meeting.objects.to_come(), to_attr="meetings_to_come")
        ),
    )
    undecided = allowed(
        Approval.objects.filter(
            state__in=["drafted", "submitted"], body__in=[one.pk for one in page]
        ),
        person,
        Verb.APPROVAL_SEE,
    )
    requests = undecided.select_related("body").prefetch_related(*WAITING_READS).order_by("pk")
    waiting: dict[int, list[object]] = {}
    for one in requests:
        waiting.setdefault(one.body_id, []).append((one, waiting_of(one)))
    rows = [(body, waiting.get(body.pk, [])) for body in page]
    return render(request, "approvals/calendar.html", {"page": page, "rows": rows})
