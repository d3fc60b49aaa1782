"""Pages of fields: who has ever measured what, and every dataset that holds it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from archive import shown
from archive.dictionaries import fields_by_id
from archive.models import Dictionary, Version
from registry.animals.models import Taxon
from registry.errors import Unseen
from registry.permissions import Verb, allowed
from registry.search import index
from registry.search.models import FIELD, SearchDocument
from registry.web import number_of, person_of

KINDS = (f"{Dictionary._meta.label_lower}{FIELD}",)
MOST = 60
_ANCHOR = "field-"


@dataclass(frozen=True)
class Held:
    """A field of a dictionary, with what its table's row shows."""

    dictionary: Dictionary
    table: str
    field: shown.Field

    @property
    def url(self) -> str:
        """The address of the field's page."""
        return f"/archive/fields/{self.field.id}/"


@login_required
def fields(request: HttpRequest) -> HttpResponse:
    """Find fields by their words, unit, codes, animal and procedure."""
    person = person_of(request)
    asked = request.GET.get("q", "").strip()
    taxon = number_of(request.GET.get("taxon"))
    found: list[SearchDocument] = []
    if asked:
        found = index.find(asked, person, MOST, kinds=KINDS)
        # A question in whole sentences has words that no dictionary has.
        found = found or index.near(asked, person, MOST, kinds=KINDS, taxon=taxon)
    elif taxon is not None:
        found = index.about(taxon, person, MOST, kinds=KINDS)
    if taxon is not None:
        found = [one for one in found if one.taxon == taxon]
    context = {
        "asked": asked,
        "taxon": taxon,
        "taxa": Taxon.objects.filter(studies__dictionaries__isnull=False).distinct(),
        "found": list(_held(found)),
        "is_asked": bool(asked or taxon),
    }
    return render(request, "archive/fields.html", context)


def _held(documents: Sequence[SearchDocument]) -> Iterator[Held]:
    """Give the fields that documents of the index tell of, in their order; one query."""
    rows = Dictionary.objects.select_related("study__taxon")
    dictionaries = rows.in_bulk([one.object_id for one in documents])
    for one in documents:
        dictionary = dictionaries.get(one.object_id)
        held = _field(dictionary, one.part.removeprefix(_ANCHOR)) if dictionary else None
        if held is not None:
            yield held


def _field(dictionary: Dictionary, mark: str) -> Held | None:
    known = fields_by_id(dictionary.descriptor)
    if mark not in known:
        return None
    table, field = known[mark]
    told = shown.tables({"resources": [{"name": table, "schema": {"fields": [field]}}]})
    return Held(dictionary, table, told[0].fields[0])


@login_required
def field(request: HttpRequest, mark: str) -> HttpResponse:
    """Show one field: what it has meant, in which datasets it is, and what is like it elsewhere."""
    person = person_of(request)
    kind = Dictionary._meta.label_lower
    document = SearchDocument.objects.filter(
        index.visible_to(person), kind=kind, part=f"{_ANCHOR}{mark}"
    ).first()
    newest = next(_held([document]), None) if document is not None else None
    if newest is None:
        raise Unseen(
            "There is no such field.", "No dictionary has that id.", "Look for it by its name."
        )
    study = newest.dictionary.study
    rows = study.dictionaries.order_by("number")
    meant = [one for one in (_field(row, mark) for row in rows) if one is not None]
    like = index.find(newest.field.title, person, 12, kinds=KINDS)
    context = {
        "held": newest,
        "study": study,
        "meant": meant,
        "versions": _versions(study, mark, person),
        "like": [one for one in _held(like) if one.field.id != mark],
    }
    return render(request, "archive/field.html", context)


def _versions(study: Any, mark: str, person: Any) -> list[Version]:
    """Give the versions that hold a field and that one may know of, the newest first."""
    rows = allowed(Version.objects.all(), person, Verb.VERSION_SEE)
    rows = rows.filter(dataset__project__study=study, is_published=True)
    held = rows.select_related("dataset__project").order_by("-accepted_at", "-pk")
    return [one for one in held if mark in fields_by_id(one.descriptor)]
