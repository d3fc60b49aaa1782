"""Pages about animals that are away or gone: custodies, dossiers, and news of them."""

from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.afar.forms import ANIMAL_DEEDS, CASE_DEEDS, CUSTODY_DEEDS, GROUP_DEEDS, NEWS_DEEDS
from registry.afar.models import Custody, Dossier, News
from registry.afar.sheets import sections
from registry.animals.models import Animal, EggCase, Group, Photograph
from registry.animals.pictures import keeping
from registry.ledger.lines import history_of
from registry.permissions import Verb, allowed
from registry.printing.answers import pdf_answer
from registry.saying import day_said
from registry.web import acts_on, deed_view, page_of, person_of, seen_or_404

animal_deed = deed_view(Animal, ANIMAL_DEEDS)
group_deed = deed_view(Group, GROUP_DEEDS)
case_deed = deed_view(EggCase, CASE_DEEDS)
custody_deed = deed_view(Custody, CUSTODY_DEEDS)
news_deed = deed_view(News, NEWS_DEEDS)

_ABOUT = ("animal__taxon", "group__taxon")
_PRINTED = Path(__file__).with_name("dossier.typ")


@login_required
def away(request: HttpRequest) -> HttpResponse:
    """List what is in a partner's custody now, or was ever."""
    found = allowed(Custody.objects.all(), person_of(request), Verb.CUSTODY_SEE)
    is_all = request.GET.get("which") == "all"
    if not is_all:
        found = found.filter(state="given").order_by("expected_end_on", "pk")
    page = page_of(request, found.select_related(*_ABOUT, "case", "holder", "answerable"))
    today = timezone.localdate()
    rows = [(row, row.is_overdue_on(today)) for row in page]
    return render(request, "afar/away.html", {"page": page, "rows": rows, "is_all": is_all})


@login_required
def gone(request: HttpRequest) -> HttpResponse:
    """List the news of those that have left, newest first."""
    found = allowed(News.objects.filter(state="told"), person_of(request), Verb.NEWS_SEE)
    newest = found.order_by("-happened_on", "-pk")
    page = page_of(request, newest.select_related(*_ABOUT, "recorded_by"))
    return render(request, "afar/gone.html", {"page": page})


@login_required
def custody(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one custody: who keeps what for whom, until when, and how it ended."""
    person = person_of(request)
    rows = Custody.objects.select_related(
        *_ABOUT, "case", "holder", "answerable", "project__study", "given_by", "ended_by"
    )
    shown = seen_or_404(rows, person, pk)
    facts = [
        (_("Of"), shown.subject, shown.subject.get_absolute_url()),
        (_("Embryos") if shown.case_id else _("Animals"), shown.number),
        (_("Kept by"), shown.holder),
        (_("Where there"), shown.place),
        (_("Answers for it"), shown.answerable.name),
        (_("For"), shown.project, shown.project.get_absolute_url())
        if shown.project
        else (_("For"), _("no project")),
        (_("Since"), day_said(shown.began_on)),
        (_("Expected back"), day_said(shown.expected_end_on)),
        (_("Given by"), shown.given_by.name),
        (_("Ended"), day_said(shown.ended_on) if shown.ended_on else ""),
        (_("Outcome"), shown.get_outcome_display()),
        (_("Ended by"), shown.ended_by.name if shown.ended_by else ""),
    ]
    return render(
        request,
        "afar/custody.html",
        {
            "subject": shown,
            "facts": facts,
            "is_overdue": shown.is_overdue_on(timezone.localdate()),
            "history": history_of(shown, person),
            "acts": acts_on(shown, person),
        },
    )


@login_required
def news(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one piece of news, with what it follows and what follows it."""
    person = person_of(request)
    rows = News.objects.select_related(*_ABOUT, "recorded_by", "follows")
    shown = seen_or_404(rows, person, pk)
    facts = [
        (_("Of"), shown.subject, shown.subject.get_absolute_url()),
        (_("When"), shown.when_said),
        (_("Where"), shown.where),
        (_("How many"), shown.number),
        (_("Told by"), shown.told_by),
        (_("Recorded by"), shown.recorded_by.name),
        (_("Recorded"), day_said(shown.recorded_at)),
    ]
    return render(
        request,
        "afar/news.html",
        {
            "subject": shown,
            "facts": facts,
            "later": shown.followed_by.all(),
            "history": history_of(shown, person),
            "acts": acts_on(shown, person),
        },
    )


def _dossier(request: HttpRequest, pk: int) -> Dossier:
    return seen_or_404(Dossier.objects.select_related(*_ABOUT), person_of(request), pk)


@login_required
def dossier(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a dossier as it was written."""
    shown = _dossier(request, pk)
    newest = shown.subject.dossiers.first()
    content = shown.content
    more = {"newest": newest, "is_newest": newest == shown, "content": content}
    parts = {"subject": shown, "sections": sections(content)}
    return render(request, "afar/dossier.html", {**parts, **more})


@login_required
def dossier_json(request: HttpRequest, pk: int) -> HttpResponse:
    """Send a dossier as the very text of which the ledger keeps the digest."""
    shown = _dossier(request, pk)
    heads = {"Content-Disposition": f'attachment; filename="dossier-{shown.pk}.json"'}
    return HttpResponse(shown.text, content_type="application/json", headers=heads)


@login_required
def dossier_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """Print a dossier."""
    shown = _dossier(request, pk)
    facts: dict[str, Any] = {
        "title": _("Dossier of %(subject)s") % {"subject": shown.subject},
        "over": _("Number %(number)s, for %(receiver)s")
        % {"number": shown.pk, "receiver": shown.receiver},
        "digest": shown.sha256,
        "sections": sections(shown.content),
    }
    shown_in_it = _photographs(shown.content)
    facts["pictures"] = [
        {"name": f"{one['sha256']}.jpg", "said": one["said"], "taken_on": one["taken_on"]}
        for one in shown_in_it
    ]
    pictures = {f"{one['sha256']}.jpg": keeping.read(one["sha256"]) for one in shown_in_it}
    return pdf_answer(_PRINTED, facts, name=f"dossier-{shown.pk}", pictures=pictures)


MOST_PRINTED = 12
"""Photographs in one print: the newest of each mark."""


def _photographs(content: dict[str, Any]) -> list[dict[str, str]]:
    """Give the newest photograph of each mark that was borne when the dossier was written.

    One that was withdrawn since is left out: it may show another animal, or a person.
    """
    newest = [one["photographs"][0] for one in content["marks"] if one["photographs"]]
    digests = [one["sha256"] for one in newest]
    shown = Photograph.objects.filter(sha256__in=digests, state="kept")
    kept = set(shown.values_list("sha256", flat=True))
    return [one for one in newest if one["sha256"] in kept][:MOST_PRINTED]
