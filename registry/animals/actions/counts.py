"""Deeds on the number of a group: by how many it changed, and how many were counted."""

from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.days import within_stay
from registry.animals.happening import settle, state_of
from registry.animals.models import GAINS, LOSSES, Event, Group
from registry.animals.stock import Count
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, move

CHANGES = (
    Event.Sort.SEXED,
    Event.Sort.BORN,
    Event.Sort.ARRIVED,
    Event.Sort.DIED,
    Event.Sort.DEPARTED,
)
"""What may change the number of a group, or of which sex its animals are."""


def _wrong_signs(sort: str, changes: tuple[int, int, int]) -> bool:
    """Say whether what happened and the signs of the changes do not go together."""
    if sort == Event.Sort.SEXED:
        return sum(changes) != 0
    if sort in GAINS:
        return min(changes) < 0
    return sort not in LOSSES or max(changes) > 0


@transaction.atomic
def count_group(
    group: Group,
    *,
    males: int = 0,
    females: int = 0,
    unknown: int = 0,
    happened_on: date,
    born_on: date | None = None,
    cause: str = "",
    note: str = "",
    sort: str = Event.Sort.SEXED,
    by: Person,
) -> Group:
    """Record by how many the number of a group changed; losses are negative.

    Animals that were sexed leave the unknown and join their sex: the total stays as it is.
    `born_on` is when those were born that were born or died, where it is known.

    Refused when: it has left; nothing changed; more would leave than were there on that day; a
    birth or an arrival takes away, a death or a departure adds, or sexing changes the total; the
    day lies before its arrival or in the future; the birth lies after it.
    """
    require(by, Verb.GROUP_COUNT, group)
    group = locked(group)
    before, after = move(group, "count")
    what = _("The number of %(group)s was not changed.") % {"group": group}
    within_stay(group, happened_on, what=what)
    changes = (males, females, unknown)
    if not any(changes):
        raise Unsound(
            what,
            "Nothing changed.",
            "Give by how many each number changed; write losses with a minus.",
            fields={"unknown": "Give at least one change."},
        )
    if sort not in CHANGES or _wrong_signs(sort, changes):
        raise Unsound(
            what,
            "What happened and the signs of the numbers do not go together.",
            "Births and arrivals add; deaths and departures take away, with a minus; sexing leaves"
            " the total as it is.",
            fields={"sort": "It does not go with the signs of the numbers."},
        )
    if sort == Event.Sort.BORN:
        born_on = happened_on
    if born_on is not None and born_on > happened_on:
        raise Unsound(
            what,
            _("The birth on %(day)s lies after %(other_day)s.")
            % {"day": born_on.isoformat(), "other_day": happened_on.isoformat()},
            "Check the two days.",
            fields={"born_on": "It cannot lie after the day on which this happened."},
        )
    event = Event.objects.create(
        group=group,
        sort=sort,
        happened_on=happened_on,
        males=males,
        females=females,
        unknown=unknown,
        born_on=born_on,
        cause=cause if sort == Event.Sort.DIED else "",
        note=note,
        recorded_by=by,
    )
    settle(group)
    record(Verb.GROUP_COUNT, group, by=by, before=before, after=after, touched=[event])
    return group


@transaction.atomic
def recount_group(
    group: Group,
    *,
    males: int = 0,
    females: int = 0,
    unknown: int = 0,
    is_estimated: bool = False,
    happened_on: date,
    note: str = "",
    by: Person,
) -> Group:
    """Record how many were counted; what differs from the record is a correction of its own kind.

    Refused when: it has left; a number is below nought; a later event would then take more than
    were there; the day lies before its arrival or in the future.
    """
    require(by, Verb.GROUP_RECOUNT, group)
    group = locked(group)
    before, after = move(group, "recount")
    within_stay(
        group, happened_on, what=_("The count of %(group)s was not recorded.") % {"group": group}
    )
    counted = Count(males, females, unknown)
    held = state_of(group, happened_on).count
    event = Event.objects.create(
        group=group,
        sort=Event.Sort.COUNTED,
        happened_on=happened_on,
        males=counted.males - held.males,
        females=counted.females - held.females,
        unknown=counted.unknown - held.unknown,
        is_estimated=is_estimated,
        number=counted.total,
        note=note,
        recorded_by=by,
    )
    settle(group)
    record(Verb.GROUP_RECOUNT, group, by=by, before=before, after=after, touched=[event])
    return group
