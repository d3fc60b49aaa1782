"""Today, the search page, the words used here, and help."""

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString

from registry.desk.beginning import is_begun, may_begin
from registry.desk.changes import changes_since, look
from registry.desk.collection import stands_on
from registry.desk.needs import needs_of
from registry.desk.running import running_in_all, running_projects
from registry.desk.words import WORDS
from registry.oversight.models import Session
from registry.paging import AtLeast
from registry.people.models import Person
from registry.permissions import Role, Verb, allowed, may
from registry.projects.models import Project
from registry.search import index
from registry.search.asking import read
from registry.search.marking import excerpt, marked
from registry.web import person_of

FIRST_NEEDS = 12
MOST_NEEDS = 32
MOST_STANDS = 20
MOST_RUNNING = 20
MOST_FOUND = 200
FIRST_OF_A_KIND = 8
_AT_SESSIONS = {Role.KEEPER, Role.CURATOR, Role.VET, Role.SUPERVISOR, Role.STUDENT}
"""Those to whom it says something that no session runs today."""


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
    running = running_projects(person) if sees_projects else Project.objects.none()
    stands = stands_on(day) if sees_animals else []
    busiest = sorted(stands, key=lambda one: -(one.in_use + one.out_of_bounds))[:MOST_STANDS]
    sessions = _sessions(person)
    return render(
        request,
        "desk/today.html",
        {
            "day": day,
            "needs": needs[:FIRST_NEEDS],
            "more": needs[FIRST_NEEDS:MOST_NEEDS],
            "left": max(0, len(needs) - MOST_NEEDS),
            "number": AtLeast(len(needs)) if needs.is_cut else len(needs),
            "sessions": sessions,
            "shows_sessions": sessions or person.roles & _AT_SESSIONS,
            "since": since,
            "changes": changes_since(since, person),
            "stands": sorted(busiest, key=lambda one: one.taxon),
            "stands_left": len(stands) - len(busiest),
            "sees_animals": sees_animals,
            "running": running[:MOST_RUNNING],
            "in_all": running_in_all(running),
            "sees_projects": sees_projects,
            "is_keeper": Role.KEEPER in person.roles,
            "is_student": Role.STUDENT in person.roles,
            "may_post": may(person, Verb.QUESTION_POST),
            "is_beginning": may_begin(person) and not is_begun(),
            "adds_people": may(person, Verb.PERSON_ADD),
            "sees_site": may(person, Verb.SITE_SEE),
        },
    )


@dataclass(frozen=True)
class Hit:
    """One thing found, its sought words marked."""

    url: str
    title: SafeString
    excerpt: SafeString


@login_required
def search(request: HttpRequest) -> HttpResponse:
    """Look through everything that a person may see."""
    person = person_of(request)
    words = request.GET.get("q", "").strip()
    kind = request.GET.get("kind", "")
    asked = read(words)
    first = MOST_FOUND if kind else FIRST_OF_A_KIND
    found = index.find_sorted(words, person, first, kinds=[kind] if kind else [])
    groups = [
        {
            "kind": one.sort,
            "heading": one.many.capitalize(),
            "found": [
                Hit(row.url, marked(row.title, asked), excerpt(row.text, asked))
                for row in one.documents
            ],
            "number": one.number,
            "more": one.number - len(one.documents),
        }
        for one in found
    ]
    return render(
        request,
        "desk/search.html",
        {
            "words": words[:200],
            "kind": kind,
            "groups": groups,
            "number": sum(one.number for one in found),
            "close": [] if found else index.close_to(words, person),
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
    person = person_of(request)
    return render(
        request,
        "desk/help.html",
        {
            "may_post": may(person, Verb.QUESTION_POST),
            "may_run": may(person, Verb.SITE_SEE),
            "may_begin": may_begin(person),
        },
    )
