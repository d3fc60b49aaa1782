"""Pages by which animals are told apart: marks, photographs, second readers, the tank's sheet."""

from collections.abc import Mapping
from math import ceil
from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.text import Truncator
from django.utils.translation import gettext as _

from registry.animals.forms import MARK_DEEDS, PHOTOGRAPH_DEEDS
from registry.animals.hatching import wilson
from registry.animals.models import Enclosure, Group, Mark, Photograph, Reading
from registry.animals.pictures import keeping
from registry.animals.telling import Candidate, Sheet, sheet_of
from registry.animals.unmarked import due_on, young_unmarked
from registry.ledger.lines import history_of
from registry.permissions import Verb, allowed, may
from registry.printing.answers import pdf_answer
from registry.saying import day_said, number_said
from registry.web import Deed, acts_on, deed_view, page_of, person_of, seen_or_404

_PRINTED = Path(__file__).with_name("who.typ")


def _shown(request: HttpRequest, mark: Mark, deed: Deed) -> Mapping[str, Any]:
    """Show the photographs of a mark beside the form, and nothing that says whose they are."""
    return {"photographs": mark.photographs.filter(state="kept"), "back": ""}


mark_deed = deed_view(Mark, MARK_DEEDS, extra=_shown, templates={"read": "animals/read.html"})
photograph_deed = deed_view(Photograph, PHOTOGRAPH_DEEDS)


@login_required
def mark_list(request: HttpRequest) -> HttpResponse:
    """List the marks that wait for a second reader, and how far readers agree."""
    person = person_of(request)
    waiting = allowed(Mark.objects.awaiting_second_reader(), person, Verb.MARK_SEE)
    page = page_of(request, waiting.exclude(recorded_by=person).order_by("recorded_at", "pk"))
    agreed, made = Reading.objects.counted()
    return render(
        request,
        "animals/marks.html",
        {
            "page": page,
            "agreement": agreement_said(agreed, made),
            "may_read": may(person, Verb.MARK_READ),
        },
    )


def agreement_said(agreed: int, made: int) -> str:
    """Say how far second readers agree with the register, with Wilson's interval; a share of all.

    Whoever could not tell counts as one who does not agree.
    """
    if not made:
        return ""
    share = wilson(agreed, made)
    percent = [number_said(100 * one, 1) for one in (share.value, share.low, share.high)]
    return _("%(agreed)s of %(made)s, %(value)s %% (95 %% interval %(low)s to %(high)s)") % {
        "agreed": number_said(agreed),
        "made": number_said(made),
        "value": percent[0],
        "low": percent[1],
        "high": percent[2],
    }


@login_required
def mark(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one mark: its photographs, who else read it, what it replaced."""
    person = person_of(request)
    rows = Mark.objects.select_related("animal__taxon", "recorded_by", "replaces")
    shown = seen_or_404(rows, person, pk)
    readings = list(shown.readings.select_related("reader", "answer"))
    agreed = sum(one.is_agreed for one in readings)
    later = Mark.objects.filter(replaces=shown).first()
    facts = [
        (_("Of"), shown.animal, shown.animal.get_absolute_url()),
        (_("Kind"), shown.get_sort_display()),
        (_("Where"), shown.get_side_display()),
        (_("Confidence"), shown.get_confidence_display()),
        (_("Seen or put in"), day_said(shown.seen_on)),
        (_("Recorded by"), shown.recorded_by.name),
        (_("Second readers"), agreement_said(agreed, len(readings)) or _("none yet")),
        (_("Gone since"), day_said(shown.ended_on) if shown.ended_on else ""),
        (_("Why"), shown.end_reason),
        (_("Took the place of"), shown.replaces, _url(shown.replaces)),
        (_("Replaced by"), later, _url(later)),
    ]
    return render(
        request,
        "animals/mark.html",
        {
            "subject": shown,
            "facts": facts,
            "photographs": shown.photographs.filter(state="kept").select_related("recorded_by"),
            "readings": readings,
            "history": history_of(shown, person),
            "acts": acts_on(shown, person),
        },
    )


def _url(one: Mark | None) -> str:
    return one.get_absolute_url() if one is not None else ""


@login_required
def photograph(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one photograph, large."""
    person = person_of(request)
    rows = Photograph.objects.select_related("mark__animal", "recorded_by")
    shown = seen_or_404(rows, person, pk)
    facts = [
        (_("Mark"), shown.mark, shown.mark.get_absolute_url()),
        (_("From"), shown.get_side_display()),
        (_("Taken"), day_said(shown.taken_on)),
        (_("Taken by"), shown.taken_by),
        (_("Recorded by"), shown.recorded_by.name),
        (_("Withdrawn because"), shown.withdrawn_because),
        (_("SHA-256"), shown.sha256),
    ]
    return render(
        request,
        "animals/photograph.html",
        {
            "subject": shown,
            "facts": facts,
            "history": history_of(shown, person),
            "acts": acts_on(shown, person),
        },
    )


@login_required
def picture(request: HttpRequest, pk: int, size: str) -> HttpResponse:
    """Send the bytes of a photograph that is shown: large, or small for lists."""
    rows = Photograph.objects.filter(state="kept")
    shown = seen_or_404(rows, person_of(request), pk)
    return picture_answer(shown, size)


def picture_answer(shown: Photograph, size: str) -> HttpResponse:
    """Give the bytes of a photograph that may be seen, large or small."""
    content = keeping.read(shown.small_sha256 if size == "small" else shown.sha256)
    # The bytes of an address never change; whether they may be seen is asked again each day.
    heads = {"Cache-Control": "private, max-age=86400"}
    return HttpResponse(content, content_type="image/jpeg", headers=heads)


@login_required
def who(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the identification sheet of an enclosure: say what you saw, see who it may be."""
    person = person_of(request)
    shown = seen_or_404(Enclosure.objects.all(), person, pk)
    sheet = sheet_of(shown, person, request.GET.getlist("seen"))
    groups = allowed(Group.objects.filter(enclosure=shown, state="kept"), person, Verb.GROUP_SEE)
    return render(
        request,
        "animals/who.html",
        {
            "subject": shown,
            "sheet": sheet,
            "groups": groups.select_related("taxon"),
            "may_keep_off": may(person, Verb.ANIMAL_RESTRICT),
        },
    )


MOST_ON_A_PAGE = 40
"""Animals on one printed sheet; with more the pictures would be too small to tell anyone apart."""


@login_required
def who_printed(request: HttpRequest, pk: int) -> HttpResponse:
    """Print the identification sheet of an enclosure: one page up to forty animals."""
    person = person_of(request)
    shown = seen_or_404(Enclosure.objects.all(), person, pk)
    sheet = sheet_of(shown, person)
    cells, pictures = _cells(sheet)
    facts = {
        "title": _("Who is it?"),
        "over": f"{shown.name}, {shown.code}",
        "cells": cells,
        "columns": _columns(len(cells)),
        "down": ceil(min(len(cells), MOST_ON_A_PAGE) / _columns(len(cells))) or 1,
        "empty": _("No animal that is told apart lives here."),
        "no_picture": _("no photograph"),
    }
    return pdf_answer(_PRINTED, facts, name=f"who-{shown.code}", pictures=pictures)


def _columns(number: int) -> int:
    """Give how many animals stand side by side, so that all of them fit on the page."""
    return next((side for side in (2, 3, 4) if number <= side * (side + 1)), 5)


def _letters(number: int) -> int:
    """Give how many letters of its marks stand beside each animal, so that its picture has room."""
    return next((letters for most, letters in ((6, 300), (20, 150)) if number <= most), 80)


def _cells(sheet: Sheet) -> tuple[list[dict[str, str]], dict[str, bytes]]:
    """Give what the print says of each animal, and the pictures by the names that it uses."""
    cells, pictures = [], {}
    for one in sheet.candidates:
        name = ""
        if one.photograph is not None:
            name = f"{one.photograph.pk}.jpg"
            pictures[name] = keeping.read(one.photograph.small_sha256)
        cells.append(_cell(one, name, _letters(len(sheet.candidates))))
    return cells, pictures


def _cell(one: Candidate, picture: str, letters: int) -> dict[str, str]:
    return {
        "name": str(one.animal),
        "code": one.animal.code if one.animal.name else "",
        "taxon": one.animal.taxon.common_name,
        "said": Truncator(one.said).chars(letters) or _("no mark recorded"),
        "codes": one.codes,
        "picture": picture,
        "alt": one.photograph.said if one.photograph else "",
    }


@login_required
def unmarked(request: HttpRequest) -> HttpResponse:
    """List the young without a mark or a chip, soonest due first."""
    person, today = person_of(request), timezone.localdate()
    found = allowed(young_unmarked(), person, Verb.ANIMAL_SEE)
    page = page_of(request, found.select_related("taxon", "enclosure"))
    rows = [
        {"animal": one, "due_on": due, "is_late": due < today}
        for one, due in ((one, due_on(one.known_from)) for one in page)
    ]
    return render(request, "animals/unmarked.html", {"page": page, "rows": rows})
