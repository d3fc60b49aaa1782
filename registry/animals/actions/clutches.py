"""Deeds on eggs that are counted, not told apart: how many are fertile, and how many hatched."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.arriving import first_event, free, write_new
from registry.animals.days import not_before, within_stay
from registry.animals.happening import settle, state_of, write, write_loss
from registry.animals.models import Enclosure, Event, Group, LifeStage, Parentage
from registry.animals.stock import Count
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, move


@transaction.atomic
def candle_clutch(
    group: Group, *, number: int, happened_on: date, note: str = "", by: Person
) -> Group:
    """Record how many eggs of a clutch were found fertile; the others stay in it until they go.

    Refused when: it has left; it is no clutch; more are fertile than it held on that day; the day
    lies before it was laid or in the future.
    """
    require(by, Verb.GROUP_CANDLE, group)
    group = locked(group)
    before, after = move(group, "candle")
    what = _("Nothing was recorded of %(group)s.") % {"group": group}
    _is_clutch(group, what=what)
    within_stay(group, happened_on, what=what)
    held = state_of(group, happened_on).count.total
    if number > held:
        raise Unsound(
            what,
            _("It held %(held)s eggs on that day.") % {"held": held},
            "Count anew first, or check the number.",
            fields={"number": _("It may be %(held)s at most.") % {"held": held}},
        )
    event = write(group, Event.Sort.FERTILE, happened_on, by, number=number, note=note)
    record(Verb.GROUP_CANDLE, group, by=by, before=before, after=after, touched=[event])
    return group


@transaction.atomic
def hatch_clutch(
    group: Group,
    *,
    number: int,
    code: str,
    name: str,
    sort: str = Group.Sort.SHOAL,
    enclosure: Enclosure | None = None,
    happened_on: date,
    note: str = "",
    by: Person,
) -> Group:
    """Record that eggs of a clutch hatched, and give the group of hatchlings.

    Refused when: it has left; it is no clutch; the code is in the register; nothing hatched; more
    hatched than it held on that day; the day lies before it was laid or in the future.
    """
    require(by, Verb.GROUP_HATCH, group)
    group = locked(group)
    before, after = move(group, "hatch")
    what = _("The hatching of %(group)s was not recorded.") % {"group": group}
    _is_clutch(group, what=what)
    free(Group, "code", code, what)
    within_stay(group, happened_on, what=what)
    not_before(happened_on, group.born_on or group.arrived_on, "it was laid", what=what)
    if number < 1:
        raise Unsound(
            what,
            "Nothing hatched.",
            "Give how many eggs hatched.",
            fields={"number": "Give one or more."},
        )
    young = Group(
        code=code,
        name=name,
        sort=sort,
        taxon=group.taxon,
        life_stage=LifeStage.HATCHLING,
        owner=group.owner,
        enclosure=enclosure or group.enclosure,
        unknown=number,
        born_on=happened_on,
        arrived_on=happened_on,
    )
    write_new(young, what)
    count = Count(unknown=number)
    lost = write_loss(group, Event.Sort.HATCHED, happened_on, by, count, note=note)
    born = first_event(young, by=by)
    born.partner = lost
    born.save(force_insert=True)
    touched: list[Any] = [young, lost, born]
    touched += [
        Parentage.objects.create(
            group=young,
            role=one.role,
            parent=one.parent,
            evidence=one.evidence,
            note=one.note,
            recorded_by=by,
        )
        for one in group.parentage.certain()
    ]
    settle(group)
    search.write(young)
    record(Verb.GROUP_HATCH, group, by=by, before=before, after=after, touched=touched)
    return young


def _is_clutch(group: Group, *, what: str) -> None:
    if group.sort != Group.Sort.CLUTCH:
        raise Unsound(
            what,
            _("%(group)s is a %(sort)s, not a clutch of eggs.")
            % {"group": group, "sort": group.get_sort_display()},
            "Record a birth as a change of its number.",
        )
