"""Pages about questions: the list, one question with its line, and posting one."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _

from registry.ledger.lines import WAY, line_of
from registry.permissions import Verb, allowed, may, require
from registry.questions.forms import DEEDS, POST
from registry.questions.models import Level, Question
from registry.questions.similar import similar_to
from registry.search import index as search
from registry.web import acts_on, deed_page, deed_view, number_of, page_of, person_of, seen_or_404

# What may answer a question, or asks the same.
_ANSWERING = ("questions.question", "archive.version")

deed = deed_view(Question, DEEDS)


@login_required
def question_list(request: HttpRequest) -> HttpResponse:
    """List the questions; by state, level, month and taxon."""
    person = person_of(request)
    found = allowed(Question.objects.all(), person, Verb.QUESTION_SEE)
    asked = request.GET
    if state := asked.get("state"):
        found = found.filter(state=state)
    if level := asked.get("level"):
        found = found.filter(Q(level=level) | Q(level=""))
    if (taxon := number_of(asked.get("taxon"))) is not None:
        found = found.filter(taxon=taxon)
    if (month := number_of(asked.get("month"))) is not None:
        spans = Q(first_month__lte=month, last_month__gte=month)
        over_new_year = Q(first_month__gt=0, last_month__lt=1)
        found = found.filter(Q(first_month=None) | spans | over_new_year)
    found = found.select_related("asker", "taxon").annotate(
        wishes=Count("interests", filter=Q(interests__ended_at=None))
    )
    return render(
        request,
        "questions/list.html",
        {
            "page": page_of(request, found),
            "levels": Level.choices,
            "states": Question.lifecycle.choices,
            "asked": asked,
            "may_post": may(person, Verb.QUESTION_POST),
            "may_see_interest": may(person, Verb.QUESTION_SEE_INTEREST),
        },
    )


@login_required
def question(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one question: why, what became of it, its line, who is interested."""
    person = person_of(request)
    rows = Question.objects.select_related("asker", "taxon", "merged_into")
    shown = seen_or_404(rows, person, pk)
    studies = list(shown.studies.prefetch_related("projects"))
    way = WAY if shown.state in {"posted", "taken_on", "answered"} else ()
    line = line_of(
        person,
        [shown, *studies],
        projects=[project.pk for study in studies for project in study.projects.all()],
        to_come=way,
        due={Verb.QUESTION_ANSWER: shown.wanted_by},
    )
    interests = shown.interests.filter(ended_at=None).select_related("person")
    see_all = may(person, Verb.QUESTION_SEE_INTEREST, shown)
    return render(
        request,
        "questions/question.html",
        {
            "question": shown,
            "line": line,
            "acts": acts_on(shown, person),
            "interests": interests if see_all else interests.filter(person=person),
            "see_all": see_all,
            "studies": studies,
            "may_open": shown.state == "taken_on" and not studies and may(person, Verb.STUDY_OPEN),
            "similar": search.near(
                f"{shown.title} {shown.animals}", person, kinds=_ANSWERING, but=shown
            ),
        },
    )


@login_required
def similar(request: HttpRequest) -> HttpResponse:
    """Give what is close to a question that is being written, as a piece of a page."""
    person = person_of(request)
    require(person, POST.verb)
    found = similar_to(request.GET, person)
    return render(request, "questions/_similar.html", {"similar": found})


@login_required
def post(request: HttpRequest) -> HttpResponse:
    """Post a question; what is close to it is shown before, and nothing typed is lost of it."""
    person = person_of(request)
    extra: dict[str, Any] = {"also": _("Look for similar ones"), "also_name": "similar"}
    if request.method == "POST":
        require(person, POST.verb)
        found = similar_to(request.POST, person)
        sound = POST.form(request.POST, by=person)
        has_asked = "similar" in request.POST
        must_look = not has_asked and found.is_new_to(request.POST.get("seen", ""))
        if has_asked or (must_look and sound.is_valid()):
            # Unbound where one only looks: what is still missing is no fault yet.
            form = POST.form(initial=request.POST.dict(), by=person) if has_asked else sound
            extra |= {"deed": POST, "form": form, "similar": found, "has_looked": True}
            return render(request, "questions/post.html", extra | {"must_look": must_look})
    return deed_page(request, POST, None, template="questions/post.html", extra=extra)
