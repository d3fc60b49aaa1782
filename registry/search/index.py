"""Write to the index, and find in it; what one may not see is not found."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import batched, islice, product
from typing import Any

from django.apps import apps
from django.db import connection, models
from django.db.models import Case, F, IntegerField, Q, TextField, Value, When
from django.db.models.functions import Concat, StrIndex
from django.db.models.lookups import GreaterThan

from registry.permissions import SEE, Actor, kind_of, reach
from registry.search.asking import Asked, Term, key_of, read
from registry.search.folding import fold, stems
from registry.search.models import FIELD, SearchDocument, SearchWord, many_of

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

_AT_ONCE = 500
_COMMON = 5_000
"""From how many documents on a word is common; then only whether the title has it is asked."""
_SHORTEST_TELLING = 4
_SHORTEST_MEANT = 4
_LONGEST_MEANT = 20
_MOST_MEANT = 6
_MOST_TRIES = 8
_LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789"


def searchable() -> list[type[models.Model]]:
    """Give the models that can be looked for: `searched` names where their words are."""
    return [model for model in apps.get_models() if getattr(model, "searched", None) is not None]


# ----------------------------------------------------------------------------------------- writing


def write(obj: models.Model) -> None:
    """Write an object's words into the index, in place of those of before.

    A deed that makes or re-words an object calls this just before it records. Its title is the
    object's own; its text comes from the paths in the model's `searched`, its identifiers from
    those in `search_keys`, the taxon that it is about from the path `search_taxon`. Its parts, if
    it has any, come from `search_parts()`.
    """
    of = {"kind": obj._meta.label_lower, "object_id": obj.pk, "part": ""}
    document, _ = SearchDocument.objects.update_or_create(**of, defaults=_words(obj))
    written = [document, *_write_parts(obj, document)]
    if connection.vendor == "sqlite":
        _write_fts(written)
    _keep_words(written)


def write_new(objs: Sequence[models.Model]) -> None:
    """Write the words of many objects that were just made, and have no parts, into the index."""
    documents = SearchDocument.objects.bulk_create(
        [
            SearchDocument(kind=obj._meta.label_lower, object_id=obj.pk, part="", **_words(obj))
            for obj in objs
        ],
        batch_size=_AT_ONCE,
    )
    if connection.vendor == "sqlite":
        _write_fts(documents)
    for some in batched(documents, _AT_ONCE):
        _keep_words(some)


def rewrite(objs: Sequence[models.Model]) -> None:
    """Write the words of many objects of one kind, without parts, in place of those before."""
    kind = objs[0]._meta.label_lower
    for some in batched([obj.pk for obj in objs], _AT_ONCE):
        _drop(SearchDocument.objects.filter(kind=kind, object_id__in=some))
    write_new(objs)


def _words(obj: models.Model) -> dict[str, Any]:
    said = [str(_at(obj, path) or "") for path in obj.searched]  # type: ignore[attr-defined]  # why: only models that name it come here
    text = "\n".join(part for part in said if part)
    title, name = str(obj), f"{obj._meta.verbose_name} {obj.pk}"
    identifiers = "\n".join(str(_at(obj, path) or "") for path in getattr(obj, "search_keys", ()))
    keys = [key_of(one) for one in identifiers.split("\n")]
    keys = [key for key in keys if key]
    about = getattr(obj, "search_taxon", "")
    return {
        "title": title[:400],
        "text": text,
        "url": obj.get_absolute_url(),  # type: ignore[attr-defined]  # why: what is found has a page
        "folded_title": fold(title),
        "folded_text": fold(f"{name} {text} {' '.join(keys)}"),
        "keys": f" {' '.join([key_of(name), *keys])} ",
        "taxon": _at(obj, about) if about else None,
    }


def _at(obj: Any, path: str) -> Any:
    for name in path.split("__"):
        obj = getattr(obj, name, None)
    return obj


def _write_parts(obj: Any, document: SearchDocument) -> list[SearchDocument]:
    if not hasattr(obj, "search_parts"):
        return []
    parts = obj.search_parts()
    anchors = [part.anchor for part in parts]
    of_kind = SearchDocument.objects.filter(kind=document.kind).exclude(part="")
    elders = Q(object_id__in=list(obj.search_elders()), part__in=anchors)
    _drop(of_kind.filter(Q(object_id=obj.pk) | elders))
    return SearchDocument.objects.bulk_create(
        SearchDocument(
            kind=document.kind,
            object_id=obj.pk,
            part=part.anchor,
            title=part.title[:400],
            text=part.text,
            url=f"{document.url}#{part.anchor}",
            folded_title=fold(part.title),
            folded_text=fold(part.text),
            taxon=document.taxon,
        )
        for part in parts
    )


def _drop(documents: models.QuerySet[SearchDocument]) -> None:
    ids = list(documents.values_list("pk", flat=True))
    if connection.vendor == "sqlite" and ids:
        with connection.cursor() as cursor:
            cursor.executemany("DELETE FROM search_words WHERE rowid = %s", [[pk] for pk in ids])
    SearchDocument.objects.filter(pk__in=ids).delete()


def _write_fts(documents: Sequence[SearchDocument]) -> None:
    with connection.cursor() as cursor:
        cursor.executemany(
            "DELETE FROM search_words WHERE rowid = %s", [[one.pk] for one in documents]
        )
        cursor.executemany(
            "INSERT INTO search_words (rowid, title, body) VALUES (%s, %s, %s)",
            [[one.pk, one.folded_title, one.folded_text] for one in documents],
        )


def _keep_words(documents: Iterable[SearchDocument]) -> None:
    held = {
        word
        for one in documents
        for word in f"{one.folded_title} {one.folded_text[:20_000]}".split()
        if _SHORTEST_MEANT <= len(word) <= _LONGEST_MEANT and not word.isdigit()
    }
    known = SearchWord.objects.filter(pk__in=held).values_list("pk", flat=True)
    # In one order: two deeds that bring the same new words do not wait for each other in a circle.
    missing = sorted(held.difference(known))
    SearchWord.objects.bulk_create(map(SearchWord, missing), ignore_conflicts=True)


def rebuild() -> int:
    """Write the whole index anew from the tables, and give how many objects it holds."""
    SearchDocument.objects.all().delete()
    SearchWord.objects.all().delete()
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


# ----------------------------------------------------------------------------------------- finding


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


def _of_sorts(sorts: Iterable[str]) -> Q:
    wanted = Q()
    for sort in sorts:
        is_part = sort.endswith(FIELD)
        here = Q(kind=sort.removesuffix(FIELD))
        wanted |= here & ~Q(part="") if is_part else here & Q(part="")
    return wanted


def find(
    words: str, person: Actor, limit: int = 50, *, kinds: Iterable[str] = ()
) -> list[SearchDocument]:
    """Find what holds all these words, the closest first; two queries."""
    asked = read(words)
    if not asked:
        return []
    # The stubs do not know a column that extra() adds.
    ranked: Any = _matching(asked, person, kinds)
    return list(ranked.order_by("is_other", "rank", "-object_id")[:limit])


@dataclass(frozen=True)
class Found:
    """What was found of one sort: how many one may see, and the closest of them."""

    sort: str
    number: int
    documents: Sequence[SearchDocument]

    @property
    def many(self) -> str:
        """What many of the sort are, in a word."""
        return many_of(self.sort)


def find_sorted(words: str, person: Actor, first: int, *, kinds: Iterable[str] = ()) -> list[Found]:
    """Find what holds all these words, in its sorts, the sort of the closest first; three queries.

    Of each sort come the `first` closest, with the number of all.
    """
    asked, sorts = read(words), list(_sorts_of(kinds))
    if not asked or not sorts:
        return []
    # The stubs do not know what extra() adds.
    rows: Any = _matching(asked, person, kinds).annotate(
        as_sort=Case(When(part="", then=F("kind")), default=Concat("kind", Value(FIELD)))
    )
    inner, params = (
        rows.order_by().values("id", "as_sort", "is_other", "rank").query.sql_with_params()
    )
    # Materialised, for the rank is worked out once. Each sort's closest are picked by themselves:
    # numbering every row of a word that is everywhere costs more than all the rest.
    closest = " UNION ALL ".join([_CLOSEST] * len(sorts))
    statement = (
        f"WITH found AS MATERIALIZED ({inner}), closest AS ({closest}), counted AS"  # noqa: S608  # why: the inner statement is Django's own, with its parameters apart
        " (SELECT as_sort AS sort, COUNT(*) AS many FROM found GROUP BY as_sort)"
        " SELECT id, as_sort, many FROM closest JOIN counted ON sort = as_sort"
        " ORDER BY is_other, rank, id DESC"
    )
    with connection.cursor() as cursor:
        wanted = [value for sort in sorts for value in (sort, first)]
        cursor.execute(statement, [*params, *wanted])
        placed = cursor.fetchall()
    documents = SearchDocument.objects.in_bulk([pk for pk, _, _ in placed])
    held: dict[str, list[SearchDocument]] = {}
    numbers = {sort: many for _, sort, many in placed}
    for pk, sort, _ in placed:
        held.setdefault(sort, []).append(documents[pk])
    return [Found(sort, numbers[sort], rows) for sort, rows in held.items()]


_CLOSEST = (
    "SELECT * FROM (SELECT id, as_sort, is_other, rank FROM found WHERE as_sort = %s"
    " ORDER BY is_other, rank, id DESC LIMIT %s) AS of_one_sort"
)


def _sorts_of(kinds: Iterable[str]) -> Iterator[str]:
    """Give the sorts that may be found: each kind, and the parts of those that have parts."""
    wanted = set(kinds)
    for model in searchable():
        kind = model._meta.label_lower
        parts = [kind + FIELD] if hasattr(model, "search_parts") else []
        yield from (sort for sort in (kind, *parts) if not wanted or sort in wanted)


def near(
    words: str,
    person: Actor,
    limit: int = 5,
    *,
    kinds: Iterable[str] = (),
    but: models.Model | None = None,
    taxon: int | None = None,
) -> list[SearchDocument]:
    """Find what is about the same: at least half of the telling words, two where there are two.

    Of what is about the same taxon, one telling word is enough.
    """
    telling = [
        stem for stem in stems(words) if len(stem) >= _SHORTEST_TELLING and stem not in _EVERYDAY
    ]
    if not telling:
        return []
    enough = max(min(2, len(telling)), (len(telling) + 1) // 2)
    asked = Asked(terms=tuple(Term((stem,), (stem,)) for stem in telling))
    ranked: Any = _matching(asked, person, kinds, how="any")
    close = []
    for document in ranked.order_by("rank", "-object_id")[: limit * 10]:
        if but is not None and (document.kind, document.object_id) == (
            but._meta.label_lower,
            but.pk,
        ):
            continue
        held = f" {document.folded_title} {document.folded_text}"
        needed = 1 if taxon is not None and document.taxon == taxon else enough
        if sum(f" {stem}" in held for stem in telling) >= needed:
            close.append(document)
    return close[:limit]


def about(
    taxon: int, person: Actor, limit: int = 5, *, kinds: Iterable[str] = ()
) -> list[SearchDocument]:
    """Find what is about a taxon, the newest first."""
    rows = SearchDocument.objects.filter(visible_to(person), _of_sorts(kinds), taxon=taxon)
    return list(rows.order_by("-object_id", "pk")[:limit])


def _matching(
    asked: Asked,
    person: Actor,
    kinds: Iterable[str] = (),
    *,
    how: str = "all",
    is_ranked: bool = True,
) -> models.QuerySet[SearchDocument]:
    """Give the documents that hold what was asked, each with its rank, the closest lowest."""
    documents = SearchDocument.objects.filter(visible_to(person), _of_sorts(kinds))
    for phrase in asked.phrases:
        said = Concat(
            *(Value(" "), "folded_title", Value(" | "), "folded_text", Value(" ")),
            output_field=TextField(),
        )
        documents = documents.alias(said=said).filter(said__contains=f" {phrase} ")
    is_key = Q(keys__contains=f" {asked.key} ") if asked.key else Q(pk__in=[])
    documents = documents.annotate(
        is_other=Case(When(is_key, then=0), default=1, output_field=IntegerField())
    )
    sqlite = connection.vendor == "sqlite"
    joint = (" AND " if how == "all" else " OR ") if sqlite else (" & " if how == "all" else " | ")
    matched = joint.join(_asked_of_one(term, sqlite=sqlite) for term in asked.terms)
    if asked.key and not asked.phrases:
        either, key = (" OR ", f'"{asked.key}"') if sqlite else (" | ", asked.key)
        matched = f"({matched}){either}{key}"
    tables = ["search_words"] if sqlite else []
    where = ["vector @@ to_tsquery('simple', %s)"]
    if sqlite:
        where = ["search_words.rowid = search_searchdocument.id", "search_words MATCH %s"]
    held: Any = {"tables": tables, "where": where, "params": [matched]}
    if not is_ranked:
        return documents.extra(**held)
    if _is_common(matched):
        place = StrIndex("folded_title", Value(asked.terms[0].forms[0]))
        is_elsewhere = Case(When(GreaterThan(place, 0), then=0), default=1)
        return documents.annotate(rank=is_elsewhere).extra(**held)
    if sqlite:
        return documents.extra(select={"rank": "bm25(search_words, 5.0, 1.0)"}, **held)
    return documents.extra(
        select={"rank": "-ts_rank(vector, to_tsquery('simple', %s))"},
        select_params=[matched],
        **held,
    )


def _is_common(matched: str) -> bool:
    """Say whether it stands in so many documents that how often it stands there tells nothing."""
    found = (
        "SELECT 1 FROM search_words WHERE search_words MATCH %s"
        if connection.vendor == "sqlite"
        else "SELECT 1 FROM search_searchdocument WHERE vector @@ to_tsquery('simple', %s)"
    )
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COUNT(*) FROM ({found} LIMIT %s) AS seen", [matched, _COMMON])  # noqa: S608  # why: one of the two statements above
        return bool(cursor.fetchone()[0] == _COMMON)


def _asked_of_one(term: Term, *, sqlite: bool) -> str:
    """Write one word in the database's own language; folding left no sign in it."""
    # In SQLite a word in quotes is a word and no operator.
    # A word counts for more than its own beginning; its other forms the beginning finds as well.
    told = tuple(term.beginnings)
    forms = [form for form in term.forms if form in told or not form.startswith(told)]
    whole = [f'"{form}"' if sqlite else form for form in forms]
    open_ended = [f'"{one}"*' if sqlite else f"{one}:*" for one in term.beginnings]
    return f"({(' OR ' if sqlite else ' | ').join([*whole, *open_ended])})"


# ------------------------------------------------------------------------------- what was meant


def close_to(words: str, person: Actor, most: int = 4) -> list[str]:
    """Give what may have been meant where nothing was found: one letter of a word was wrong.

    Each of them finds something that this person may see, so no word of another's is told.
    """
    typed = fold(words[:400]).split()[:_MOST_MEANT]
    meant = {
        word: sorted(_one_letter_off(word))
        for word in typed
        if _SHORTEST_MEANT <= len(word) <= _LONGEST_MEANT and not word.isdigit()
    }
    wanted = {candidate for candidates in meant.values() for candidate in candidates}
    known = set(SearchWord.objects.filter(pk__in=wanted | set(typed)).values_list("pk", flat=True))
    choices = {
        word: [one for one in candidates if one in known][:_MOST_TRIES]
        for word, candidates in meant.items()
    }
    found: list[str] = []
    for said in islice(_instead(typed, choices, known), _MOST_TRIES):
        if said not in found and _matching(read(said), person, is_ranked=False).exists():
            found.append(said)
        if len(found) == most:
            break
    return found


def _instead(typed: list[str], choices: dict[str, list[str]], known: set[str]) -> Iterator[str]:
    """Give what may be looked for instead: what is unknown is replaced, else each word in turn."""
    strange = [word for word in typed if word not in known and choices.get(word)]
    if strange:
        options = [choices[word] if word in strange else [word] for word in typed]
        yield from (" ".join(words) for words in product(*options))
    for place, word in enumerate(typed):
        for other in choices.get(word, ()):
            yield " ".join([*typed[:place], other, *typed[place + 1 :]])


def _one_letter_off(word: str) -> set[str]:
    """Give each word that one letter more, one less, another one or two changed over make."""
    cuts = [(word[:place], word[place:]) for place in range(len(word) + 1)]
    less = {before + after[1:] for before, after in cuts if after}
    swapped = {before + after[1] + after[0] + after[2:] for before, after in cuts if len(after) > 1}
    other = {before + letter + after[1:] for before, after in cuts if after for letter in _LETTERS}
    more = {before + letter + after for before, after in cuts for letter in _LETTERS}
    return (less | swapped | other | more) - {word}
