"""Write to the index, and find in it; what one may not see is not found."""

from collections.abc import Iterable
from typing import Any

from django.apps import apps
from django.db import connection, models
from django.db.models import Q

from registry.permissions import SEE, Actor, kind_of, reach
from registry.search.folding import fold, stems
from registry.search.models import SearchDocument

_EVERYDAY = frozenset(
    {
        *("about", "after", "also", "among", "another", "because", "been", "before", "between"),
        *("both", "could", "does", "during", "each", "from", "have", "here", "into", "less"),
        *("like", "many", "more", "most", "much", "other", "over", "same", "should", "some"),
        *("such", "than", "that", "their", "them", "then", "there", "these", "they", "thi"),
        *("those", "through", "under", "until", "very", "were", "what", "when", "where"),
        *("whether", "which", "while", "will", "with", "without", "would", "your"),
    }
)
"""Stems in nearly every question, which say nothing of what it is about."""

_SHORTEST_TELLING = 4


def searchable() -> list[type[models.Model]]:
    """Give the models that can be looked for: `searched` names where their words are."""
    return [model for model in apps.get_models() if getattr(model, "searched", None) is not None]


def write(obj: models.Model) -> None:
    """Write an object's words into the index, in place of those of before.

    A deed that makes or re-words an object calls this just before it records. Its title is the
    object's own; its text comes from the paths in the model's `searched`.
    """
    said = [str(_at(obj, path) or "") for path in obj.searched]  # type: ignore[attr-defined]  # why: only models that name it come here
    text = "\n".join(part for part in said if part)
    title = str(obj)
    name = f"{obj._meta.verbose_name} {obj.pk}"
    words: dict[str, str] = {
        "title": title[:400],
        "text": text,
        "url": obj.get_absolute_url(),  # type: ignore[attr-defined]  # why: what is found has a page
        "folded_title": fold(title),
        "folded_text": fold(f"{name} {text}"),
    }
    document, _ = SearchDocument.objects.update_or_create(
        kind=obj._meta.label_lower, object_id=obj.pk, defaults=words
    )
    if connection.vendor == "sqlite":
        _write_fts(document)


def _at(obj: Any, path: str) -> Any:
    for name in path.split("__"):
        obj = getattr(obj, name, None)
    return obj


def _write_fts(document: SearchDocument) -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM search_words WHERE rowid = %s", [document.pk])
        cursor.execute(
            "INSERT INTO search_words (rowid, title, body) VALUES (%s, %s, %s)",
            [document.pk, document.folded_title, document.folded_text],
        )


def rebuild() -> int:
    """Write the whole index anew from the tables, and give how many objects it holds."""
    SearchDocument.objects.all().delete()
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("DELETE FROM search_words")
    number = 0
    for model in searchable():
        for obj in model._default_manager.order_by("pk").iterator(chunk_size=500):
            if getattr(obj, "is_system", False):
                continue
            write(obj)
            number += 1
    return number


def visible_to(person: Actor) -> Q:
    """Give the condition under which a person may see what a document is about."""
    seen = Q(pk__in=[])
    for model in searchable():
        reached = reach(model, person, SEE[kind_of(model)])
        if reached is False:
            continue
        here = Q(kind=model._meta.label_lower)
        if reached is not True:
            rows = model._default_manager.filter(reached).order_by().values("pk")
            here &= Q(object_id__in=rows)
        seen |= here
    return seen


def find(
    words: str, person: Actor, limit: int = 50, *, kinds: Iterable[str] = ()
) -> list[SearchDocument]:
    """Find what holds all these words or words that begin so, the closest first; one query."""
    looked_for = stems(words)
    return _found(looked_for, "all", person, limit, kinds) if looked_for else []


def near(
    words: str,
    person: Actor,
    limit: int = 5,
    *,
    kinds: Iterable[str] = (),
    but: models.Model | None = None,
) -> list[SearchDocument]:
    """Find what is about the same: at least half of the telling words, two where there are two."""
    telling = [
        stem for stem in stems(words) if len(stem) >= _SHORTEST_TELLING and stem not in _EVERYDAY
    ]
    if not telling:
        return []
    enough = max(min(2, len(telling)), (len(telling) + 1) // 2)
    close = []
    for document in _found(telling, "any", person, limit * 10, kinds):
        if but is not None and (document.kind, document.object_id) == (
            but._meta.label_lower,
            but.pk,
        ):
            continue
        held = f" {document.folded_title} {document.folded_text}"
        if sum(f" {stem}" in held for stem in telling) >= enough:
            close.append(document)
    return close[:limit]


def _found(
    looked_for: list[str], how: str, person: Actor, limit: int, kinds: Iterable[str]
) -> list[SearchDocument]:
    documents = SearchDocument.objects.filter(visible_to(person))
    if wanted := list(kinds):
        documents = documents.filter(kind__in=wanted)
    if connection.vendor == "sqlite":
        # A word in quotes is a word and no operator; folding left no quote within it.
        asked = (" AND " if how == "all" else " OR ").join(
            f'"{stem}"*' if len(stem) > 1 else f'"{stem}"' for stem in looked_for
        )
        documents = documents.extra(
            select={"rank": "bm25(search_words, 5.0, 1.0)"},
            tables=["search_words"],
            where=["search_words.rowid = search_searchdocument.id", "search_words MATCH %s"],
            params=[asked],
        )
    else:
        asked = (" & " if how == "all" else " | ").join(
            f"{stem}:*" if len(stem) > 1 else stem for stem in looked_for
        )
        documents = documents.extra(
            select={"rank": "-ts_rank(vector, to_tsquery('simple', %s))"},
            select_params=[asked],
            where=["vector @@ to_tsquery('simple', %s)"],
            params=[asked],
        )
    # The stubs do not know a column that extra() adds.
    ranked: Any = documents
    return list(ranked.order_by("rank", "-object_id")[:limit])
