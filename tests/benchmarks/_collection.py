"""A large collection for the cases: the demo laid again and again over earlier years.

Run with Django set up and a database that holds the demo: every row of it is copied COPIES times by
`INSERT … SELECT`, each copy as many days earlier, under numbers of its own, and what is old is
finished. The ledger is written anew, entry by entry, so that its chain holds.
"""

import json
from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, models, transaction

from registry.animals.models import Animal, Enclosure, Event, Taxon
from registry.approvals.models import PermissionKind
from registry.ledger import seal
from registry.ledger.chain import START, canonical, digest_of
from registry.ledger.models import Entry
from registry.oversight.models import Breach, RetentionRule, ReturnCategory, Use, YearReturn
from registry.people.models import Body, BodyKind, Institution, Person, Seat, Standing
from registry.projects.models import Procedure
from registry.search.models import SearchDocument
from tests.benchmarks._said import note

COPIES = 166
DAYS_APART = 12
ALIVE = 20
"""So many of the newest copies are still at work; what is older is closed."""

ANIMALS_EACH, USES_EACH = 60, 1200
SPREAD: dict[type[models.Model], int] = {
    Enclosure: 8,
    Enclosure.keepers.through: 8,
    Taxon: 10,
}
"""Kinds of which a house has fewer: so many copies, shared in turn."""

STAYS: set[type[models.Model]] = {Institution, Body, Seat, Procedure, PermissionKind, BodyKind}
STAYS |= {ReturnCategory, RetentionRule, YearReturn}
_PASSED_BY = {"auth", "contenttypes", "sessions", "django_tasks_database", "search", "ledger"}

FINISHED: dict[str, dict[str, str]] = {
    "projects.project": dict.fromkeys(
        ("drafted", "submitted", "accepted", "collecting", "halted", "reporting"), "closed"
    ),
    "questions.question": dict.fromkeys(("taken_on", "answered"), "acknowledged"),
    "approvals.approval": dict.fromkeys(
        ("drafted", "submitted", "approved", "suspended"), "closed"
    ),
    "oversight.booking": dict.fromkeys(("requested", "offered", "confirmed"), "released"),
    "oversight.enrolment": {"enrolled": "discharged"},
    "oversight.session": {"planned": "missed"},
    "oversight.breach": {"opened": "settled", "explained": "settled"},
    "oversight.adverseevent": {"reported": "assessed"},
    "oversight.concern": {"raised": "resolved", "reviewing": "resolved"},
    "oversight.point": {"written": "settled", "answered": "settled"},
    "archive.deposit": dict.fromkeys(("opened", "submitted", "checked"), "discarded"),
    "animals.restriction": {"begun": "ended"},
}
"""What becomes of a state in a copy that is old; questions that were posted stay: staff ask on."""

ALSO_FINISHED = {
    "oversight.enrolment": {"left_on": "from_on"},
    "animals.restriction": {"ended_on": "expected_end_on"},
}
"""Days of an old copy that are filled from another day where they are open."""


def enlarge() -> None:
    """Make the large collection out of the demo that the database holds."""
    with transaction.atomic():
        _thicken()
        spans = {model: _most(model) for model in _copied()}
        for model in _copied():
            _copy(model, spans)
        note("  rows copied")
        with seal.opened():
            _write_ledger(spans)
        note("  ledger written")
        _write_search(spans)
        note("  search index written")
        _reset_numbers()
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")  # as the server does by itself, but for the one of tests


def _copied() -> list[type[models.Model]]:
    found = apps.get_models(include_auto_created=True)
    kept = [m for m in found if m._meta.app_label not in _PASSED_BY and m not in STAYS]
    return [model for model in kept if model._base_manager.exists()]


def _most(model: type[models.Model]) -> int:
    return int(model._base_manager.aggregate(most=models.Max("pk"))["most"] or 0)


def _thicken() -> None:
    """Give the demo as many animals and uses as each copy is to have."""
    animals = list(Animal.objects.order_by("pk"))
    first = Event.objects.filter(animal__isnull=False, sort__in=["arrived", "born"])
    arrivals = {event.animal_id: event for event in first}
    for number in range(ANIMALS_EACH - len(animals)):
        old = animals[number % len(animals)]
        event = arrivals.get(old.pk)
        old_pk, old.pk = old.pk, None
        old.code, old.name = f"{old.code}b{number}", f"{old.name} b{number}" if old.name else ""
        old.save(force_insert=True)
        if event is not None and event.animal_id == old_pk:
            event.pk, event.animal, event.recorded_at = None, old, event.recorded_at
            event.save(force_insert=True)
    uses = list(Use.objects.standing().order_by("pk"))
    more = USES_EACH - Use.objects.count()
    made = []
    for number in range(more):
        use = uses[number % len(uses)]
        later = timedelta(minutes=37 * (1 + number // len(uses)))
        fields = {f.attname: getattr(use, f.attname) for f in Use._meta.concrete_fields}
        fields |= {"id": None, "happened_at": use.happened_at + later}
        fields["recorded_at"] = use.recorded_at + later
        made.append(Use(**fields))
    Use.objects.bulk_create(made, batch_size=2000)


def _movable() -> str:
    """Give the people that each copy has of its own: students and supervisors."""
    others = Standing.objects.exclude(role__in=["student", "supervisor"]).values("person")
    own = Person.objects.exclude(pk__in=others).exclude(pk__in=Seat.objects.values("person"))
    return ",".join(str(pk) for pk in own.filter(is_system=False).values_list("pk", flat=True))


def _moved(model: type[models.Model], column: str, spans: Any) -> str:
    """Write the number of a row of a kind in copy n.k."""
    if model not in spans:
        return column
    turn = f"(n.k % {SPREAD[model]})" if model in SPREAD else "n.k"
    there = f"{column} + {turn} * {spans[model]}"
    if model is Person:
        return f"CASE WHEN {column} IN ({_movable()}) THEN {there} ELSE {column} END"
    return there


def _earlier(column: str, is_day: bool) -> str:
    if connection.vendor == "sqlite":
        how = "%Y-%m-%d" if is_day else "%Y-%m-%d %H:%M:%S"
        back = f"'-' || (n.k * {DAYS_APART}) || ' days'"
        return f"strftime('{how}', {column}, {back})"
    cast = "date" if is_day else "timestamptz"
    return f"({column} - n.k * interval '{DAYS_APART} days')::{cast}"


def _value(field: Any, model: type[models.Model], spans: Any) -> str:
    """Write what stands in a column of copy n.k."""
    label, column = model._meta.label_lower, f"b.{connection.ops.quote_name(field.column)}"
    if field.primary_key:
        return _moved(model, column, spans)
    if field.is_relation:
        return _moved(field.related_model, column, spans)
    if model is Breach and field.name == "deposit_number":
        return _moved(apps.get_model("archive.deposit"), column, spans)
    if isinstance(field, models.DateField):
        said = _earlier(column, not isinstance(field, models.DateTimeField))
        if other := ALSO_FINISHED.get(label, {}).get(field.name):
            filled = _earlier(f"COALESCE({column}, b.{other})", is_day=True)
            return f"CASE WHEN n.k < {ALIVE} THEN {said} ELSE {filled} END"
        return said
    if field.name == "state" and label in FINISHED:
        turned = " ".join(f"WHEN '{a}' THEN '{b}'" for a, b in FINISHED[label].items())
        ended = f"CASE {column} {turned} ELSE {column} END"
        return f"CASE WHEN n.k < {ALIVE} THEN {column} ELSE {ended} END"
    if field.name == "is_done":
        return f"CASE WHEN n.k < {ALIVE} THEN {column} ELSE COALESCE({column}, TRUE) END"
    if _is_named(field, model):
        return f"CASE WHEN {column} = '' THEN '' ELSE {column} || '-' || n.k END"
    return column


def _is_named(field: Any, model: type[models.Model]) -> bool:
    """Say whether a text must differ from copy to copy."""
    label = f"{model._meta.label_lower}.{field.name}"
    return isinstance(field, models.CharField) and (
        field.unique or label in {"animals.mark.said", "people.person.name", "projects.study.title"}
    )


def _copy(model: type[models.Model], spans: Any) -> None:
    """Copy the rows of one kind."""
    quote, fields = connection.ops.quote_name, model._meta.concrete_fields
    columns = ", ".join(quote(field.column) for field in fields)
    values = ", ".join(_value(field, model, spans) for field in fields)
    times = SPREAD.get(model, COPIES + 1) - 1
    only = ""
    if model is Person:
        only = f"WHERE b.id IN ({_movable()})"
    elif model is Standing:
        only = f"WHERE b.person_id IN ({_movable()})"
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {quote(model._meta.db_table)} ({columns}) "
            "WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n "
            f"WHERE k < {times}) SELECT {values} FROM {quote(model._meta.db_table)} b "
            f"CROSS JOIN n {only}"
        )


def _renamed(subject: str, k: int, spans: dict[str, int], own: set[int]) -> str:
    """Give the name of a ledger's subject in copy k."""
    label, _, pk = subject.rpartition(":")
    if not pk.isdigit() or label not in spans:
        return subject
    if label == "people.person" and int(pk) not in own:
        return subject
    turn = next((k % times for m, times in SPREAD.items() if m._meta.label_lower == label), k)
    return f"{label}:{int(pk) + turn * spans[label]}"


def _write_ledger(spans: dict[type[models.Model], int]) -> None:
    """Write every copy's entries in the order of their time, as one chain."""
    by_label = {model._meta.label_lower: span for model, span in spans.items()}
    own = {int(pk) for pk in _movable().split(",")}
    base = list(Entry.objects.order_by("number"))
    order = sorted(
        (entry.at - timedelta(days=DAYS_APART * k), k, place)
        for place, entry in enumerate(base)
        for k in range(COPIES + 1)
    )
    facts = [entry.facts for entry in base]
    Entry.objects.all().delete()
    previous, made = START, []
    for number, (at, k, place) in enumerate(order, 1):
        entry, fact = base[place], facts[place]
        actor = fact["actor"] + (k * spans[Person] if fact["actor"] in own else 0)
        project = fact["project"] and fact["project"] + k * by_label["projects.project"]
        subject = _renamed(fact["subject"], k, by_label, own)
        touched = {_renamed(n, k, by_label, own): d for n, d in fact["touched"].items()}
        text = canonical(
            {
                **fact,
                "number": number,
                "at": at.isoformat(),
                "subject": subject,
                "actor": actor,
                "project": project,
                "touched": touched,
            }
        )
        digest = digest_of(text, previous)
        made.append(
            Entry(
                number=number,
                at=at,
                verb=entry.verb,
                subject=subject,
                actor_id=actor,
                before=entry.before,
                after=entry.after,
                project_number=project,
                text=text,
                previous=previous,
                digest=digest,
                reason=entry.reason,
                salt=entry.salt,
                is_confidential=entry.is_confidential,
            )
        )
        previous = digest
    Entry.objects.bulk_create(made, batch_size=2000)


def _documents(spans: dict[type[models.Model], int]) -> Iterable[SearchDocument]:
    own = {int(pk) for pk in _movable().split(",")}
    for document in SearchDocument.objects.order_by("pk"):
        model = apps.get_model(document.kind)
        if model not in spans or (model is Person and document.object_id not in own):
            continue
        slug = getattr(model._base_manager.get(pk=document.object_id), "slug", "")
        fields = SearchDocument._meta.concrete_fields
        kept = {field.attname: getattr(document, field.attname) for field in fields}
        del kept["id"]
        for k in range(1, SPREAD.get(model, COPIES + 1)):
            pk = document.object_id + k * spans[model]
            here, there = (slug, f"{slug}-{k}") if slug else (str(document.object_id), str(pk))
            url = document.url.replace(here, there)
            yield SearchDocument(**{**kept, "object_id": pk, "url": url})


def _write_search(spans: dict[type[models.Model], int]) -> None:
    SearchDocument.objects.bulk_create(list(_documents(spans)), batch_size=2000)
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("DELETE FROM search_words")
            cursor.execute(
                "INSERT INTO search_words (rowid, title, body) "
                "SELECT id, folded_title, folded_text FROM search_searchdocument"
            )


def _reset_numbers() -> None:
    """Let the next rows be numbered after these."""
    found = [m for m in apps.get_models(include_auto_created=True) if m._meta.auto_field]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), found):
            cursor.execute(statement)


def sizes() -> dict[str, int]:
    """Give how much the collection holds."""
    names = ("animals.animal", "animals.group", "projects.project", "oversight.use")
    names += ("oversight.session", "ledger.entry", "search.searchdocument")
    return {name: apps.get_model(name)._base_manager.count() for name in names}


if __name__ == "__main__":
    enlarge()
    note("  " + json.dumps(sizes()))
