"""Deeds that take back what was last recorded, by a reversing event."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction

from registry.animals.happening import of, settle
from registry.animals.models import Animal, Event, Group
from registry.errors import Conflict
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, move

_NOTHING = "Nothing was taken back."


def _newest(subject: Animal | Group) -> Event:
    """Give the newest standing event, where it may be taken back on its own page."""
    newest = subject.events.standing().order_by("pk").last()
    if newest is None or newest.pk == subject.events.order_by("pk").values("pk")[0]["pk"]:
        raise Conflict(
            _NOTHING,
            f"Nothing was recorded of {subject} but that it came.",
            "Record what happened since, or ask an administrator about one that never was here.",
        )
    other = newest.partner
    if other is not None:
        raise Conflict(
            _NOTHING,
            f"The newest event of {subject} is one side of what happened to {other.subject}.",
            f"Take it back on the page of {other.subject}.",
        )
    if newest.sort in (Event.Sort.SENT, Event.Sort.RETURNED):
        raise Conflict(
            _NOTHING,
            f"The newest event of {subject} belongs to its custody by a partner.",
            "End the custody, or give it again, and write what was wrong beside it.",
        )
    if newest.sort in (Event.Sort.DRAWN, Event.Sort.SPLIT, Event.Sort.HATCHED, Event.Sort.BORE):
        others = " and ".join(str(one.subject) for one in newest.partners.all())
        raise Conflict(
            _NOTHING,
            f"{others} came of the newest event of {subject}, and is in the register.",
            "Let it join, or merge it into, this group again.",
        )
    return newest


def _reverse(event: Event, *, reason: str, by: Person) -> Event:
    """Write the event that takes another back."""
    subject: Any = event.subject
    return Event.objects.create(
        **of(subject),
        sort=event.sort,
        happened_on=event.happened_on,
        enclosure=event.enclosure,
        males=-event.males,
        females=-event.females,
        unknown=-event.unknown,
        note=reason,
        recorded_by=by,
        reverses=event,
    )


def _take_back(subject: Animal | Group, *, reason: str, by: Person) -> Sequence[Any]:
    """Reverse the newest event of a locked record, and its partner, and give what was written."""
    newest = _newest(subject)
    touched: list[Any] = [newest, _reverse(newest, reason=reason, by=by)]
    subject.left_on = None
    subject.save(update_fields=["left_on"])
    for partner in newest.partners.select_related("animal", "group").order_by("pk"):
        other = locked(partner.subject)
        touched += [partner, _reverse(partner, reason=reason, by=by), other]
        settle(other)
    settle(subject)
    return touched


@transaction.atomic
def take_back_animal_event(animal: Animal, *, reason: str, by: Person) -> Animal:
    """Take back what was last recorded of an animal, by a reversing event.

    Refused when: nothing but its arrival was recorded; it is the other side of what happened to
    another record.
    """
    require(by, Verb.ANIMAL_TAKE_BACK, animal)
    animal = locked(animal)
    before, after = move(animal, "take_back")
    touched = _take_back(animal, reason=reason, by=by)
    record(
        Verb.ANIMAL_TAKE_BACK,
        animal,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=touched,
    )
    return animal


@transaction.atomic
def take_back_group_event(group: Group, *, reason: str, by: Person) -> Group:
    """Take back what was last recorded of a group, by a reversing event.

    Refused when: nothing but its arrival was recorded; an animal or a group came of it; it is the
    other side of what happened to another record.
    """
    require(by, Verb.GROUP_TAKE_BACK, group)
    group = locked(group)
    before, after = move(group, "take_back")
    touched = _take_back(group, reason=reason, by=by)
    record(
        Verb.GROUP_TAKE_BACK,
        group,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=touched,
    )
    return group
