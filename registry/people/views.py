"""Pages about people, the bodies that decide, and one's own tokens."""

import logging

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Prefetch, Q
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST

from registry.errors import Refusal, Unseen
from registry.ledger.lines import history_of
from registry.ledger.models import Entry
from registry.people import actions
from registry.people.forms import (
    ADD,
    BODY_DEEDS,
    DEEDS,
    INSTITUTION_DEEDS,
    OPEN,
    OPEN_INSTITUTION,
    MakeToken,
)
from registry.people.models import ApiToken, Body, Institution, Person, Seat, Standing
from registry.permissions import STANDINGS, Verb, allowed, may
from registry.web import acts_on, deed_page, deed_view, page_of, person_of, seen_or_404

logger = logging.getLogger("strandline.security")

deed = deed_view(Person, DEEDS)
body_deed = deed_view(Body, BODY_DEEDS)
institution_deed = deed_view(Institution, INSTITUTION_DEEDS)


@login_required
def people(request: HttpRequest) -> HttpResponse:
    """List the people that one may see; by standing and by name."""
    person = person_of(request)
    found = allowed(Person.objects.real(), person, Verb.PERSON_SEE)
    asked = request.GET
    if role := asked.get("role"):
        found = found.filter(pk__in=Person.objects.with_standing(role).values("pk"))
    if name := asked.get("name", "").strip():
        found = found.filter(Q(name__icontains=name) | Q(post__icontains=name))
    live = Prefetch("standings", Standing.objects.filter(ended_on=None), to_attr="live")
    return render(
        request,
        "people/list.html",
        {
            "page": page_of(request, found.select_related("institution").prefetch_related(live)),
            "roles": STANDINGS,
            "asked": asked,
            "may_add": may(person, Verb.PERSON_ADD),
        },
    )


@login_required
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one person: standing, seats, inductions, their part in projects, their newest deeds."""
    asking = person_of(request)
    shown = seen_or_404(Person.objects.real().select_related("institution"), asking, pk)
    entries = allowed(Entry.objects.filter(actor=shown), asking, Verb.ENTRY_SEE)
    return render(
        request,
        "people/person.html",
        {
            "shown": shown,
            "is_oneself": shown.pk == asking.pk,
            "standings": shown.standings.order_by("ended_on", "role"),
            "seats": shown.seats.select_related("body").order_by("ended_on", "pk"),
            "inductions": shown.inductions.select_related("given_by", "training"),
            "memberships": shown.memberships.select_related("project__study").order_by(
                "ended_on", "-pk"
            ),
            "entries": entries.order_by("-number")[:8],
            "subject": history_of(shown, asking),
            "acts": acts_on(shown, asking),
            "today": timezone.localdate(),
        },
    )


@login_required
def add_person(request: HttpRequest) -> HttpResponse:
    """Add a person."""
    return deed_page(request, ADD, None)


@login_required
def institutions(request: HttpRequest) -> HttpResponse:
    """List the collection, its partner and the owners of animals."""
    asking = person_of(request)
    found = allowed(Institution.objects.all(), asking, Verb.INSTITUTION_SEE).annotate(
        n_people=Count("people", distinct=True), n_bodies=Count("bodies", distinct=True)
    )
    return render(
        request,
        "people/institutions.html",
        {"page": page_of(request, found), "may_open": may(asking, Verb.INSTITUTION_OPEN)},
    )


@login_required
def institution(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one institution: its bodies, and how many people and animals are its own."""
    asking = person_of(request)
    shown = seen_or_404(Institution.objects.all(), asking, pk)
    return render(
        request,
        "people/institution.html",
        {
            "shown": shown,
            "bodies": allowed(shown.bodies.all(), asking, Verb.BODY_SEE).select_related("sort"),
            "n_people": shown.people.filter(is_active=True).count(),
            "subject": history_of(shown, asking),
            "acts": acts_on(shown, asking),
        },
    )


@login_required
def open_institution(request: HttpRequest) -> HttpResponse:
    """Add an institution."""
    return deed_page(request, OPEN_INSTITUTION, None)


@login_required
def bodies(request: HttpRequest) -> HttpResponse:
    """List the bodies that decide, with their chairs."""
    asking = person_of(request)
    live = Q(seats__ended_on=None, seats__isnull=False)
    chairs = Prefetch(
        "seats",
        Seat.objects.filter(ended_on=None, is_chair=True).select_related("person"),
        to_attr="chairs",
    )
    found = (
        allowed(Body.objects.all(), asking, Verb.BODY_SEE)
        .select_related("institution", "sort")
        .prefetch_related(chairs)
        .annotate(members=Count("seats", filter=live))
    )
    return render(
        request,
        "people/bodies.html",
        {"page": page_of(request, found), "may_open": may(asking, Verb.BODY_OPEN)},
    )


@login_required
def body(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one body: its chair and members, now and before, and what it was asked."""
    asking = person_of(request)
    shown = seen_or_404(Body.objects.select_related("institution", "sort"), asking, pk)
    seats = list(shown.seats.select_related("person").order_by("-is_chair", "began_on", "pk"))
    seated = Person.objects.filter(pk__in=[seat.person_id for seat in seats])
    seen = allowed(seated, asking, Verb.PERSON_SEE)
    approvals = shown.approvals.all()
    return render(
        request,
        "people/body.html",
        {
            "body": shown,
            "seats": [seat for seat in seats if seat.ended_on is None],
            "former": [seat for seat in seats if seat.ended_on is not None],
            "approvals": allowed(approvals, asking, Verb.APPROVAL_SEE).order_by("-pk")[:20],
            "subject": history_of(shown, asking),
            "meetings": shown.meetings.to_come(),
            "acts": acts_on(shown, asking),
            "shown_people": set(seen.values_list("pk", flat=True)),
        },
    )


@login_required
def open_body(request: HttpRequest) -> HttpResponse:
    """Set up a body."""
    return deed_page(request, OPEN, None)


@login_required
@never_cache
@sensitive_variables("secret")
def tokens(request: HttpRequest) -> HttpResponse:
    """List one's own tokens, and make one; its secret is on the answer to that, this once."""
    asking = person_of(request)
    sent = request.method == "POST"
    form = MakeToken(request.POST if sent else None, label_suffix="")
    secret, refusal, status = "", None, 200
    if sent and form.is_valid():
        try:
            secret, _ = actions.make_token(asking, **form.cleaned_data, by=asking)
            form = MakeToken(label_suffix="")
        except Refusal as refused:
            refusal, status = refused, refused.status
    elif sent:
        status = 422
    return render(
        request,
        "people/tokens.html",
        {
            "form": form,
            "secret": secret,
            "refusal": refusal,
            "tokens": ApiToken.objects.filter(person=asking),
            "now": timezone.now(),
        },
        status=status,
    )


@login_required
@require_POST
def revoke_token(request: HttpRequest, pk: int) -> HttpResponse:
    """Revoke one of one's own tokens."""
    asking = person_of(request)
    token = ApiToken.objects.filter(person=asking, pk=pk).first()
    if token is None:
        raise Unseen("Nothing was revoked.", "You have no such token.", "Look at your tokens.")
    actions.revoke_token(token, by=asking)
    logger.info("Token revoked: token %s of person %s", token.pk, asking.pk)
    return HttpResponseRedirect(reverse("tokens"))
