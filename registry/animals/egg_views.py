"""Pages about egg cases: the list with its hatch success, and one case with its embryos."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _

from registry.animals.forms import CASE_DEEDS, RECORD_CASE
from registry.animals.hatching import wilson
from registry.animals.models import EggCase, Embryo
from registry.animals.views import MOST_BUTTONS
from registry.ledger.lines import history_of
from registry.permissions import Verb, allowed, may
from registry.saying import day_said
from registry.web import acts_on, deed_page, deed_view, page_of, person_of, seen_or_404

case_deed = deed_view(EggCase, CASE_DEEDS)
_OUTCOME = Embryo.Outcome
_ENDED = (_OUTCOME.HATCHED, _OUTCOME.DIED, _OUTCOME.INFERTILE)


def success_of(embryos: QuerySet[Embryo]) -> list[dict[str, Any]]:
    """Give hatch success on laid and on fertile embryos, among those whose end is known."""
    found = embryos.filter(outcome__in=_ENDED).aggregate(
        laid=Count("pk"),
        fertile=Count("pk", filter=Q(is_fertile=True)),
        hatched=Count("pk", filter=Q(outcome=_OUTCOME.HATCHED)),
    )
    return [
        {"of": said, "hatched": found["hatched"], "number": number, "share": _share(found, name)}
        for said, name in ((_("of those laid"), "laid"), (_("of those fertile"), "fertile"))
        if (number := found[name])
    ]


def _share(found: dict[str, int], name: str) -> dict[str, int]:
    share = wilson(found["hatched"], found[name])
    return {
        "value": round(100 * share.value),
        "low": round(100 * share.low),
        "high": round(100 * share.high),
    }


@login_required
def case_list(request: HttpRequest) -> HttpResponse:
    """List the egg cases: those that are held, or all, newest first."""
    person = person_of(request)
    seen = allowed(EggCase.objects.all(), person, Verb.CASE_SEE)
    is_all = request.GET.get("which") == "all"
    shown = (seen if is_all else seen.filter(state="held")).select_related("taxon", "enclosure")
    page = page_of(
        request,
        shown.annotate(
            n_embryos=Count("embryos", filter=~Q(embryos__outcome=_OUTCOME.MISTAKEN)),
            n_developing=Count("embryos", filter=Q(embryos__outcome=_OUTCOME.DEVELOPING)),
            n_hatched=Count("embryos", filter=Q(embryos__outcome=_OUTCOME.HATCHED)),
        ),
    )
    return render(
        request,
        "animals/cases.html",
        {
            "page": page,
            "is_all": is_all,
            "success": success_of(Embryo.objects.filter(case__in=seen)),
            "may_record": may(person, Verb.CASE_RECORD),
        },
    )


@login_required
def case(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one egg case: its embryos, their parents, and what happened to it."""
    person = person_of(request)
    rows = EggCase.objects.select_related("taxon", "enclosure", "clutch")
    shown = seen_or_404(rows, person, pk)
    embryos = list(shown.embryos.select_related("animal").prefetch_related("parentage__parent"))
    dam = shown.parentage.standing().filter(role="dam").select_related("parent").first()
    events = shown.events.select_related("recorded_by", "embryo__case", "enclosure")
    laid = day_said(shown.laid_on)
    precision = "" if shown.laid_precision == "day" else f", {shown.get_laid_precision_display()}"
    acts = acts_on(shown, person)
    custodies = allowed(shown.custodies.all(), person, Verb.CUSTODY_SEE)
    facts: list[tuple[Any, ...]] = [
        (_("Laid"), f"{laid}{precision}"),
        (_("Lies in"), shown.enclosure, shown.enclosure.get_absolute_url())
        if shown.enclosure
        else (_("Closed"), day_said(shown.ended_on) if shown.ended_on else ""),
        (
            _("Dam"),
            dam.parent or _("uncertain"),
            dam.parent.get_absolute_url() if dam.parent else "",
        )
        if dam
        else (_("Dam"), _("not recorded")),
        (_("Clutch"), shown.clutch, shown.clutch.get_absolute_url())
        if shown.clutch
        else (_("Clutch"), ""),
        (_("Code"), shown.code),
    ]
    return render(
        request,
        "animals/case.html",
        {
            "subject": shown,
            "facts": facts,
            "embryos": embryos,
            "number": sum(one.outcome != _OUTCOME.MISTAKEN for one in embryos),
            "custodies": list(custodies.select_related("holder", "answerable")),
            "events": events.order_by("-happened_on", "-pk"),
            "acts": acts[:MOST_BUTTONS],
            "more_acts": acts[MOST_BUTTONS:],
            "history": history_of(shown, person),
        },
    )


@login_required
def record_case(request: HttpRequest) -> HttpResponse:
    """Record an egg case."""
    return deed_page(request, RECORD_CASE, None)
