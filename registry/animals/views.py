"""Pages about the collection: the list, animals, groups, enclosures, taxa and restrictions."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import CharField, Count, F, IntegerField, Q, QuerySet, Sum, Value
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from registry.animals import life
from registry.animals.elsewhere import elsewhere_of
from registry.animals.forms import (
    ADD_TAXON,
    ANIMAL_DEEDS,
    ENCLOSURE_DEEDS,
    GROUP_DEEDS,
    OPEN_ENCLOSURE,
    RECEIVE_ANIMAL,
    RECEIVE_GROUP,
    RESTRICTION_DEEDS,
    CollectionFilter,
    OnADay,
)
from registry.animals.models import (
    Animal,
    Enclosure,
    Group,
    LifeStage,
    Restriction,
    Sex,
    Taxon,
    Word,
)
from registry.animals.relatives import kin_of
from registry.animals.stock import Count as Stock
from registry.animals.telling import marks_shown
from registry.animals.then import lived_then, then_of
from registry.ledger.lines import history_of
from registry.permissions import Verb, allowed, may, reach
from registry.saying import day_said
from registry.web import acts_on, deed_page, deed_view, page_of, person_of, seen_or_404

animal_deed = deed_view(Animal, ANIMAL_DEEDS)
group_deed = deed_view(Group, GROUP_DEEDS)
enclosure_deed = deed_view(Enclosure, ENCLOSURE_DEEDS)
restriction_deed = deed_view(Restriction, RESTRICTION_DEEDS)

MOST_BUTTONS = 4
"""So many deeds stand open on a page; the rest are one press away."""
_MAY_ADD = (
    (Verb.ANIMAL_RECEIVE, _("Receive an animal"), "animals:receive"),
    (Verb.ANIMAL_IMPORT, _("Bring in a list"), "animals:import"),
    (Verb.GROUP_RECEIVE, _("Receive a group"), "animals:receive_group"),
    (Verb.ENCLOSURE_OPEN, _("Open an enclosure"), "animals:open_enclosure"),
    (Verb.TAXON_ADD, _("Add a taxon"), "animals:add_taxon"),
)


def rows_of(queryset: QuerySet[Any], kind: str, asked: dict[str, Any]) -> QuerySet[Any]:
    """Give the rows of one kind in the columns that animals and groups share."""
    found = queryset.with_word(timezone.localdate())  # type: ignore[attr-defined]  # why: both kinds have it
    if taxon := asked.get("taxon"):
        found = found.filter(taxon=taxon)
    if enclosure := asked.get("enclosure"):
        found = found.filter(enclosure=enclosure)
    if intake := asked.get("intake"):
        found = found.filter(intake=intake)
    word = asked.get("word")
    found = found.filter(word=word) if word else found.filter(state="kept")
    is_group = kind == "group"
    zero = Value(0, output_field=IntegerField())
    facts: dict[str, Any] = {
        "kind_said": Value(kind, output_field=CharField()),
        "taxon_name": F("taxon__common_name"),
        "latin": F("taxon__scientific_name"),
        "home": F("enclosure__name"),
        "sex_said": Value("", output_field=CharField()) if is_group else F("sex"),
        "n_males": F("males") if is_group else zero,
        "n_females": F("females") if is_group else zero,
        "n_unknown": F("unknown") if is_group else zero,
    }
    named = found.annotate(**facts).order_by()
    columns = ("pk", "code", "name", "life_stage", "word", "enclosure", *facts)
    rows: QuerySet[Any] = named.values_list(*columns, named=True)
    return rows


def row_shown(row: Any) -> dict[str, Any]:
    """Give one row as the page shows it."""
    is_group = row.kind_said == "group"
    stock = Stock(row.n_males, row.n_females, row.n_unknown)
    return {
        "url": f"/animals/groups/{row.pk}/" if is_group else f"/animals/{row.pk}/",
        "said": row.name or row.code,
        "code": row.code,
        "taxon": row.taxon_name,
        "latin": row.latin,
        "home": row.home,
        "home_url": f"/animals/enclosures/{row.enclosure}/" if row.enclosure else "",
        "sex": str(stock) if is_group else Sex(row.sex_said).label,
        "number": stock.total if is_group else 1,
        "stage": LifeStage(row.life_stage).label,
        "word": Word(row.word).label,
        "tone": Word(row.word).tone,
    }


@login_required
def collection(request: HttpRequest) -> HttpResponse:
    """List animals and groups with where they live and what may be done with them today."""
    person = person_of(request)
    form = CollectionFilter(request.GET)
    asked = form.cleaned_data if form.is_valid() else {}
    animals = rows_of(allowed(Animal.objects.all(), person, Verb.ANIMAL_SEE), "animal", asked)
    groups = rows_of(allowed(Group.objects.all(), person, Verb.GROUP_SEE), "group", asked)
    together = animals.union(groups, all=True).order_by("taxon_name", "code", "kind_said")
    page = page_of(request, together)
    offered = [(said, name) for verb, said, name in _MAY_ADD if may(person, verb)]
    return render(
        request,
        "animals/list.html",
        {
            "page": page,
            "rows": [row_shown(row) for row in page],
            "form": form,
            "asked": asked,
            "offered": offered,
        },
    )


def _subject_page(
    request: HttpRequest, shown: Animal | Group, template: str, more: dict[str, Any]
) -> HttpResponse:
    """Show an animal or a group: its life, its restrictions, what it has borne and taught."""
    person, today = person_of(request), timezone.localdate()
    events = life.events_of(shown)
    homes = life.residences(shown, events)
    restrictions = list(life.restrictions_of(shown, homes))
    strip = life.life_of(shown, person, events=events, homes=homes, restrictions=restrictions)
    uses = life.uses_by_project(shown, person)
    acts = acts_on(shown, person)
    form = OnADay(request.GET, auto_id="%s", label_suffix="")
    word = Word(shown.word)  # type: ignore[union-attr]  # why: with_word annotates it
    return render(
        request,
        template,
        {
            "subject": shown,
            "word": word.label,
            "tone": word.tone,
            "strip": strip,
            "events": events,
            "standing": [r for r in restrictions if _stands(r, shown, today)],
            "restrictions": restrictions,
            "load": life.load_of(shown),
            "uses": uses,
            "sees_all_uses": reach(shown.uses.model, person, Verb.USE_SEE) is True,
            "questions": shown.taxon.questions.order_by("-posted_at")[:12],
            "studies": shown.taxon.studies.order_by("title")[:12],
            "acts": acts[:MOST_BUTTONS],
            "more_acts": acts[MOST_BUTTONS:],
            "history": history_of(shown, person),
            "elsewhere": elsewhere_of(shown, person),
            "form": form,
            "then": then_of(shown, *form.asked) if form.asked else None,
            **more,
        },
    )


def _stands(restriction: Restriction, subject: Animal | Group, today: Any) -> bool:
    """Say whether a restriction bars this subject today."""
    begun, ended = restriction.began_on, restriction.ended_on
    is_now = begun <= today and (ended is None or ended > today)
    return is_now and restriction.reaches(subject)


@login_required
def animal(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one animal."""
    rows = Animal.objects.with_word(timezone.localdate())
    shown = seen_or_404(rows.select_related("taxon", "enclosure", "owner"), person_of(request), pk)
    facts = [
        (_("Lives in"), shown.enclosure, shown.enclosure.get_absolute_url())
        if shown.enclosure
        else (_("Left"), shown.left_on or _("no: it is away")),
        (_("Sex"), shown.get_sex_display()),
        (_("Life stage"), shown.get_life_stage_display()),
        (_("Born"), shown.born_on),
        (_("Arrived"), shown.arrived_on),
        (_("Origin"), shown.origin),
        (_("Owner"), shown.owner or _("this collection")),
        (_("Code"), shown.code),
    ]
    marks = marks_shown(shown.marks.borne().select_related("recorded_by"))
    more = {"facts": _dated(facts), "marks": marks, "kin": kin_of(shown)}
    return _subject_page(request, shown, "animals/animal.html", more)


@login_required
def group(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one counted group."""
    rows = Group.objects.with_word(timezone.localdate())
    shown = seen_or_404(rows.select_related("taxon", "enclosure", "owner"), person_of(request), pk)
    stock = Stock(shown.males, shown.females, shown.unknown)
    facts = [
        (_("Live in"), shown.enclosure, shown.enclosure.get_absolute_url())
        if shown.enclosure
        else (_("Left"), shown.left_on or _("no: it is away")),
        (_("Males"), shown.males),
        (_("Females"), shown.females),
        (_("Unknown sex"), shown.unknown),
        (_("Life stage"), shown.get_life_stage_display()),
        (_("Arrived"), shown.arrived_on),
        (_("Owner"), shown.owner or _("this collection")),
        (_("Code"), shown.code),
    ]
    more = {"facts": _dated(facts), "stock": stock, "counts": _counts(shown)}
    return _subject_page(request, shown, "animals/group.html", more)


def _counts(shown: Group) -> list[dict[str, Any]]:
    """Give the number after each standing event that changed it, newest first."""
    held, rows = [0, 0, 0], []
    for event in life.events_of(shown):
        change = life.change_said(event)
        if not change or not life.is_standing(event):
            continue
        changed = (event.males, event.females, event.unknown)
        held = [a + b for a, b in zip(held, changed, strict=True)]
        rows.append({"event": event, "change": change, "after": Stock(*held)})
    return rows[::-1]


def _dated(facts: list[Any]) -> list[tuple[Any, ...]]:
    """Write the days among the facts as days."""
    said = []
    for term, fact, *url in facts:
        is_day = hasattr(fact, "isoformat")
        said.append((term, day_said(fact) if is_day else fact, *url))
    return said


@login_required
def enclosure_list(request: HttpRequest) -> HttpResponse:
    """List the enclosures with how many live in each."""
    person = person_of(request)
    in_force = Restriction.objects.in_force_on(timezone.localdate())
    found = allowed(Enclosure.objects.all(), person, Verb.ENCLOSURE_SEE).annotate(
        n_animals=Count("animals", distinct=True),
        n_groups=Count("groups", distinct=True),
        n_restrictions=Count("restrictions", filter=Q(restrictions__in=in_force), distinct=True),
    )
    return render(
        request,
        "animals/enclosures.html",
        {"page": page_of(request, found), "may_open": may(person, Verb.ENCLOSURE_OPEN)},
    )


@login_required
def enclosure(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one enclosure: who lives in it, and what bars it."""
    person, today = person_of(request), timezone.localdate()
    shown = seen_or_404(Enclosure.objects.all(), person, pk)
    animals = allowed(Animal.objects.all(), person, Verb.ANIMAL_SEE)
    groups = allowed(Group.objects.all(), person, Verb.GROUP_SEE)
    asked = {"enclosure": shown}
    together = (
        rows_of(animals, "animal", asked)
        .union(rows_of(groups, "group", asked), all=True)
        .order_by("taxon_name", "code", "kind_said")
    )
    page = page_of(request, together)
    here = {"enclosure": shown, "state": "kept"}
    counted = groups.filter(**here).aggregate(number=Sum(F("males") + F("females") + F("unknown")))
    restrictions = shown.restrictions.select_related("begun_by", "ended_by")
    form = OnADay(request.GET, auto_id="%s", label_suffix="")
    asked_for = form.asked
    return render(
        request,
        "animals/enclosure.html",
        {
            "subject": shown,
            "page": page,
            "rows": [row_shown(row) for row in page],
            "number": animals.filter(**here).count() + (counted["number"] or 0),
            "restrictions": restrictions,
            "routines": shown.routines.filter(ended_on=None),
            "is_barred": restrictions.in_force_on(today).exists(),
            "keepers": list(shown.keepers.all()),
            "may_keep_off": may(person, Verb.ANIMAL_RESTRICT),
            "form": form,
            "asked": asked_for,
            "then": lived_then(shown, *asked_for, person) if asked_for else [],
            "acts": acts_on(shown, person),
        },
    )


@login_required
def taxon_list(request: HttpRequest) -> HttpResponse:
    """List the taxa with how many animals and groups of each live here."""
    person = person_of(request)
    found = allowed(Taxon.objects.all(), person, Verb.TAXON_SEE).annotate(
        n_animals=Count("animals", filter=Q(animals__state="kept"), distinct=True),
        n_groups=Count("groups", filter=Q(groups__state="kept"), distinct=True),
    )
    return render(
        request,
        "animals/taxa.html",
        {"page": page_of(request, found), "may_add": may(person, Verb.TAXON_ADD)},
    )


@login_required
def restriction_list(request: HttpRequest) -> HttpResponse:
    """List the restrictions: those that stand, or all."""
    person, today = person_of(request), timezone.localdate()
    found = allowed(Restriction.objects.all(), person, Verb.RESTRICTION_SEE)
    is_all = request.GET.get("which") == "all"
    if not is_all:
        found = found.filter(state="begun")
    page = page_of(request, found.select_related("animal", "group", "enclosure", "begun_by"))
    rows = [(row, row.is_overdue_on(today)) for row in page]
    return render(
        request, "animals/restrictions.html", {"page": page, "rows": rows, "is_all": is_all}
    )


@login_required
def restriction(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one restriction: on what, why, what it bars, and who may end it."""
    person = person_of(request)
    rows = Restriction.objects.select_related(
        "animal", "group", "enclosure", "begun_by", "ended_by"
    )
    shown = seen_or_404(rows, person, pk)
    facts = [
        (_("On"), shown.subject, shown.subject.get_absolute_url()),
        (_("Bars"), shown.get_strength_display()),
        (_("From"), shown.began_on),
        (_("Expected end"), shown.expected_end_on),
        (_("Begun by"), shown.begun_by.name),
        (_("Free since"), shown.ended_on),
        (_("Ended by"), shown.ended_by.name if shown.ended_by else ""),
    ]
    return render(
        request,
        "animals/restriction.html",
        {
            "subject": shown,
            "facts": _dated(facts),
            "is_overdue": shown.is_overdue_on(timezone.localdate()),
            "acts": acts_on(shown, person),
        },
    )


@login_required
def receive(request: HttpRequest) -> HttpResponse:
    """Receive an animal."""
    return deed_page(request, RECEIVE_ANIMAL, None)


@login_required
def receive_group(request: HttpRequest) -> HttpResponse:
    """Receive a counted group."""
    return deed_page(request, RECEIVE_GROUP, None)


@login_required
def open_enclosure(request: HttpRequest) -> HttpResponse:
    """Open an enclosure."""
    return deed_page(request, OPEN_ENCLOSURE, None)


@login_required
def add_taxon(request: HttpRequest) -> HttpResponse:
    """Add a taxon."""
    return deed_page(request, ADD_TAXON, None)
