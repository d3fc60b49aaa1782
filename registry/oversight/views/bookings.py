"""Pages about bookings: the list, one booking, and its deeds with what bars each animal."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from registry.animals.relatives import Relatedness, relatedness_of
from registry.oversight.bars import barred_from_offer, barred_places, margins_of, wanted_of
from registry.oversight.facts import loads_of, subject_of
from registry.oversight.forms import BOOKING_DEEDS
from registry.oversight.models import BookedSubject, Booking, Enrolment
from registry.oversight.views.lists import counted, in_project, narrowed
from registry.permissions import Verb, allowed, may
from registry.projects.models import Plan
from registry.web import Deed, acts_on, deed_view, page_of, person_of, seen_or_404


@login_required
def booking_list(request: HttpRequest) -> HttpResponse:
    """List the bookings; those that wait for the curator stand first where nothing is asked."""
    person = person_of(request)
    projects = in_project(Booking.objects.all(), person, Verb.BOOKING_SEE, request.GET)
    seen = allowed(Booking.objects.all(), person, Verb.BOOKING_SEE)
    found = narrowed(seen, request.GET, projects).select_related("project__study", "asked_by")
    found = found.annotate(
        animals=counted(BookedSubject.objects, "booking"),
        enrolled=counted(Enrolment.objects, "booking"),
    )
    return render(
        request,
        "oversight/booking_list.html",
        {
            "page": page_of(request, found),
            "asked": request.GET,
            "states": Booking.lifecycle.choices,
            "projects": projects,
        },
    )


def _rows(booking: Booking) -> list[dict[str, Any]]:
    """Give each booked subject with its recent load and how it stands in the project."""
    subjects = list(booking.subjects.select_related("animal__taxon", "group__taxon"))
    animals = [one.animal for one in subjects if one.animal]
    groups = [one.group for one in subjects if one.group]
    loads = loads_of(animals, groups, timezone.localdate())
    enrolled: dict[tuple[int | None, int | None], list[Any]] = {}
    for one in booking.enrolments.order_by("pk"):
        enrolled.setdefault((one.animal_id, one.group_id), []).append(one)
    return [_row(one, loads, enrolled) for one in subjects]


def _row(one: BookedSubject, loads: Any, enrolled: Any) -> dict[str, Any]:
    subject: Any = one.animal or one.group
    counts = loads.get(subject_of(subject), {})
    return {
        "booked": one,
        "subject": subject,
        "loads": [counts.get(days, 0) for days in (7, 28, 365)],
        "enrolments": enrolled.get((one.animal_id, one.group_id), []),
    }


def _relatedness(subjects: Iterable[BookedSubject]) -> Relatedness | None:
    """Give how related the booked animals are; counted groups have no pedigree."""
    return relatedness_of([one.animal for one in subjects if one.animal])


@login_required
def booking(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one booking: what was wished for, what is offered, what bars it, who is enrolled."""
    person = person_of(request)
    found = Booking.objects.select_related("project__study", "asked_by").prefetch_related("places")
    shown = seen_or_404(found, person, pk)
    rows, bars = _rows(shown), list[str]()
    if shown.state in {"offered", "confirmed"} and may(person, Verb.BOOKING_CONFIRM, shown):
        wanted = wanted_of(shown)
        bars = [said for words in barred_from_offer(wanted).values() for said in words]
        bars += barred_places(wanted)
    return render(
        request,
        "oversight/booking.html",
        {
            "booking": shown,
            "acts": acts_on(shown, person),
            "rows": rows,
            "relatedness": _relatedness(row["booked"] for row in rows),
            "bars": list(dict.fromkeys(bars)),
            **_margins(shown),
        },
    )


def _margins(shown: Booking) -> dict[str, Any]:
    """Give the limits that enrolling the rest is held against, on its nearest day."""
    if shown.state not in {"offered", "confirmed"}:
        return {}
    near = min(max(timezone.localdate(), shown.starts_on), shown.ends_on)
    return {"margins": margins_of(shown, near), "margins_on": near}


def _more(request: HttpRequest, shown: Booking, deed: Deed) -> Mapping[str, Any]:
    """Give what the pages of two deeds show above their forms."""
    if deed.path not in {"offer", "enrol"}:
        return {}
    plan = (
        Plan.objects.filter(project=shown.project)
        .prefetch_related("procedures", "arms__taxon")
        .first()
    )
    more: dict[str, Any] = {"booking": shown, "plan": plan}
    if deed.path == "enrol":
        more["relatedness"] = _relatedness(shown.subjects.select_related("animal__taxon"))
        more |= _margins(shown)
    return more


booking_deed = deed_view(
    Booking,
    BOOKING_DEEDS,
    extra=_more,
    templates={"offer": "oversight/offer.html", "enrol": "oversight/enrol.html"},
)
