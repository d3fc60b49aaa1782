"""Pages of the ledger: the list, one entry, the history of one object."""

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Max, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.errors import Unseen
from registry.ledger.forms import LedgerFilter
from registry.ledger.models import Entry, model_of, name_said
from registry.permissions import SEE, Verb, allowed, kind_of
from registry.web import page_of, person_of, seen_or_404


def visible(person: Any) -> QuerySet[Entry]:
    """Give the entries that this person may read."""
    return allowed(Entry.objects.all(), person, Verb.ENTRY_SEE)


@dataclass(frozen=True)
class Subject:
    """What an entry is about: its name, and its page where it still has one that one may see."""

    name: str
    said: str
    url: str


def subject_for(person: Any, name: str) -> Subject:
    """Give what is to be shown of a subject to this person."""
    plain = Subject(name, name_said(name), "")
    found = model_of(name)
    if found is None or not hasattr(found[0], "get_absolute_url"):
        return plain
    model, pk = found
    rows = model._default_manager.all()
    if see := SEE.get(kind_of(model)):
        rows = allowed(rows, person, see)
    try:
        row: Any = rows.filter(pk=pk).first()
    except ValueError:
        return plain
    return Subject(name, str(row), row.get_absolute_url()) if row is not None else plain


@login_required
def ledger(request: HttpRequest) -> HttpResponse:
    """List the entries, newest first; by subject, person, project, deed and period."""
    person = person_of(request)
    form = LedgerFilter(request.GET, by=person)
    found = form.narrowed(visible(person)).select_related("actor").order_by("-number")
    return render(
        request,
        "ledger/list.html",
        {"form": form, "page": page_of(request, found)},
        status=200 if form.is_valid() else 422,
    )


@login_required
def entry(request: HttpRequest, number: int) -> HttpResponse:
    """Show one entry: who, when, what, why, and its place in the chain."""
    person = person_of(request)
    shown = seen_or_404(Entry.objects.select_related("actor"), person, number)
    facts = shown.facts
    return render(
        request,
        "ledger/entry.html",
        {
            "entry": shown,
            "facts": facts,
            "details": [(key.replace("_", " "), said) for key, said in facts["details"].items()],
            "touched": [subject_for(person, name) for name in facts["touched"]],
            "subject": subject_for(person, shown.subject),
            "is_erased": bool(facts["reason"]) and not shown.reason,
            "is_head": shown.number == Entry.objects.aggregate(head=Max("number"))["head"],
            "may_see_actor": allowed(
                type(shown.actor)._default_manager.filter(pk=shown.actor_id),
                person,
                Verb.PERSON_SEE,
            ).exists(),
        },
    )


@login_required
def about(request: HttpRequest, subject: str) -> HttpResponse:
    """Show the history of one object; of one that deeds only touch, the deeds that did."""
    person = person_of(request)
    found = visible(person).filter(subject=subject)
    if not found.exists():
        found = visible(person).filter(text__contains=f'"{subject}":')
    if not found.exists():
        raise Unseen(
            "Nothing was found here.",
            "No deed on it is recorded, or none that is yours to read.",
            "Check the address, or look in the ledger itself.",
        )
    entries = found.select_related("actor").order_by("-number")
    return render(
        request,
        "ledger/about.html",
        {"subject": subject_for(person, subject), "page": page_of(request, entries)},
    )
