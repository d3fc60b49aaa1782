"""Deeds that undo what was brought in by mistake: it was never here, and its codes are free."""

from collections.abc import Sequence
from itertools import batched
from typing import Any

from django.db import models, transaction
from django.db.models import F, Q, prefetch_related_objects
from django.utils import timezone

from registry.animals.models import Animal, Event, Group, Intake, Mark, Parentage
from registry.animals.undoing import named_elsewhere, parted_code, parted_in_database
from registry.errors import Conflict
from registry.ledger.actions import Made, record, record_all
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, locked_all, move, move_all, reasoned

AT_ONCE = 500


def _untouched(model: type[models.Model], of: Q, said: str, what: str) -> None:
    """Refuse where more is recorded of a row than that it came."""
    found = named_elsewhere(model, of)
    if found is not None:
        row, by_what = found
        raise Conflict(
            what,
            f"More is recorded of {row} than that it came: {by_what}.",
            f"Undo that first where it was a mistake too; else {said}.",
        )


def _never_here(rows: Sequence[Any], reason: str, by: Person) -> dict[tuple[str, int], list[Any]]:
    """Reverse the arrivals of locked rows of one kind, end their marks and free their codes."""
    kind = str(rows[0].kind)
    touched: dict[tuple[str, int], list[Any]] = {(kind, row.pk): [] for row in rows}
    keys = [row.pk for row in rows]
    for row in rows:
        row.code, row.left_on, row.enclosure = parted_code(row), row.arrived_on, None
    arrivals: list[Event] = []
    marks: list[Mark] = []
    for some in batched(keys, AT_ONCE):
        of = type(rows[0]).objects.filter(pk__in=some)
        of.update(code=parted_in_database(), left_on=F("arrived_on"), enclosure=None)
        arrivals += Event.objects.standing().filter(**{f"{kind}__in": some})
        if kind == "animal":
            marks += Mark.objects.filter(animal__in=some, ended_on=None)
    reversing = Event.objects.bulk_create(
        [_reversed(one, reason, by) for one in arrivals], batch_size=AT_ONCE
    )
    if marks:
        move_all(marks, "end")
    today, now = timezone.localdate(), timezone.now()
    for mark in marks:
        mark.ended_on, mark.end_reason = today, reason
        touched[kind, mark.animal_id].append(mark)
    for some in batched([mark.pk for mark in marks], AT_ONCE):
        Mark.objects.filter(pk__in=some).update(ended_on=today, end_reason=reason)
    for some in batched(keys, AT_ONCE):
        parents = list(Parentage.objects.standing().filter(**{f"{kind}__in": some}))
        Parentage.objects.filter(pk__in=[told.pk for told in parents]).update(replaced_at=now)
        for told in parents:
            told.replaced_at = now
            touched[kind, getattr(told, f"{kind}_id")].append(told)
    for event in (*arrivals, *reversing):
        touched[kind, getattr(event, f"{kind}_id")].append(event)
    worded = ("taxon", "marks") if kind == "animal" else ("taxon",)
    for some in batched(rows, AT_ONCE):
        prefetch_related_objects(list(some), *worded)
    search.rewrite(rows)
    return touched


def _reversed(event: Event, reason: str, by: Person) -> Event:
    return Event(
        animal_id=event.animal_id,
        group_id=event.group_id,
        sort=event.sort,
        happened_on=event.happened_on,
        enclosure_id=event.enclosure_id,
        males=-event.males,
        females=-event.females,
        unknown=-event.unknown,
        born_on=event.born_on,
        note=reason,
        recorded_by=by,
        reverses=event,
    )


@transaction.atomic
def undo_animal(animal: Animal, *, reason: str, by: Person) -> Animal:
    """Say that an animal was received by mistake: it was never here.

    Refused when: it has left; more is recorded of it than that it came; no reason is given.
    """
    require(by, Verb.ANIMAL_UNDO, animal)
    animal = locked(animal)
    what = f"The arrival of {animal} was not undone."
    reason = reasoned(animal, "undo", reason)
    _untouched(Animal, Q(pk=animal.pk), "record that it left or died", what)
    before, after = move(animal, "undo")
    touched = _never_here([animal], reason, by)["animal", animal.pk]
    record(Verb.ANIMAL_UNDO, animal, by=by, before=before, after=after, reason=reason,
           touched=touched)  # fmt: skip
    return animal


@transaction.atomic
def undo_group(group: Group, *, reason: str, by: Person) -> Group:
    """Say that a group was received by mistake: it was never here.

    Refused when: it has left; more is recorded of it than that it came; no reason is given.
    """
    require(by, Verb.GROUP_UNDO, group)
    group = locked(group)
    what = f"The arrival of {group} was not undone."
    reason = reasoned(group, "undo", reason)
    _untouched(Group, Q(pk=group.pk), "record that they left or died", what)
    before, after = move(group, "undo")
    touched = _never_here([group], reason, by)["group", group.pk]
    record(Verb.GROUP_UNDO, group, by=by, before=before, after=after, reason=reason,
           touched=touched)  # fmt: skip
    return group


@transaction.atomic
def undo_intake(intake: Intake, *, reason: str, by: Person) -> Intake:
    """Undo a whole list that was brought in: all its animals and groups, or none.

    Taxa and enclosures that came with it stay; they may serve again.

    Refused when: it was undone already; one of its animals or groups has left, or more is recorded
    of it than that it came; no reason is given.
    """
    require(by, Verb.INTAKE_UNDO, intake)
    intake = locked(intake)
    what = f"The list {intake} was not undone."
    reason = reasoned(intake, "undo", reason)
    before, after = move(intake, "undo")
    made: list[Made] = []
    for model, verb in ((Animal, Verb.ANIMAL_UNDO), (Group, Verb.GROUP_UNDO)):
        of = model.objects.filter(intake=intake).exclude(state="undone").order_by()
        rows: list[Any] = locked_all(model, of.values("pk"))
        if not rows:
            continue
        _untouched(model, Q(intake=intake) & ~Q(state="undone"), "mend the rows one by one", what)
        was, now = move_all(rows, "undo")
        touched = _never_here(rows, reason, by)
        made += [
            Made(verb, row, tuple(touched[str(row.kind), row.pk]), now, before=was) for row in rows
        ]
    record_all(made, by=by, intake=intake.pk)
    record(Verb.INTAKE_UNDO, intake, by=by, before=before, after=after, reason=reason)
    return intake
