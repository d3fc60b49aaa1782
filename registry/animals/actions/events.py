"""Deeds on animals and groups that live here: what happened to them, and how one tells them."""

from datetime import date
from typing import Any

from django.db import IntegrityError, transaction

from registry.animals.arriving import count_of
from registry.animals.chips import read_code
from registry.animals.days import not_before, within_stay
from registry.animals.models import GAINS, Animal, Enclosure, Event, Group, Mark
from registry.animals.stock import Count
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, move

LEAVING = (Event.Sort.DEPARTED, Event.Sort.DIED)
CHANGES = (
    Event.Sort.COUNTED,
    Event.Sort.SEXED,
    Event.Sort.BORN,
    Event.Sort.ARRIVED,
    Event.Sort.DIED,
    Event.Sort.DEPARTED,
)
"""What may change the number of a group, or of which sex its animals are."""


def _of(subject: Animal | Group) -> dict[str, Any]:
    return {"animal": subject} if isinstance(subject, Animal) else {"group": subject}


def _move(
    subject: Animal | Group, *, enclosure: Enclosure, happened_on: date, note: str, by: Person
) -> Event:
    """Write that a locked animal or group lives somewhere else from a day on."""
    what = f"{subject} was not moved."
    within_stay(subject, happened_on, what=what)
    last = subject.events.placing().last()
    if last is not None:
        said = "it came to where it lives; moves are recorded in their order"
        not_before(happened_on, last.happened_on, said, what=what)
    if subject.enclosure_id == enclosure.pk:
        raise Unsound(
            what,
            f"It lives in {enclosure} already.",
            "Choose another enclosure.",
            fields={"enclosure": "It lives there already."},
        )
    subject.enclosure = enclosure
    subject.save(update_fields=["enclosure"])
    return Event.objects.create(
        **_of(subject),
        sort=Event.Sort.MOVED,
        happened_on=happened_on,
        enclosure=enclosure,
        note=note,
        recorded_by=by,
    )


@transaction.atomic
def move_animal(
    animal: Animal, *, enclosure: Enclosure, happened_on: date, note: str = "", by: Person
) -> Animal:
    """Record that an animal was moved to another enclosure.

    Refused when: it has left; it lives there already; the day lies before its arrival or its last
    move, or in the future.
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

    Refused when: it has left; it lives there already; the day lies before its arrival or its last
    move, or in the future.
    """
    require(by, Verb.GROUP_MOVE, group)
    group = locked(group)
    before, after = move(group, "move")
    event = _move(group, enclosure=enclosure, happened_on=happened_on, note=note, by=by)
    record(Verb.GROUP_MOVE, group, by=by, before=before, after=after, touched=[event])
    return group


def _leave(
    subject: Animal | Group, *, sort: str, happened_on: date, note: str, by: Person
) -> Event:
    """Write that a locked animal or group is here no more."""
    what = f"The departure or death of {subject} was not recorded."
    if sort not in LEAVING:
        raise Unsound(
            what,
            "It must have departed or died.",
            "Choose one of the two.",
            fields={"sort": "Choose one of the two."},
        )
    within_stay(subject, happened_on, what=what)
    last = subject.events.standing().last()
    if last is not None:
        said = "something later was recorded of it"
        not_before(happened_on, last.happened_on, said, what=what)
    left = count_of(subject)
    event = Event.objects.create(
        **_of(subject),
        sort=sort,
        happened_on=happened_on,
        enclosure=subject.enclosure,
        males=-left.males,
        females=-left.females,
        unknown=-left.unknown,
        note=note,
        recorded_by=by,
    )
    subject.left_on, subject.enclosure = happened_on, None
    subject.save(update_fields=["left_on", "enclosure"])
    return event


@transaction.atomic
def leave_animal(
    animal: Animal, *, sort: str, happened_on: date, note: str = "", by: Person
) -> Animal:
    """Record that an animal departed or died.

    Refused when: it has left already; it neither departed nor died; the day lies before its
    arrival or anything recorded since, or in the future.
    """
    require(by, Verb.ANIMAL_LEAVE, animal)
    animal = locked(animal)
    before, after = move(animal, "leave")
    event = _leave(animal, sort=sort, happened_on=happened_on, note=note, by=by)
    record(Verb.ANIMAL_LEAVE, animal, by=by, before=before, after=after, touched=[event])
    return animal


@transaction.atomic
def leave_group(group: Group, *, sort: str, happened_on: date, note: str = "", by: Person) -> Group:
    """Record that all that were left of a group departed or died.

    Refused when: it has left already; it neither departed nor died; the day lies before its
    arrival or anything recorded since, or in the future.
    """
    require(by, Verb.GROUP_LEAVE, group)
    group = locked(group)
    before, after = move(group, "leave")
    event = _leave(group, sort=sort, happened_on=happened_on, note=note, by=by)
    _balance(group)
    record(Verb.GROUP_LEAVE, group, by=by, before=before, after=after, touched=[event])
    return group


def _balance(group: Group) -> None:
    """Count a locked group anew from its standing events, so that no day shows fewer than none.

    Raises
    ------
    Unsound
        When on some day more would have left than were there.
    """
    held = [0, 0, 0]
    for event in group.events.standing().order_by("happened_on", "pk"):
        held = [
            a + b for a, b in zip(held, (event.males, event.females, event.unknown), strict=True)
        ]
        Count(*held)
    group.males, group.females, group.unknown = held
    group.save(update_fields=["males", "females", "unknown"])


@transaction.atomic
def count_group(
    group: Group,
    *,
    males: int = 0,
    females: int = 0,
    unknown: int = 0,
    happened_on: date,
    note: str = "",
    sort: str = Event.Sort.COUNTED,
    by: Person,
) -> Group:
    """Record by how many the number of a group changed; losses are negative.

    Animals that were sexed leave the unknown and join their sex: the total stays as it is.

    Refused when: it has left; nothing changed; more would leave than were there on that day; a
    birth or an arrival takes away, or a death or a departure adds; the day lies before its
    arrival or in the future.
    """
    require(by, Verb.GROUP_COUNT, group)
    group = locked(group)
    before, after = move(group, "count")
    what = f"The number of {group} was not changed."
    within_stay(group, happened_on, what=what)
    changes = (males, females, unknown)
    if not any(changes):
        raise Unsound(
            what,
            "Nothing changed.",
            "Give by how many each number changed; write losses with a minus.",
            fields={"unknown": "Give at least one change."},
        )
    is_wrong_way = (sort in GAINS and min(changes) < 0) or (sort in LEAVING and max(changes) > 0)
    if is_wrong_way or sort not in CHANGES:
        raise Unsound(
            what,
            "What happened and the signs of the numbers do not go together.",
            "Births and arrivals add; deaths and departures take away, with a minus.",
            fields={"sort": "It does not go with the signs of the numbers."},
        )
    if sort == Event.Sort.COUNTED and sum(changes) == 0:
        sort = Event.Sort.SEXED
    event = Event.objects.create(
        group=group,
        sort=sort,
        happened_on=happened_on,
        males=males,
        females=females,
        unknown=unknown,
        note=note,
        recorded_by=by,
    )
    _balance(group)
    record(Verb.GROUP_COUNT, group, by=by, before=before, after=after, touched=[event])
    return group


@transaction.atomic
def mark_animal(animal: Animal, *, sort: str, said: str, by: Person) -> Mark:
    """Record how an animal is told apart; a chip's code is read by its standard and kept bare.

    Refused when: it has left; a chip's code is unsound; another animal bears that chip; the mark
    was recorded already.
    """
    require(by, Verb.ANIMAL_MARK, animal)
    animal = locked(animal)
    before, after = move(animal, "mark")
    said = " ".join(said.split())
    if sort == Mark.Sort.CHIP:
        said = _chip(said)
        bearer = Mark.objects.filter(sort=sort, said=said, ended_on=None).first()
        if bearer is not None:
            raise Conflict(
                "The chip was not recorded.",
                f"{bearer.animal} bears it.",
                "Read the chip again; if it is right, look which of the two animals you hold.",
                fields={"said": f"{bearer.animal} bears it."},
            )
    elif animal.marks.filter(sort=sort, said__iexact=said, ended_on=None).exists():
        raise Conflict(
            "The mark was not recorded twice.", f"{animal} has it already.", "Nothing needs doing."
        )
    try:
        with transaction.atomic():
            mark = Mark.objects.create(animal=animal, sort=sort, said=said, recorded_by=by)
    except IntegrityError as problem:
        raise Conflict(
            "The chip was not recorded.",
            "Someone gave it to another animal in the same moment.",
            "Read the chip again, and look which of the two animals you hold.",
        ) from problem
    search.write(animal)
    record(Verb.ANIMAL_MARK, animal, by=by, before=before, after=after, touched=[mark])
    return mark


def _chip(text: str) -> str:
    """Give the fifteen digits, or the refusal under the form's own field."""
    try:
        return read_code(text).code
    except Unsound as refused:
        raise Unsound(
            refused.what,
            refused.why,
            "Read the chip again. A chip from before the standard is recorded as an other code.",
            fields={"said": refused.why},
        ) from refused


def _take_back(subject: Animal | Group, *, reason: str, by: Person) -> tuple[Event, Event]:
    """Reverse the newest event of a locked animal or group, and put it where it then was."""
    newest = subject.events.standing().order_by("pk").last()
    if newest is None or newest.pk == subject.events.order_by("pk").values("pk")[0]["pk"]:
        raise Conflict(
            "Nothing was taken back.",
            f"Nothing was recorded of {subject} but that it came.",
            "Record what happened since, or ask an administrator about one that never was here.",
        )
    reversing = Event.objects.create(
        **_of(subject),
        sort=newest.sort,
        happened_on=newest.happened_on,
        enclosure=newest.enclosure,
        males=-newest.males,
        females=-newest.females,
        unknown=-newest.unknown,
        note=reason,
        recorded_by=by,
        reverses=newest,
    )
    home = subject.events.placing().last()
    subject.left_on = None
    subject.enclosure = home.enclosure if home is not None else None
    subject.save(update_fields=["left_on", "enclosure"])
    return newest, reversing


@transaction.atomic
def take_back_animal_event(animal: Animal, *, reason: str, by: Person) -> Animal:
    """Take back what was last recorded of an animal, by a reversing event.

    Refused when: nothing but its arrival was recorded.
    """
    require(by, Verb.ANIMAL_TAKE_BACK, animal)
    animal = locked(animal)
    before, after = move(animal, "take_back")
    events = _take_back(animal, reason=reason, by=by)
    record(
        Verb.ANIMAL_TAKE_BACK,
        animal,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=events,
    )
    return animal


@transaction.atomic
def take_back_group_event(group: Group, *, reason: str, by: Person) -> Group:
    """Take back what was last recorded of a group, by a reversing event.

    Refused when: nothing but its arrival was recorded.
    """
    require(by, Verb.GROUP_TAKE_BACK, group)
    group = locked(group)
    before, after = move(group, "take_back")
    events = _take_back(group, reason=reason, by=by)
    _balance(group)
    record(
        Verb.GROUP_TAKE_BACK,
        group,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=events,
    )
    return group
