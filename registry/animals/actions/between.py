"""Deeds that move animals between records: what one loses another gains, on the same day.

What bars the animals goes with them: the group that they join, or that comes of them, is barred.
"""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.arriving import count_of, free, one_of_sex, write_new
from registry.animals.days import not_before, within_stay
from registry.animals.happening import in_being, settle, write, write_loss, write_sexed
from registry.animals.inheriting import pass_on, standing_on
from registry.animals.models import Animal, Enclosure, Event, Group, Sex
from registry.animals.stock import Count
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, locked_all, move


@transaction.atomic
def draw_animal(
    group: Group,
    *,
    code: str,
    name: str = "",
    sex: str = Sex.UNKNOWN,
    counted_as: str = Sex.UNKNOWN,
    enclosure: Enclosure | None = None,
    happened_on: date,
    note: str = "",
    by: Person,
) -> Animal:
    """Draw an animal from a group, to be told apart from now on.

    `counted_as` is the sex under which the group counted it; where it is found to be of another,
    it is sexed on the same day. Without an enclosure it stays where the group lives, and what bars
    the group bars it too.

    Refused when: the group has left; its code is in the register; the group held none of that sex
    on that day; the day lies before the group's arrival or in the future; the enclosure did not
    exist on that day.
    """
    require(by, Verb.GROUP_DRAW, group)
    group = locked(group)
    before, after = move(group, "draw")
    what = _("No animal was drawn from %(group)s.") % {"group": group}
    free(Animal, "code", code, what)
    within_stay(group, happened_on, what=what)
    home = enclosure or group.enclosure
    in_being(home, happened_on, what=what)
    animal = Animal(
        code=code,
        name=name,
        taxon=group.taxon,
        sex=sex,
        life_stage=group.life_stage,
        born_on=group.born_on,
        born_precision=group.born_precision,
        origin=f"drawn from {group}"[:200],
        owner=group.owner,
        enclosure=home,
        drawn_from=group,
        arrived_on=happened_on,
    )
    write_new(animal, what)
    one = one_of_sex(counted_as)
    lost = write_loss(group, Event.Sort.DRAWN, happened_on, by, one, note=note)
    gained = write(
        animal,
        Event.Sort.DRAWN,
        happened_on,
        by,
        one,
        enclosure=home,
        sex=counted_as,
        life_stage=group.life_stage,
        born_on=group.born_on,
        partner=lost,
    )
    touched: list[Any] = [animal, lost, gained]
    if sex != counted_as:
        touched.append(write_sexed(animal, counted_as, sex, happened_on, by))
    settle(group)
    settle(animal)
    if home == group.enclosure:
        touched += pass_on(standing_on(group), animal, happened_on, by)
    search.write(animal)
    record(Verb.GROUP_DRAW, group, by=by, before=before, after=after, touched=touched)
    return animal


@transaction.atomic
def join_group(
    animal: Animal, *, group: Group, happened_on: date, note: str = "", by: Person
) -> Animal:
    """Let an animal join a group: it is counted there, and told apart no more.

    Refused when: it has left, or the group has; it is of another taxon; the day lies before
    either's arrival or anything recorded of the animal since, or in the future.
    """
    require(by, Verb.ANIMAL_JOIN, animal)
    animal = locked(animal)
    group = locked(group)
    before, after = move(animal, "join")
    what = _("%(animal)s did not join %(group)s.") % {"animal": animal, "group": group}
    _alike(animal, group, what=what)
    _in_time(animal, group, happened_on, what=what)
    one = count_of(animal)
    lost = write_loss(
        animal, Event.Sort.JOINED, happened_on, by, one, enclosure=animal.enclosure, note=note
    )
    gained = write(group, Event.Sort.JOINED, happened_on, by, one, partner=lost, note=note)
    animal.left_on = happened_on
    animal.save(update_fields=["left_on"])
    settle(animal)
    settle(group)
    passed = pass_on(standing_on(animal), group, happened_on, by)
    touched = [group, lost, gained, *passed]
    record(Verb.ANIMAL_JOIN, animal, by=by, before=before, after=after, touched=touched)
    return animal


@transaction.atomic
def split_group(
    group: Group,
    *,
    code: str,
    name: str,
    males: int = 0,
    females: int = 0,
    unknown: int = 0,
    enclosure: Enclosure,
    happened_on: date,
    note: str = "",
    by: Person,
) -> Group:
    """Split some animals off a group into a new one, and give the new one.

    Refused when: the group has left; its code is in the register; nobody would go; more would go
    than were there on that day; the day lies before the group's arrival or in the future; the
    enclosure did not exist on that day.
    """
    require(by, Verb.GROUP_SPLIT, group)
    group = locked(group)
    before, after = move(group, "split")
    what = _("%(group)s was not split.") % {"group": group}
    free(Group, "code", code, what)
    within_stay(group, happened_on, what=what)
    in_being(enclosure, happened_on, what=what)
    number = Count(males, females, unknown)
    if number.total == 0:
        raise Unsound(
            what,
            "Nobody would go into the new group.",
            "Give how many go; those whose sex you do not know go under unknown.",
            fields={"unknown": "Give at least one animal."},
        )
    new = Group(
        code=code,
        name=name,
        sort=group.sort,
        taxon=group.taxon,
        life_stage=group.life_stage,
        owner=group.owner,
        enclosure=enclosure,
        born_on=group.born_on,
        born_precision=group.born_precision,
        arrived_on=happened_on,
    )
    write_new(new, what)
    lost = write_loss(group, Event.Sort.SPLIT, happened_on, by, number, note=note)
    gained = write(
        new,
        Event.Sort.SPLIT,
        happened_on,
        by,
        number,
        enclosure=enclosure,
        life_stage=group.life_stage,
        born_on=group.born_on,
        partner=lost,
        note=note,
    )
    settle(group)
    settle(new)
    passed = pass_on(standing_on(group), new, happened_on, by)
    search.write(new)
    touched = [new, lost, gained, *passed]
    record(Verb.GROUP_SPLIT, group, by=by, before=before, after=after, touched=touched)
    return new


@transaction.atomic
def merge_group(
    group: Group, *, into: Group, happened_on: date, note: str = "", by: Person
) -> Group:
    """Merge all that are left of a group into another, and give the other.

    Refused when: it has left, or the other has; they are one group, or of two taxa; the day lies
    before either's arrival or anything recorded of it since, or in the future.
    """
    require(by, Verb.GROUP_MERGE, group)
    locked_all(Group, [group.pk, into.pk])
    group, into = locked(group), locked(into)
    before, after = move(group, "merge")
    what = _("%(group)s was not merged.") % {"group": group}
    if group.pk == into.pk:
        raise Unsound(
            what,
            "A group cannot be merged into itself.",
            "Choose the other group.",
            fields={"into": "Choose another group."},
        )
    _alike(group, into, what=what, field="into")
    _in_time(group, into, happened_on, what=what)
    number = count_of(group)
    lost = write_loss(
        group, Event.Sort.MERGED, happened_on, by, number, enclosure=group.enclosure, note=note
    )
    gained = write(into, Event.Sort.MERGED, happened_on, by, number, partner=lost, note=note)
    group.left_on = happened_on
    group.save(update_fields=["left_on"])
    settle(group)
    settle(into)
    passed = pass_on(standing_on(group), into, happened_on, by)
    touched = [into, lost, gained, *passed]
    record(Verb.GROUP_MERGE, group, by=by, before=before, after=after, touched=touched)
    return into


def _alike(one: Animal | Group, group: Group, *, what: str, field: str = "group") -> None:
    """Refuse a group that has left, or that is of another taxon."""
    if group.state != "kept":
        raise Unsound(
            what,
            _("%(group)s has left.") % {"group": group},
            "Choose a group that lives here.",
            fields={field: "It has left."},
        )
    if one.taxon_id != group.taxon_id:
        raise Unsound(
            what,
            _("%(one)s is of the taxon %(taxon)s, and %(group)s of %(taxon_too)s.")
            % {"one": one, "taxon": one.taxon, "group": group, "taxon_too": group.taxon},
            "Choose a group of the same taxon.",
            fields={field: "It is of another taxon."},
        )


def _in_time(one: Animal | Group, group: Group, day: date, *, what: str) -> None:
    """Refuse a day when one of the two was not here, or before the newest event of the first."""
    within_stay(one, day, what=what)
    not_before(day, group.arrived_on, f"{group} arrived", what=what)
    last = one.events.standing().last()
    if last is not None:
        not_before(day, last.happened_on, "something later was recorded of it", what=what)
