"""What every arrival shares: the days that hold together, and the first event of a life here."""

from datetime import date
from typing import Any

from django.db import IntegrityError, models, transaction
from django.utils.translation import gettext as _

from registry.animals.days import not_before, not_to_come
from registry.animals.models import Animal, Event, Group, Sex
from registry.animals.stock import Count
from registry.errors import Conflict, Unsound

_SEXED = (Sex.MALE, Sex.FEMALE)


def check_days(arrived_on: date, born_on: date | None, *, what: str) -> None:
    """Refuse an arrival that is to come, or that lies before the birth.

    Raises
    ------
    Unsound
        With the complaint under the field.
    """
    not_to_come(arrived_on, what=what, field="arrived_on")
    if born_on is not None:
        not_before(arrived_on, born_on, "it was born", what=what, field="arrived_on")


def count_of(subject: Animal | Group) -> Count:
    """Give the males, females and animals of unknown sex that a record stands for now."""
    if isinstance(subject, Group):
        return Count(subject.males, subject.females, subject.unknown)
    return one_of_sex(subject.sex)


def one_of_sex(sex: str) -> Count:
    """Give one animal of this sex; one that is neither male nor female counts as unknown."""
    return Count(int(sex == Sex.MALE), int(sex == Sex.FEMALE), int(sex not in _SEXED))


def first_event(subject: Animal | Group, *, by: Any) -> Event:
    """Give the event of an arrival, not yet saved; one born on that day was born here."""
    sort = Event.Sort.ARRIVED
    if subject.born_on == subject.arrived_on:
        is_clutch = isinstance(subject, Group) and subject.sort == Group.Sort.CLUTCH
        sort = Event.Sort.LAID if is_clutch else Event.Sort.BORN
    number = count_of(subject)
    return Event(
        **{str(subject.kind): subject},
        sort=sort,
        happened_on=subject.arrived_on,
        enclosure=subject.enclosure,
        sex=subject.sex if isinstance(subject, Animal) else "",
        life_stage=subject.life_stage,
        born_on=subject.born_on,
        is_estimated=isinstance(subject, Group) and subject.is_estimated,
        males=number.males,
        females=number.females,
        unknown=number.unknown,
        recorded_by=by,
    )


def free(model: type[models.Model], field: str, value: str, what: str) -> None:
    """Refuse a name or code that another row bears, capitals and small letters alike."""
    if model._default_manager.filter(**{f"{field}__iexact": value}).exists():
        raise Unsound(
            what,
            _("“%(value)s” is in the register already.") % {"value": value},
            "Look it up and use it, or give another.",
            fields={field: "It is in the register already."},
        )


def write_new(row: models.Model, what: str) -> None:
    """Save a new row, or refuse where someone took its name in the same moment."""
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as problem:
        raise Conflict(
            what, "Someone took that name or code in the same moment.", "Look at the list again."
        ) from problem
