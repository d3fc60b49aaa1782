"""Deeds on what goes on at an enclosure every week."""

from collections.abc import Iterable
from datetime import time

from django.db import transaction
from django.utils import timezone

from registry.animals.models import Enclosure, Routine
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked


@transaction.atomic
def add_routine(
    enclosure: Enclosure,
    *,
    sort: str,
    weekdays: Iterable[int],
    begins: time,
    ends: time,
    note: str = "",
    by: Person,
) -> Enclosure:
    """Say what goes on at an enclosure on some weekdays, from a time to a time.

    Refused when: it ends before it begins.
    """
    require(by, Verb.ENCLOSURE_ADD_ROUTINE, enclosure)
    enclosure = locked(enclosure)
    if ends <= begins:
        raise Unsound(
            "It was not written down.",
            "It would end before it begins.",
            "Give a later end; what goes on over midnight is two.",
            fields={"ends": "Not after it begins."},
        )
    made = [
        Routine.objects.create(
            enclosure=enclosure, sort=sort, weekday=day, begins=begins, ends=ends, note=note
        )
        for day in sorted(set(weekdays))
    ]
    record(
        Verb.ENCLOSURE_ADD_ROUTINE,
        enclosure,
        by=by,
        touched=made,
        sort=sort,
        weekdays=[one.weekday for one in made],
    )
    return enclosure


@transaction.atomic
def end_routine(enclosure: Enclosure, *, routine: Routine, by: Person) -> Enclosure:
    """Say that something goes on at an enclosure no more, from today.

    Refused when: it does not go on there.
    """
    require(by, Verb.ENCLOSURE_END_ROUTINE, enclosure)
    routine = locked(routine)
    if routine.enclosure_id != enclosure.pk or routine.ended_on is not None:
        raise Conflict("It was not ended.", "It does not go on there.", "Look at the page again.")
    routine.ended_on = timezone.localdate()
    routine.save(update_fields=["ended_on"])
    record(Verb.ENCLOSURE_END_ROUTINE, enclosure, by=by, touched=[routine], what=str(routine))
    return enclosure
