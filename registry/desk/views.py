"""Today, the search page, the words used here, and help."""

from itertools import groupby
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from registry.desk.changes import changes_since, look
from registry.desk.collection import stands_on
from registry.desk.needs import needs_of
from registry.desk.running import running_projects
from registry.desk.words import WORDS
from registry.oversight.models import Session
from registry.people.models import Person
from registry.permissions import Role, Verb, allowed, may
from registry.search import index
from registry.search.models import SearchDocument
from registry.web import person_of

FIRST_NEEDS = 12
MOST_FOUND = 200
FIRST_OF_A_KIND = 8


def _sessions(person: Any) -> list[Session]:
    observers = Prefetch("observers", Person.objects.order_by("name"))
    seen = allowed(Session.objects.on_day(timezone.localdate()), person, Verb.SESSION_SEE)
    rows = seen.select_related("project__study", "place").prefetch_related(observers)
    return list(rows.order_by("planned_start", "pk"))


@login_required
def today(request: HttpRequest) -> HttpResponse:
    """Show what needs the person, today's sessions, what changed, and how the collection stands."""
    person = person_of(request)
    day = timezone.localdate()
    needs = needs_of(person, day)
    since = look(person)
    sees_animals = {Role.CURATOR, Role.KEEPER, Role.VET} & person.roles
    sees_projects = {Role.CURATOR, Role.SUPERVISOR} & person.roles
    running = list(running_projects(person)) if sees_projects else []
    return render(
        request,
        "desk/today.html",
        {
            "day": day,
            "needs": needs[:FIRST_NEEDS],
            "more": needs[FIRST_NEEDS:],
            "number": len(needs),
            "sessions": _sessions(person),
            "since": since,
            "changes": changes_since(since, person),
            "stands": stands_on(day) if sees_animals else [],
            "sees_animals": sees_animals,
            "running": running,
            "hours": sum(one.keeper_hours_week for one in running if one.state == "collecting"),
            "sees_projects": sees_projects,
            "is_keeper": Role.KEEPER in person.roles,
            "may_post": may(person, Verb.QUESTION_POST),
        },
    )


def _grouped(found: list[SearchDocument], first: int) -> list[dict[str, Any]]:
    """Put what was found under its kinds, the kind of the closest first, each in its order."""
    place: dict[str, int] = {}
    for document in found:
        place.setdefault(document.kind, len(place))
    by_kind = sorted(found, key=lambda document: place[document.kind])
    groups = []
    for kind, documents in groupby(by_kind, key=lambda document: document.kind):
        rows = list(documents)
        groups.append(
            {
                "kind": kind,
                "heading": rows[0].many.capitalize(),
                "found": rows[:first],
                "number": len(rows),
                "more": len(rows) - first,
            }
        )
    return groups


@login_required
def search(request: HttpRequest) -> HttpResponse:
    """Look through everything that a person may see."""
    person = person_of(request)
    words = request.GET.get("q", "").strip()
    kind = request.GET.get("kind", "")
    kinds = [kind] if kind else []
    found = index.find(words, person, MOST_FOUND, kinds=kinds) if words else []
    groups = _grouped(found, MOST_FOUND if kind else FIRST_OF_A_KIND)
    return render(
        request,
        "desk/search.html",
        {
            "words": words[:200],
            "kind": kind,
            "groups": groups,
            "number": len(found),
            "is_full": len(found) == MOST_FOUND,
            "may_post": may(person, Verb.QUESTION_POST),
        },
    )


@login_required
def words(request: HttpRequest) -> HttpResponse:
    """Say what the words used here mean."""
    return render(request, "desk/words.html", {"words": WORDS})


@login_required
def help_page(request: HttpRequest) -> HttpResponse:
    """Say how each role begins, how data are uploaded, and where the cautions stand."""
    return render(request, "desk/help.html")
