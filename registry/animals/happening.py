"""Write an event, and bring the record that it happened to into step with all its events."""

from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from registry.animals.arriving import one_of_sex
from registry.animals.models import Animal, Enclosure, Event, Group
from registry.animals.state import State, as_of
from registry.animals.stock import Count
from registry.errors import Conflict, Unsound


def of(subject: Any) -> dict[str, Any]:
    """Give the column that names an animal, a group or an egg case."""
    return {str(subject.kind): subject}


def write(
    subject: Any, sort: str, happened_on: date, by: Any, change: Count | None = None, **facts: Any
) -> Event:
    """Write an event by which a record gains so many animals; `loss` writes one that loses them."""
    gained = change or Count()
    return Event.objects.create(
        **of(subject),
        sort=sort,
        happened_on=happened_on,
        males=gained.males,
        females=gained.females,
        unknown=gained.unknown,
        recorded_by=by,
        **facts,
    )


def write_loss(
    subject: Any, sort: str, happened_on: date, by: Any, lost: Count, **facts: Any
) -> Event:
    """Write an event by which a record loses so many animals."""
    return Event.objects.create(
        **of(subject),
        sort=sort,
        happened_on=happened_on,
        males=-lost.males,
        females=-lost.females,
        unknown=-lost.unknown,
        recorded_by=by,
        **facts,
    )


def write_sexed(
    subject: Any, was: str, sex: str, happened_on: date, by: Any, **facts: Any
) -> Event:
    """Write that one animal of a record was found to be of a sex: it changes its column."""
    before, now = one_of_sex(was), one_of_sex(sex)
    return Event.objects.create(
        **of(subject),
        sort=Event.Sort.SEXED,
        happened_on=happened_on,
        males=now.males - before.males,
        females=now.females - before.females,
        unknown=now.unknown - before.unknown,
        sex=sex,
        recorded_by=by,
        **facts,
    )


def state_of(subject: Any, day: date | None = None) -> State:
    """Give the state of a record on a day, or by all that happened; one query.

    Raises
    ------
    Unsound
        When on some day more would have left than were there.
    """
    return as_of(subject.events.standing(), day)


def settle(subject: Animal | Group) -> State:
    """Bring a locked record into step with its events; what it shows is what they say.

    Raises
    ------
    Unsound
        When on some day more would have left than were there.
    """
    state = state_of(subject)
    shown: dict[str, Any] = {
        "enclosure_id": state.enclosure if subject.state == "kept" else None,
        "life_stage": state.life_stage or subject.life_stage,
    }
    if isinstance(subject, Animal):
        if state.count.total > 1:
            raise Unsound(
                _("Nothing was written of %(subject)s.") % {"subject": subject},
                "It would have come twice without leaving between.",
                "Look at what was recorded of it.",
            )
        shown["sex"] = state.sex or subject.sex
    else:
        shown["males"], shown["females"] = state.count.males, state.count.females
        shown["unknown"] = state.count.unknown
        shown["is_estimated"] = state.is_estimated
    for name, value in shown.items():
        setattr(subject, name, value)
    subject.save(update_fields=[name.removesuffix("_id") for name in shown])
    return state


def in_being(enclosure: Enclosure | None, day: date, *, what: str) -> None:
    """Refuse an enclosure that was not opened yet on a day.

    Raises
    ------
    Unsound
        With the complaint under the field.
    """
    if enclosure is not None and enclosure.opened_on is not None and day < enclosure.opened_on:
        raise Unsound(
            what,
            _("%(enclosure)s was opened on %(day)s, after %(other_day)s.")
            % {
                "enclosure": enclosure,
                "day": enclosure.opened_on.isoformat(),
                "other_day": day.isoformat(),
            },
            "Check the day, or choose the enclosure where it lived then.",
            fields={"enclosure": "It did not exist on that day."},
        )


def not_away(subject: Any, *, what: str) -> Event | None:
    """Refuse what only happens here to one in a partner's custody; give what last placed it.

    Raises
    ------
    Conflict
        When it is away.
    """
    last: Event | None = subject.events.placing().last()
    if last is not None and last.sort == Event.Sort.SENT:
        raise Conflict(
            what,
            _("It is away: %(institution)s has it since %(day)s.")
            % {"institution": last.institution, "day": last.happened_on.isoformat()},
            "End the custody when it is back, and say there where it is.",
        )
    return last
