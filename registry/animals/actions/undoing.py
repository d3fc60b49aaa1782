"""Deeds that undo what was brought in by mistake: it was never here, and its codes are free."""

from typing import Any

from django.db import transaction
from django.db.models import Q

from registry.animals.models import Animal, Group, Intake
from registry.animals.undoing import never_here, untouched
from registry.ledger.actions import Made, record, record_all
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, locked_all, move, move_all, reasoned


@transaction.atomic
def undo_animal(animal: Animal, *, reason: str, by: Person) -> Animal:
    """Say that an animal was received by mistake: it was never here.

    Refused when: it has left; more is recorded of it than that it came; no reason is given.
    """
    require(by, Verb.ANIMAL_UNDO, animal)
    animal = locked(animal)
    what = f"The arrival of {animal} was not undone."
    reason = reasoned(animal, "undo", reason)
    untouched(Animal, Q(pk=animal.pk), "record that it left or died", what)
    before, after = move(animal, "undo")
    touched = never_here([animal], reason, by)["animal", animal.pk]
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
    untouched(Group, Q(pk=group.pk), "record that they left or died", what)
    before, after = move(group, "undo")
    touched = never_here([group], reason, by)["group", group.pk]
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
        untouched(model, Q(intake=intake) & ~Q(state="undone"), "mend the rows one by one", what)
        was, now = move_all(rows, "undo")
        touched = never_here(rows, reason, by)
        made += [
            Made(verb, row, tuple(touched[str(row.kind), row.pk]), now, before=was) for row in rows
        ]
    record_all(made, by=by, intake=intake.pk)
    record(Verb.INTAKE_UNDO, intake, by=by, before=before, after=after, reason=reason)
    return intake
