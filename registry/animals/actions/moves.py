"""Deeds that say where animals and groups live from a day on."""

from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.days import not_before, within_stay
from registry.animals.happening import in_being, not_away, settle, write
from registry.animals.models import Animal, Enclosure, Event, Group
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, move


def _move(
    subject: Animal | Group, *, enclosure: Enclosure, happened_on: date, note: str, by: Person
) -> Event:
    """Write that a locked animal or group lives somewhere else from a day on."""
    what = _("%(subject)s was not moved.") % {"subject": subject}
    within_stay(subject, happened_on, what=what)
    in_being(enclosure, happened_on, what=what)
    last = not_away(subject, what=what)
    if last is not None:
        said = "it came to where it lives; moves are recorded in their order"
        not_before(happened_on, last.happened_on, said, what=what)
    if subject.enclosure_id == enclosure.pk:
        raise Unsound(
            what,
            _("It lives in %(enclosure)s already.") % {"enclosure": enclosure},
            "Choose another enclosure.",
            fields={"enclosure": "It lives there already."},
        )
    event = write(subject, Event.Sort.MOVED, happened_on, by, enclosure=enclosure, note=note)
    settle(subject)
    return event


@transaction.atomic
def move_animal(
    animal: Animal, *, enclosure: Enclosure, happened_on: date, note: str = "", by: Person
) -> Animal:
    """Record that an animal was moved to another enclosure.

    Refused when: it has left, or is away; it lives there already; the day lies before its arrival
    or its last move, or in the future; the enclosure did not exist on that day.
    """
    require(by, Verb.ANIMAL_MOVE, animal)
    animal = locked(animal)
    before, after = move(animal, "move")
    event = _move(animal, enclosure=enclosure, happened_on=happened_on, note=note, by=by)
    record(Verb.ANIMAL_MOVE, animal, by=by, before=before, after=after, touched=[event])
    return animal


@transaction.atomic
def move_group(
    group: Group, *, enclosure: Enclosure, happened_on: date, note: str = "", by: Person
) -> Group:
    """Record that a group was moved to another enclosure.

    Refused when: it has left, or is away; it lives there already; the day lies before its arrival
    or its last move, or in the future; the enclosure did not exist on that day.
    """
    require(by, Verb.GROUP_MOVE, group)
    group = locked(group)
    before, after = move(group, "move")
    event = _move(group, enclosure=enclosure, happened_on=happened_on, note=note, by=by)
    record(Verb.GROUP_MOVE, group, by=by, before=before, after=after, touched=[event])
    return group
